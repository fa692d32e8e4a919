//! What is handed over: text, plots, page, tables. Pure functions from findings to bytes; one
//! writer puts them in place atomically.
