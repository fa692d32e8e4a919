//! The protocol room, held against published encodings and against damage.

mod command;
mod decoding;
mod invalid;
mod numbers;
mod page;
mod properties;
mod schema;
mod shipped;
mod wire;
mod wire_mistakes;
mod worked;
