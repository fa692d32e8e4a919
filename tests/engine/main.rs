//! Tests of the engine room against published tables and closed forms.

mod atmosphere;
mod card;
mod geometry;
mod schema;
mod stroke;
