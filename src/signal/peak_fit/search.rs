//! Where the tops are: a golden-section search for each curve of the bank, all abreast (J. Kiefer,
//! *Proc. Amer. Math. Soc.* 4 (1953) 502–506).
//!
//! Most looks only have to tell which of two places is better. That is read from [`Powers`], ten
//! times quicker than from the samples; where it is too close to call, the samples decide. So the
//! tops are, to the last bit, those that the samples alone would give.

use super::powers::Powers;
use super::{Each, REACH, SKEWS, Samples, each};

const STEPS: u32 = 22;
/// The smaller section.
const SECTION: f64 = 0.381_966;
/// Two sums of squares that differ by less than this share of one more than themselves are too
/// close to call: more than ten times what rounding makes of the worst strokes.
const CLOSE: f64 = 1e-9;

/// The time of the top that suits each skew best.
pub(super) fn tops(samples: &Samples) -> Each {
    let powers = Powers::new(&samples.seen);
    let mut sections = [Section::new(); SKEWS.len()];
    let left = powers.squares(sections.map(|section| section.left));
    let right = powers.squares(sections.map(|section| section.right));
    for (i, section) in sections.iter_mut().enumerate() {
        (section.of_left, section.of_right) = (left[i], right[i]);
    }
    for _ in 0..STEPS {
        let leftwards = which_way(samples, &sections);
        let places = each(|i| sections[i].narrow(leftwards[i]));
        let squares = powers.squares(places);
        for (i, section) in sections.iter_mut().enumerate() {
            section.take(leftwards[i], squares[i]);
        }
    }
    sections.map(|section| 0.5 * (section.low + section.high))
}

/// Whether each section's left place is the better one.
fn which_way(samples: &Samples, sections: &[Section; SKEWS.len()]) -> [bool; SKEWS.len()] {
    if sections.iter().all(Section::is_clear) {
        return sections.each_ref().map(|s| s.of_left < s.of_right);
    }
    let left = samples.curves(each(|i| sections[i].left)).squares;
    let right = samples.curves(each(|i| sections[i].right)).squares;
    std::array::from_fn(|i| match &sections[i] {
        section if section.is_clear() => section.of_left < section.of_right,
        _ => left[i] < right[i],
    })
}

/// Where a top is sought: a stretch of time, and two places within it that were looked at.
#[derive(Clone, Copy, Debug)]
struct Section {
    low: f64,
    high: f64,
    left: f64,
    right: f64,
    of_left: f64,
    of_right: f64,
}

impl Section {
    fn new() -> Self {
        let (low, high) = (-REACH, REACH);
        Self {
            low,
            high,
            left: low + SECTION * (high - low),
            right: high - SECTION * (high - low),
            of_left: 0.0,
            of_right: 0.0,
        }
    }

    /// Whether it is known which place is better; not, where one of the two is not a number.
    fn is_clear(&self) -> bool {
        let apart = (self.of_left - self.of_right).abs();
        apart > CLOSE * (1.0 + self.of_left.max(self.of_right))
    }

    /// Goes on with one part; gives the place to look at next.
    fn narrow(&mut self, leftwards: bool) -> f64 {
        if leftwards {
            (self.high, self.right, self.of_right) = (self.right, self.left, self.of_left);
            self.left = self.low + SECTION * (self.high - self.low);
            self.left
        } else {
            (self.low, self.left, self.of_left) = (self.left, self.right, self.of_right);
            self.right = self.high - SECTION * (self.high - self.low);
            self.right
        }
    }

    /// Takes what was found there.
    fn take(&mut self, leftwards: bool, squares: f64) {
        if leftwards {
            self.of_left = squares;
        } else {
            self.of_right = squares;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Point;
    use super::*;
    use proptest::prelude::*;

    /// The same search, asking the samples every time.
    fn by_samples_alone(samples: &Samples) -> Each {
        let mut sections = [Section::new(); SKEWS.len()];
        let left = samples.curves(each(|i| sections[i].left)).squares;
        let right = samples.curves(each(|i| sections[i].right)).squares;
        for (i, section) in sections.iter_mut().enumerate() {
            (section.of_left, section.of_right) = (left[i], right[i]);
        }
        for _ in 0..STEPS {
            let leftwards = sections.map(|section| section.of_left < section.of_right);
            let places = each(|i| sections[i].narrow(leftwards[i]));
            let squares = samples.curves(places).squares;
            for (i, section) in sections.iter_mut().enumerate() {
                section.take(leftwards[i], squares[i]);
            }
        }
        sections.map(|section| 0.5 * (section.low + section.high))
    }

    /// The top of a stroke, sampled: its peak (Pa), its width and where samples fall (in samples),
    /// its skew, noise, resolution, samples that are missing.
    fn strokes() -> impl Strategy<Value = (Vec<Point>, f64)> {
        let noise = prop::collection::vec(-1.0..1.0_f64, 128);
        let missing = prop::collection::vec(prop::bool::weighted(0.1), 128);
        let shape = (1e4..3e6_f64, 0.5..200.0_f64, -0.5..0.5_f64, -0.5..2.5_f64);
        let sensor = (0.0..5e3_f64, prop_oneof![Just(1.0), Just(100.0), Just(2e4)]);
        (3..128_usize, 0.0..1.0_f64, shape, sensor, noise, missing).prop_map(
            |(count, place, (peak, width, offset, skew), (noise, step), random, missing)| {
                let point = |i: usize| {
                    let t = i as f64 - place * count as f64 + offset;
                    let x = t / width;
                    let volume = 1.0 + x * x * (1.0 + skew * x.max(0.0));
                    let exact = (peak + 1e5) * libm::pow(volume, -1.3) - 1e5;
                    let read = ((exact + noise * random[i]) / step).round() * step;
                    Point {
                        t: 1e-3 * t,
                        x: read,
                    }
                };
                let points = (0..count).filter(|i| !missing[*i]).map(point);
                (points.collect(), noise)
            },
        )
    }

    fn samples(points: &[Point], noise: f64) -> Option<Samples> {
        let highest = points.iter().max_by(|a, b| a.x.total_cmp(&b.x))?;
        Samples::new(points, *highest, 1e5, noise.max(30.0))
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]
        /// To the last bit, whatever the stroke looks like.
        #[test]
        fn tops_are_those_that_the_samples_alone_give((points, noise) in strokes()) {
            if let Some(samples) = samples(&points, noise) {
                let (quick, slow) = (tops(&samples), by_samples_alone(&samples));
                prop_assert_eq!(quick.map(f64::to_bits), slow.map(f64::to_bits));
            }
        }

        /// What is read from the powers errs by far less than makes a difference too close to call.
        #[test]
        fn powers_say_what_the_samples_say((points, noise) in strokes(), top in -REACH..REACH) {
            if let Some(samples) = samples(&points, noise) {
                let quick = Powers::new(&samples.seen).squares([top; SKEWS.len()]);
                let slow = samples.curves([top; SKEWS.len()]).squares;
                for (quick, slow) in quick.into_iter().zip(slow) {
                    let off = (quick - slow).abs();
                    prop_assert!(quick.is_nan() || off <= 0.1 * CLOSE * (1.0 + slow), "{quick} {slow}");
                }
            }
        }
    }
}
