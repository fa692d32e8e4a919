//! Signal: strokes, build-up and the stop decision against the outside world.

mod first;
mod synth;
