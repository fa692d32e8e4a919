//! For the tests within: what NumPy and SciPy say of the same numbers (`fixtures/signal/arithmetic.py`),
//! and a source of noise.

use serde::Deserialize;

#[derive(Deserialize)]
pub(super) struct Kept {
    pub(super) climbs: Vec<Line>,
    pub(super) droops: Vec<Fall>,
    pub(super) tops: Vec<Fitted>,
    pub(super) rests: Vec<AtRest>,
}

#[derive(Deserialize)]
pub(super) struct Line {
    pub(super) name: String,
    pub(super) before: f64,
    pub(super) level: Vec<f64>,
    pub(super) doubt: f64,
    pub(super) ratio: f64,
    pub(super) ratio_standard: f64,
    pub(super) meets: f64,
}

#[derive(Deserialize)]
pub(super) struct Fall {
    pub(super) name: String,
    pub(super) stretches: Vec<Vec<(f64, f64)>>,
    pub(super) per_second: f64,
    pub(super) standard: f64,
    pub(super) standard_of_unit_noise: f64,
    pub(super) chunks: f64,
    pub(super) samples: f64,
}

#[derive(Deserialize)]
pub(super) struct Fitted {
    pub(super) name: String,
    pub(super) noise: f64,
    pub(super) strokes: Vec<Vec<(f64, f64)>>,
    pub(super) tops: Vec<OneTop>,
}

#[derive(Deserialize)]
pub(super) struct OneTop {
    pub(super) time: f64,
    pub(super) level: f64,
    pub(super) standard: f64,
    pub(super) bias: f64,
    pub(super) cut_off: f64,
}

#[derive(Deserialize)]
pub(super) struct AtRest {
    pub(super) name: String,
    pub(super) samples: Vec<(f64, f64)>,
    pub(super) level: f64,
    pub(super) noise: f64,
    pub(super) standard: f64,
}

pub(super) fn kept() -> Kept {
    let text = include_str!("../../fixtures/signal/arithmetic.json");
    serde_json::from_str(text).expect("JSON")
}

/// That two numbers differ by no more than this share of the second.
#[track_caller]
pub(super) fn alike(ours: f64, theirs: f64, within: f64, what: &str) {
    let off = (ours - theirs).abs();
    assert!(off <= within * theirs.abs(), "{what}: {ours} and {theirs}");
}

/// A deterministic source of normal values (Marsaglia's xorshift, *J. Stat. Softw.* 8 (2003) 14; sum of
/// twelve).
pub(super) struct Noise(pub(super) u64);

impl Noise {
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// Mean of numbers, and their root mean square.
pub(super) fn mean_and_rms(numbers: &[f64]) -> (f64, f64) {
    let n = numbers.len() as f64;
    let squares: f64 = numbers.iter().map(|x| x * x).sum();
    (numbers.iter().sum::<f64>() / n, (squares / n).sqrt())
}
