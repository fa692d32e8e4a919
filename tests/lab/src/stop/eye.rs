//! The plain eye: somebody who watches a drag needle and stops when it has not moved for a while.

use super::case::{Case, Who};

/// It has not moved when it rose by no more than 1 % …
const SHARE: f64 = 0.01;
/// … or 2 psi (Pa), …
const LEAST: f64 = 13_789.5;
/// … and there is a pressure at all: 20 psi (Pa).
const PRESSURE: f64 = 137_895.0;

/// When it would have called (s), if before cranking ended. (Common practice, no source.)
pub fn call(case: &Case) -> Option<f64> {
    let look = if case.who == Who::Kicks { 6.0 } else { 2.0 };
    let first = case.strokes.first()?.0;
    let shown = |time: f64| {
        let until = case.strokes.partition_point(|(at, _)| *at <= time);
        super::truth::highest(&case.strokes[..until])
    };
    let mut time = first.max(0.0);
    while time <= case.ended {
        let (now, past) = (shown(time), shown(time - look));
        if past > PRESSURE && now - past <= (SHARE * now).max(LEAST) {
            return Some(time);
        }
        time += 0.05;
    }
    None
}
