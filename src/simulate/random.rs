//! Random draws that are the same on every machine and with any number of threads.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;

/// A stream of random draws, named by a seed and an index.
#[derive(Clone, Debug)]
pub struct Draws(Pcg64);

impl Draws {
    /// Streams of the same seed and different index are independent of each other.
    /// Seeds whose numbers lie close together may share the streams of some indices; those of visits
    /// are drawn at random, and lie far apart.
    pub fn new(seed: u64, index: u64) -> Self {
        let state = u128::from(seed) << 64 | u128::from(index).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let mut rng = Pcg64::new(state, u128::from(index));
        // The first draws of neighbouring states resemble each other.
        for _ in 0..4 {
            rng.next_u64();
        }
        Self(rng)
    }

    /// A seed for a stream of its own; 53 bits, so that TOML and JSON can write it.
    pub fn seed(&mut self) -> u64 {
        self.0.next_u64() >> 11
    }

    /// Uniform, 0 to 1 (1 excluded).
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Between two positive bounds, uniform in the logarithm.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// One of the choices; `choices` must not be empty.
    pub fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        let at = (self.unit() * choices.len() as f64) as usize;
        &choices[at.min(choices.len() - 1)]
    }

    /// Standard normal (Box and Muller's transform).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        radius * libm::cos(2.0 * std::f64::consts::PI * self.unit())
    }
}
