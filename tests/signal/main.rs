//! Signal: strokes, build-up and the stop decision against the outside world.

mod bad_input;
mod decision;
mod invariance;
mod limits;
mod other_model;
mod peaks;
mod prefixes;
mod properties;
mod pump_up;
mod quality;
mod recordings;
mod runs;
mod sampling;
mod splits;
mod steps;
mod synth;
mod zero;
