//! From what is seen to probabilities, by Bayes' rule.
//!
//! What all readings share (the error of the expectation, a shut throttle, a leaking tester …)
//! moves every level by the same amount, which is not known. So it is gone through step by step:
//! for each amount, each cylinder is as likely to read what it reads as its possible causes make
//! it, and a pair of neighbours as a gasket between them makes them; the amounts are summed up,
//! each with how likely it is itself.

use super::odds::{self, Range};
use super::seen::{Cylinder, Heard, Oil, Seen};
use crate::assess::guard::normal_below;
use crate::assess::results::CauseKind;
use std::collections::BTreeMap;

/// Probabilities of a cylinder's causes.
pub(super) type Probabilities = BTreeMap<CauseKind, f64>;

/// Amounts that are gone through: from here on, in such steps, so many.
const FROM: f64 = -1.4;
const STEP: f64 = 0.02;
const STEPS: usize = 171;
/// Likelihood of a reading that no cause explains: nothing is ruled out for good.
const UNEXPLAINED: f64 = 1e-9;

/// One number for each amount.
type Line = [f64; STEPS];

/// What can be the matter with this engine and its test.
#[derive(Clone, Copy, Debug)]
pub(super) struct Possible {
    pub valves: bool,
    pub throttle: bool,
    pub tester: bool,
    pub timing: bool,
    pub slow: bool,
    /// Turned in kicks or pulls.
    pub kicked: bool,
}

/// How likely each cylinder's reading is, for each amount that all share.
#[derive(Clone, Debug)]
struct Likely {
    sound: Line,
    leak: Line,
    deposits: Line,
    /// The oil's part: if the rings leak, and if not.
    oil: (f64, f64),
    heard: Heard,
}

/// Probabilities of each cylinder's causes, in the order seen.
pub(super) fn weigh(seen: &Seen, possible: Possible) -> Vec<Probabilities> {
    let likely: Vec<Likely> = seen.cylinders.iter().map(Likely::of).collect();
    let pairs = pairs(seen);
    let mut sums = vec![Probabilities::new(); likely.len()];
    let mut all = 0.0;
    for (shared, line) in shared(seen, possible) {
        let worn = shared == CauseKind::Rings;
        let own: Vec<Vec<(CauseKind, f64)>> =
            likely.iter().map(|one| one.own(possible, worn)).collect();
        for (n, amount) in line.iter().enumerate() {
            let each: Vec<Vec<(CauseKind, f64)>> = likely
                .iter()
                .zip(&own)
                .map(|(one, own)| {
                    own.iter()
                        .map(|(k, prior)| (*k, prior * one.at(*k, n)))
                        .collect()
                })
                .collect();
            let mixed: Vec<f64> = each
                .iter()
                .map(|causes| causes.iter().map(|(_, l)| l).sum::<f64>() + UNEXPLAINED)
                .collect();
            let weight = amount * mixed.iter().product::<f64>();
            let gasket = |pair: &Pair| {
                if worn {
                    0.0
                } else {
                    pair.line[n] / (mixed[pair.of.0] * mixed[pair.of.1])
                }
            };
            let gaskets: f64 = pairs.iter().map(gasket).sum();
            all += weight * (1.0 + gaskets);
            for (at, causes) in each.iter().enumerate() {
                let here: f64 = pairs.iter().filter(|pair| pair.has(at)).map(gasket).sum();
                *sums[at].entry(CauseKind::Gasket).or_default() += weight * here;
                for (kind, l) in causes {
                    let said = if *kind == CauseKind::Healthy && !worn {
                        shared
                    } else {
                        *kind
                    };
                    *sums[at].entry(said).or_default() +=
                        weight * (1.0 + gaskets - here) * l / mixed[at];
                }
            }
        }
    }
    for causes in &mut sums {
        causes.retain(|_, sum| {
            *sum /= all;
            sum.is_finite() && *sum > 0.0
        });
    }
    sums
}

/// What all cylinders can have in common, each with how likely each amount is: nothing
/// ([`CauseKind::Healthy`]), worn rings in all ([`CauseKind::Rings`]), or what moves every reading.
fn shared(seen: &Seen, possible: Possible) -> Vec<(CauseKind, Line)> {
    let (falls_if, falls_else) = if seen.falls {
        odds::FALLS
    } else {
        (1.0 - odds::FALLS.0, 1.0 - odds::FALLS.1)
    };
    let nothing = |prior: f64| line(|s| prior * falls_else * normal(s, seen.doubt));
    let taken = |prior: f64, ranges: &[Range]| line(|s| prior * drawn(-s, ranges, seen.doubt));
    let mut all = vec![(CauseKind::Healthy, nothing(odds::NOTHING_SHARED))];
    if seen.cylinders.len() > 1 {
        all.push((CauseKind::Rings, nothing(odds::RINGS_IN_ALL)));
    }
    if possible.slow {
        all.push((CauseKind::SlowCranking, nothing(odds::SLOW)));
    }
    let throttle: &[Range] = if possible.kicked {
        &odds::THROTTLE_TAKES_KICKED
    } else {
        &odds::THROTTLE_TAKES
    };
    let moving = [
        (
            possible.throttle,
            CauseKind::ThrottleShut,
            odds::THROTTLE * falls_else,
            throttle,
        ),
        (
            possible.timing,
            CauseKind::ValveTiming,
            odds::TIMING * falls_else,
            &odds::TIMING_TAKES[..],
        ),
        (
            possible.tester,
            CauseKind::TesterLeak,
            odds::TESTER * falls_if,
            &odds::TESTER_TAKES[..],
        ),
    ];
    for (can_be, kind, prior, ranges) in moving {
        if can_be {
            all.push((kind, taken(prior, ranges)));
        }
    }
    all
}

/// Two neighbours, and how likely their readings are with a gasket that leaks between them.
struct Pair {
    of: (usize, usize),
    line: Line,
}

impl Pair {
    const fn has(&self, at: usize) -> bool {
        self.of.0 == at || self.of.1 == at
    }
}

fn pairs(seen: &Seen) -> Vec<Pair> {
    let prior = odds::GASKET / seen.pairs.len().max(1) as f64;
    let pair = |&of: &(usize, usize)| {
        let (a, b) = (seen.cylinders.get(of.0)?, seen.cylinders.get(of.1)?);
        let (wa, wb) = (1.0 / (a.doubt * a.doubt), 1.0 / (b.doubt * b.doubt));
        let level = (a.level * wa + b.level * wb) / (wa + wb);
        let doubt = 1.0 / libm::sqrt(wa + wb);
        let apart = libm::hypot(libm::hypot(a.doubt, b.doubt), odds::PAIR_DIFFERS);
        let alike = normal(a.level - b.level, apart);
        let oil = by_oil(a.oil).1 * by_oil(b.oil).1;
        let heard = a.heard.gasket * b.heard.gasket;
        let line =
            line(|s| prior * alike * oil * heard * drawn(s - level, &odds::LEAK_TAKES, doubt));
        Some(Pair { of, line })
    };
    seen.pairs.iter().filter_map(pair).collect()
}

impl Likely {
    fn of(cylinder: &Cylinder) -> Self {
        let (level, doubt) = (cylinder.level, cylinder.doubt);
        Self {
            sound: line(|s| normal(level - s, doubt)),
            leak: line(|s| drawn(s - level, &odds::LEAK_TAKES, doubt)),
            deposits: line(|s| drawn(level - s, &odds::DEPOSITS_ADD, doubt)),
            oil: by_oil(cylinder.oil),
            heard: cylinder.heard,
        }
    }

    /// What a cylinder can have by itself, and how often; worn rings where every cylinder has them.
    fn own(&self, possible: Possible, worn: bool) -> Vec<(CauseKind, f64)> {
        if worn {
            return vec![(CauseKind::Rings, self.oil.0 * self.heard.rings)];
        }
        let valve = if possible.valves { odds::VALVE } else { 0.0 };
        let sound = 1.0 - odds::RINGS - valve - odds::DEPOSITS;
        let heard = &self.heard;
        let either = 0.5 * (heard.intake + heard.exhaust);
        vec![
            (CauseKind::Healthy, sound * self.oil.1 * heard.sound),
            (CauseKind::Rings, odds::RINGS * self.oil.0 * heard.rings),
            (CauseKind::Valve, valve * self.oil.1 * either),
            (
                CauseKind::HighCompression,
                odds::DEPOSITS * self.oil.1 * heard.sound,
            ),
        ]
    }

    fn at(&self, kind: CauseKind, n: usize) -> f64 {
        match kind {
            CauseKind::Healthy => self.sound[n],
            CauseKind::HighCompression => self.deposits[n],
            _ => self.leak[n],
        }
    }
}

/// How likely the change with oil is if the rings leak, and if they do not.
fn by_oil(oil: Option<Oil>) -> (f64, f64) {
    let Some(oil) = oil else {
        return (1.0, 1.0);
    };
    let sealed = odds::SEALED * oil.if_rings;
    let spread = odds::SEALED_SPREAD.0 * oil.if_rings + odds::SEALED_SPREAD.1;
    let (change, sealed, doubt) = match oil.beside {
        Some(beside) => (
            beside,
            sealed * odds::SEALED_BESIDE,
            libm::hypot(odds::OIL_DOUBT, odds::OIL_DOUBT_BESIDE * oil.doubt),
        ),
        None => (
            oil.change - odds::OIL_REST,
            sealed,
            libm::hypot(odds::OIL_DOUBT, oil.doubt),
        ),
    };
    let odd = odds::OIL_ODD * normal(change - 0.1, 0.3);
    let usual =
        |expected: f64, doubt: f64| (1.0 - odds::OIL_ODD) * normal(change - expected, doubt);
    (
        usual(sealed, libm::hypot(doubt, spread)) + odd,
        usual(0.0, doubt) + odd,
    )
}

fn line(of: impl Fn(f64) -> f64) -> Line {
    core::array::from_fn(|n| of(FROM + STEP * n as f64))
}

/// Density of a normal distribution about 0.
fn normal(x: f64, standard: f64) -> f64 {
    let z = x / standard;
    libm::exp(-0.5 * z * z) / (standard * libm::sqrt(core::f64::consts::TAU))
}

/// Density of a loss drawn from ranges, known to within a standard doubt.
fn drawn(loss: f64, ranges: &[Range], doubt: f64) -> f64 {
    let within = |&(share, low, high): &Range| {
        let over = normal_below((loss - low) / doubt) - normal_below((loss - high) / doubt);
        share * over / (high - low)
    };
    ranges.iter().map(within).sum()
}

#[cfg(test)]
mod tests;
