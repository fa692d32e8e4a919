//! A golden-section search of many functions, all abreast (J. Kiefer,
//! *Proc. Amer. Math. Soc.* 4 (1953) 502–506).

const STEPS: u32 = 22;
/// The smaller section.
const SECTION: f64 = 0.381_966;

/// Where each of `N` functions is least within `reach` of 0; `of` gives all their values at a place
/// for each.
pub(super) fn least<const N: usize>(reach: f64, of: impl Fn([f64; N]) -> [f64; N]) -> [f64; N] {
    let mut sections = [Section::new(reach); N];
    let left = of(sections.map(|section| section.left));
    let right = of(sections.map(|section| section.right));
    for (i, section) in sections.iter_mut().enumerate() {
        (section.of_left, section.of_right) = (left[i], right[i]);
    }
    for _ in 0..STEPS {
        let leftwards = sections.map(|section| section.of_left < section.of_right);
        let places = std::array::from_fn(|i| sections[i].narrow(leftwards[i]));
        let squares = of(places);
        for (i, section) in sections.iter_mut().enumerate() {
            section.take(leftwards[i], squares[i]);
        }
    }
    sections.map(|section| 0.5 * (section.low + section.high))
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
    fn new(reach: f64) -> Self {
        let (low, high) = (-reach, reach);
        Self {
            low,
            high,
            left: low + SECTION * (high - low),
            right: high - SECTION * (high - low),
            of_left: 0.0,
            of_right: 0.0,
        }
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
    use super::*;

    /// Functions with one lowest place each, known by hand: 22 steps leave 0.618²² of the stretch, half of
    /// which to either side.
    #[test]
    fn the_lowest_places_are_found_abreast() {
        let places = [-0.31, 0.0, 0.2, 0.437, 0.549];
        let reach = 0.55;
        let within = reach * libm::pow(0.618_034, 22.0);
        let found = least(reach, |at: [f64; 5]| {
            std::array::from_fn(|n| {
                (at[n] - places[n]).abs() * if at[n] > places[n] { 3.0 } else { 1.0 }
            })
        });
        for (found, place) in found.iter().zip(places) {
            assert!((found - place).abs() < 1.001 * within, "{found} {place}");
        }
        // One that falls all the way ends at the edge.
        let [up, down] = least(2.0, |[a, b]: [f64; 2]| [a, -b]);
        let within = 2.0 * 2.0 * libm::pow(0.618_034, 22.0);
        assert!(up + 2.0 < within && 2.0 - down < within, "{up} {down}");
    }

    /// Each step looks once, and a section keeps what it knows of the place that it shares with the last.
    #[test]
    fn each_step_looks_once() {
        let looks = std::cell::Cell::new(0);
        let [at] = least(1.0, |[x]: [f64; 1]| {
            looks.set(looks.get() + 1);
            [(x - 0.3) * (x - 0.3)]
        });
        assert_eq!(looks.get(), 2 + STEPS);
        assert!((at - 0.3).abs() < 1e-4);
    }
}
