//! When a pressure has come to rest, and where.

use crate::units::{Pressure, Time};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Samples are averaged over so long (s).
const BIN_S: f64 = 0.1;
/// A plateau stands over so long (s), and over so many averages.
const STANDS_S: f64 = 1.5;
const STANDS_BINS: usize = 5;
/// It may move by so much of itself while it stands: what a regulator does while its compressor
/// runs. Common practice, no source: a share of 2 % over some tens of seconds.
const MOVES: f64 = 0.008;
/// Averages scatter by no more than this share while they stand, or by so many steps of the sensor.
const SCATTERS: f64 = 0.03;
const SCATTERS_STEPS: f64 = 8.0;
/// Where next to nothing is held, neither of them has to be less than this share of the supply.
const NOTHING: f64 = 0.003;
/// What comes after a plateau is called is nearer to rest than what it was called by; from so many
/// averages on it alone counts.
const ENOUGH: f64 = 10.0;
/// It wanders once it is so far off its own mean.
const WANDERS: f64 = 0.06;
/// Beginning and end of a plateau are so long (s) each.
const END_S: f64 = 2.0;
/// A regulator's wobble goes on for about so long (s): within it, averages are no news of each other.
const ALIKE_S: f64 = 3.0;

/// Where a pressure came to rest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Plateau {
    /// Its mean, gauge.
    #[serde(rename = "level_pa")]
    pub level: Pressure,
    /// Standard uncertainty of the mean, without what supply and cylinder have in common.
    #[serde(rename = "standard_pa")]
    pub standard: Pressure,
    /// How long after the stage began it was called.
    #[serde(rename = "called_after_s")]
    pub called_after: Time,
    /// How long it stood.
    #[serde(rename = "stood_s")]
    pub stood: Time,
}

impl Plateau {
    /// How many averages its mean stands on.
    pub(super) fn news(&self) -> f64 {
        news(self.stood.s())
    }
}

/// An average of samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bin {
    /// Its middle (s).
    pub(super) at: f64,
    /// Mean (Pa).
    pub(super) mean: f64,
}

/// How a plateau began and ended, each over the same time at most.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ends {
    pub(super) first: Bin,
    pub(super) last: Bin,
}

/// Averages samples.
#[derive(Clone, Debug, Default)]
pub(super) struct Binner {
    /// Number of the bin in hand, how many samples, their sums.
    number: f64,
    n: f64,
    times: f64,
    sum: f64,
}

impl Binner {
    /// Takes a sample (s, Pa); gives the bin that it ended.
    pub(super) fn push(&mut self, time: f64, value: f64) -> Option<Bin> {
        let number = libm::floor(time / BIN_S);
        let done = (self.n > 0.0 && number != self.number).then(|| Bin {
            at: self.times / self.n,
            mean: self.sum / self.n,
        });
        if done.is_some() {
            *self = Self::default();
        }
        self.number = number;
        self.n += 1.0;
        self.times += time;
        self.sum += value;
        done
    }
}

/// Looks for the plateau of a stage.
#[derive(Clone, Debug)]
pub(super) struct Finder {
    began: f64,
    /// Smallest step of the sensor, and what does not cancel of its errors (standard, Pa).
    resolution: f64,
    own: f64,
    /// So much (Pa) is nothing beside the supply.
    nothing: f64,
    window: VecDeque<Bin>,
    found: Option<Found>,
    /// The plateau as it was when the pressure stood near it last; and it counts no further.
    steady: Option<Found>,
    frozen: bool,
    /// What it was called by.
    before: Vec<Bin>,
    /// Beginning and end of what came after.
    head: Vec<Bin>,
    tail: VecDeque<Bin>,
    pub(super) wandered: bool,
}

/// A plateau and its running mean.
#[derive(Clone, Copy, Debug)]
struct Found {
    from: f64,
    called: f64,
    until: f64,
    n: f64,
    mean: f64,
    squares: f64,
}

impl Found {
    fn take(&mut self, bin: Bin) {
        self.n += 1.0;
        let off = bin.mean - self.mean;
        self.mean += off / self.n;
        self.squares += off * (bin.mean - self.mean);
        self.until = bin.at;
    }
}

impl Finder {
    pub(super) fn new(began: f64, resolution: f64, own: f64, supply: f64) -> Self {
        Self {
            began,
            resolution,
            own,
            nothing: NOTHING * supply,
            window: VecDeque::new(),
            found: None,
            steady: None,
            frozen: false,
            before: Vec::new(),
            head: Vec::new(),
            tail: VecDeque::new(),
            wandered: false,
        }
    }

    /// Forgets what it has seen of the stage.
    pub(super) fn begin_anew(&mut self) {
        self.window.clear();
        self.found = None;
        self.steady = None;
        self.wandered = false;
        self.head.clear();
        self.tail.clear();
    }

    /// Whether there is no plateau yet, and one may come.
    pub(super) fn still_looks(&self) -> bool {
        self.found.is_none() && !self.frozen
    }

    /// The pressure has just fallen away: what stood before counts, and nothing that comes after.
    pub(super) fn freeze(&mut self) {
        self.found = self.steady.or(self.found);
        self.frozen = true;
    }

    /// Takes an average; gives whether the plateau is called with it.
    pub(super) fn push(&mut self, bin: Bin) -> bool {
        if self.frozen {
            return false;
        }
        self.window.push_back(bin);
        while self.window.len() > STANDS_BINS
            && self
                .window
                .front()
                .is_some_and(|b| bin.at - b.at > STANDS_S)
        {
            self.window.pop_front();
        }
        if let Some(found) = &mut self.found {
            found.take(bin);
            if bin.at - found.called <= END_S {
                self.head.push(bin);
            }
            self.tail.push_back(bin);
            while self.tail.front().is_some_and(|b| bin.at - b.at > END_S) {
                self.tail.pop_front();
            }
            if (bin.mean - found.mean).abs() <= WANDERS * found.mean.abs() {
                self.steady = Some(*found);
            }
            if found.n < ENOUGH {
                return false;
            }
            let recent = mean(&self.window);
            let far = WANDERS * found.mean.abs() + 4.0 * self.resolution;
            self.wandered |= (recent - found.mean).abs() > far;
            return false;
        }
        if !self.stands() {
            return false;
        }
        self.found = Some(Found {
            from: self.window.front().map_or(bin.at, |b| b.at),
            called: bin.at,
            until: bin.at,
            n: 0.0,
            mean: 0.0,
            squares: 0.0,
        });
        self.before = self.window.iter().copied().collect();
        true
    }

    /// Whether the window is long enough and level.
    fn stands(&self) -> bool {
        let (Some(first), Some(last)) = (self.window.front(), self.window.back()) else {
            return false;
        };
        let span = last.at - first.at;
        if self.window.len() < STANDS_BINS || span < STANDS_S - 1.5 * BIN_S {
            return false;
        }
        let level = mean(&self.window);
        let middle = self.window.iter().map(|b| b.at).sum::<f64>() / self.window.len() as f64;
        let (mut tt, mut tx, mut xx) = (0.0, 0.0, 0.0);
        for bin in &self.window {
            let (t, x) = (bin.at - middle, bin.mean - level);
            (tt, tx, xx) = (tt + t * t, tx + t * x, xx + x * x);
        }
        let slope = tx / tt;
        let n = self.window.len() as f64;
        let left = (xx - slope * tx).max(0.0) / (n - 2.0);
        let doubt = libm::sqrt(left / tt) * span;
        let scatter = libm::sqrt(xx / (n - 1.0));
        let most = (MOVES * level.abs())
            .max(2.0 * self.resolution)
            .max(2.0 * doubt)
            .max(self.nothing);
        let calm = scatter
            <= (SCATTERS * level.abs())
                .max(SCATTERS_STEPS * self.resolution)
                .max(self.nothing);
        calm && slope.abs() * span <= most
    }

    /// How the plateau began and how it ends so far, from when it was called; what it was called by,
    /// where it ended there.
    pub(super) fn ends(&self) -> Option<Ends> {
        let tail: Vec<Bin> = self.tail.iter().copied().collect();
        let ends = middle(&self.head).zip(middle(&tail));
        let (first, last) = ends.or_else(|| middle(&self.before).map(|by| (by, by)))?;
        Some(Ends { first, last })
    }

    /// How long (s) it has been read since it was called.
    pub(super) fn read(&self) -> f64 {
        self.found.map_or(0.0, |found| found.until - found.called)
    }

    /// The plateau so far.
    pub(super) fn plateau(&self) -> Option<Plateau> {
        let mut found = self.found?;
        if found.n < ENOUGH {
            (found.n, found.mean, found.squares) = (0.0, 0.0, 0.0);
            self.before.iter().for_each(|bin| found.take(*bin));
        }
        let spread = libm::sqrt(found.squares / (found.n - 1.0).max(1.0));
        let stood = found.until - found.from;
        let news = news(stood);
        let of_mean = spread / libm::sqrt(news);
        let step = self.resolution / libm::sqrt(12.0);
        let standard = libm::hypot(libm::hypot(of_mean, step), self.own);
        Some(Plateau {
            level: Pressure::from_pa(found.mean),
            standard: Pressure::from_pa(standard),
            called_after: Time::from_s(found.called - self.began),
            stood: Time::from_s(stood),
        })
    }
}

/// How many averages of so long a time (s) are news of each other.
fn news(stood: f64) -> f64 {
    (stood / ALIKE_S).max(1.0)
}

fn middle(bins: &[Bin]) -> Option<Bin> {
    let n = bins.len() as f64;
    let mean = |of: fn(&Bin) -> f64| bins.iter().map(of).sum::<f64>() / n;
    (!bins.is_empty()).then(|| Bin {
        at: mean(|bin| bin.at),
        mean: mean(|bin| bin.mean),
    })
}

fn mean(bins: &VecDeque<Bin>) -> f64 {
    bins.iter().map(|bin| bin.mean).sum::<f64>() / bins.len().max(1) as f64
}
