//! The command line: one file a command; parsing, terminal, exit codes.
