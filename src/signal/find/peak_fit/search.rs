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
