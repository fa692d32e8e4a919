//! The protocol room, held against published encodings and against damage.

mod decoding;
mod shipped;
