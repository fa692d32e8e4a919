//! Random draws for the corpus: the same on every machine.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;

/// A stream of draws, named by a seed and an index.
pub(super) struct Draws(Pcg64);

impl Draws {
    pub(super) fn new(seed: u64, index: u64) -> Self {
        // The seed has its half of the state to itself, so that no two seeds share a run.
        let scattered = index.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let state = u128::from(seed) << 64 | u128::from(scattered);
        let mut rng = Pcg64::new(state, u128::from(index) ^ 0x5eed);
        // The first draws of neighbouring states resemble each other.
        for _ in 0..4 {
            rng.next_u64();
        }
        Self(rng)
    }

    pub(super) fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// 0 to 1, uniform.
    pub(super) fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Uniform in the logarithm.
    pub(super) fn decades(&mut self, low: f64, high: f64) -> f64 {
        low * libm::pow(high / low, self.unit())
    }

    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    pub(super) fn pick<T: Copy>(&mut self, from: &[T], otherwise: T) -> T {
        let index = (self.unit() * from.len() as f64) as usize;
        from.get(index).copied().unwrap_or(otherwise)
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        radius * libm::cos(std::f64::consts::TAU * self.unit())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_seeds_share_a_run() {
        let firsts: BTreeSet<u64> = (0..16)
            .flat_map(|seed| (0..500).map(move |index| Draws::new(seed, index).seed()))
            .collect();
        assert_eq!(firsts.len(), 16 * 500);
    }
}
