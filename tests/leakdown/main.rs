//! Tests of the room of tests with air, against published figures, closed forms, a library and the
//! simulator.

mod decay;
mod flow;
mod plateau;
mod published;
mod recorded;
mod rounds;
mod simulated;
