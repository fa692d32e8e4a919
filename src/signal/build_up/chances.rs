//! What counts as one chance to climb: a stroke of a starter or a hand crank; a whole kick or pull
//! with all its strokes; and behind a check valve the time in which another one was due and lifted
//! nothing, because such a stroke leaves no trace in the pressure, but whoever was told to go on
//! goes on.

use super::cadence;
use super::{Made, Turned};
use crate::signal::results::Rig;
use crate::signal::tuned::{
    ALIKE, FAILED, HAND_STROKE_S, KICK_APART, KICK_OVER_S, KICKED_STROKE_S, KICKS_S, SLACK,
    STEADY_FIRST_S, STEADY_S, STEADY_STROKE_S, UNDOUBTED_S, USUAL,
};

/// A chance to climb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chance {
    /// When it was: a kick's first stroke.
    pub(crate) time: f64,
    /// Its last stroke.
    pub(crate) ended: f64,
    /// Its best stroke: the one with the highest sample.
    pub(crate) level: f64,
    pub(crate) sampled: f64,
    /// A stroke was seen; otherwise one was due, and nothing rose.
    pub(crate) seen: bool,
}

/// The strokes of a run as chances to climb.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Chances {
    pub(crate) turned: Turned,
    /// Usual time from one to the next (s).
    pub(crate) interval: f64,
    pub(crate) all: Vec<Chance>,
}

/// Sorts strokes into chances. `told` is how the engine is turned, where the card says so.
pub(crate) fn of(strokes: &[Made], told: Option<Turned>) -> Chances {
    let steady = steady_groups(strokes);
    let turned = turned(&steady, told);
    let all: Vec<Chance> = if turned.steadily() {
        strokes.chunks(1).filter_map(chance).collect()
    } else {
        groups(strokes, KICK_OVER_S).filter_map(chance).collect()
    };
    let interval = if turned.steadily() {
        within(&steady)
            .or_else(|| usual(&all))
            .unwrap_or(STEADY_FIRST_S)
    } else {
        usual(&all).map_or(KICKS_S.usual, |interval| {
            interval.clamp(KICKS_S.shortest, KICKS_S.longest)
        })
    };
    Chances {
        turned,
        interval,
        all,
    }
}

impl Chances {
    /// With those that were due by `now` and of which nothing was seen. Only behind a check valve:
    /// elsewhere every stroke is seen.
    pub(crate) fn with_unseen(mut self, rig: Option<Rig>, now: f64) -> Self {
        if rig != Some(Rig::Holding) {
            return self;
        }
        let mut all: Vec<Chance> = Vec::with_capacity(self.all.len());
        for chance in std::mem::take(&mut self.all) {
            if let Some(before) = all.last().copied() {
                let due = (chance.time - before.time) / self.interval;
                all.extend(unseen(before, self.interval, due + 0.5));
            }
            all.push(chance);
        }
        if let Some(before) = all.last().copied() {
            let due = (now - before.time) / self.interval - SLACK;
            all.extend(unseen(before, self.interval, due + 1.0));
        }
        self.all = all;
        self
    }

    /// Without those that failed: the engine was coasting, a kick slipped or never came over the
    /// top. They lift nothing, whatever there is to climb.
    pub(crate) fn without_failed(mut self, rig: Option<Rig>) -> Self {
        if rig == Some(Rig::Following) {
            // The needle of tops leaves the weaker half out.
            return self;
        }
        let mut best: f64 = 0.0;
        self.all.retain(|chance| {
            best = best.max(chance.level);
            chance.level >= FAILED * best
        });
        self
    }

    /// Without the kick that may still be going on.
    pub(crate) fn closed(mut self, now: f64) -> Self {
        let open = |chance: &Chance| chance.seen && now - chance.ended < KICK_OVER_S;
        if self.turned == Turned::InKicks && self.all.last().is_some_and(open) {
            self.all.pop();
        }
        self
    }

    /// When there will be one more, or the kick in hand will be over, if nothing is seen.
    pub(crate) fn next_s(&self, rig: Option<Rig>, now: f64) -> f64 {
        let Some(last) = self.all.last() else {
            return f64::INFINITY;
        };
        let over = last.ended + KICK_OVER_S;
        if self.turned == Turned::InKicks && last.seen && now < over {
            over
        } else if rig == Some(Rig::Holding) {
            last.time + self.interval * (1.0 + if last.seen { SLACK } else { 0.0 })
        } else {
            f64::INFINITY
        }
    }
}

/// Chances that came after `last` and before the `due`th, and lifted nothing.
fn unseen(last: Chance, interval: f64, due: f64) -> impl Iterator<Item = Chance> {
    /// So many that more of them change nothing.
    const MOST: f64 = 100.0;
    (1..due.min(MOST) as usize).map(move |n| {
        let time = last.time + interval * n as f64;
        Chance {
            time,
            ended: time,
            seen: false,
            ..last
        }
    })
}

fn chance(strokes: &[Made]) -> Option<Chance> {
    let (first, last) = (strokes.first()?, strokes.last()?);
    // Where samples are few a fitted top may lie too high; the highest of several such would.
    let best = strokes
        .iter()
        .max_by(|a, b| a.sampled.total_cmp(&b.sampled))?;
    Some(Chance {
        time: first.time,
        ended: last.time,
        level: best.level,
        sampled: best.sampled,
        seen: true,
    })
}

/// Strokes that follow each other within `pause`.
fn groups(strokes: &[Made], pause: f64) -> impl Iterator<Item = &[Made]> {
    strokes.chunk_by(move |before, after| after.time - before.time <= pause)
}

/// The same for steady cranking, whatever its pace.
fn steady_groups(strokes: &[Made]) -> Vec<&[Made]> {
    let shortest = intervals(strokes).fold(f64::INFINITY, f64::min);
    groups(strokes, (KICK_APART * shortest).max(KICK_OVER_S)).collect()
}

fn intervals(strokes: &[Made]) -> impl Iterator<Item = f64> {
    strokes.windows(2).map(|pair| pair[1].time - pair[0].time)
}

/// A kick or a pull is over sooner than steady cranking, and its strokes follow each other faster
/// and less evenly.
fn turned(groups: &[&[Made]], told: Option<Turned>) -> Turned {
    let first = groups.first().copied().unwrap_or_default();
    let span = match (first.first(), first.last()) {
        (Some(first), Some(last)) => last.time - first.time,
        _ => 0.0,
    };
    match told {
        Some(Turned::InKicks) if span < UNDOUBTED_S => Turned::InKicks,
        Some(steady @ (Turned::ByStarter | Turned::ByHand)) => steady,
        _ if span >= STEADY_S || even(first) => by_pace(within(groups).unwrap_or(0.0)),
        _ => Turned::InKicks,
    }
}

/// Who turns it steadily at this interval (s); nobody at that of kicks, of which one stroke is seen.
fn by_pace(interval: f64) -> Turned {
    if interval >= KICKED_STROKE_S {
        Turned::InKicks
    } else if interval >= HAND_STROKE_S {
        Turned::ByHand
    } else {
        Turned::ByStarter
    }
}

/// Whether these come as only steady cranking makes them.
fn even(strokes: &[Made]) -> bool {
    let shortest = intervals(strokes).fold(f64::INFINITY, f64::min);
    let longest = intervals(strokes).fold(0.0, f64::max);
    strokes.len() > 2 && shortest >= STEADY_STROKE_S && longest <= ALIKE * shortest
}

/// Median time between strokes without the pauses.
fn within(groups: &[&[Made]]) -> Option<f64> {
    let mut all: Vec<f64> = groups.iter().flat_map(|group| intervals(group)).collect();
    lower_median(&mut all)
}

fn usual(chances: &[Chance]) -> Option<f64> {
    let pairs = chances.windows(2);
    let mut all: Vec<f64> = pairs.map(|pair| pair[1].time - pair[0].time).collect();
    lower_median(&mut all)
}

/// Median of what is not much longer than the shortest: a longer interval holds strokes or kicks
/// that were not seen.
fn lower_median(intervals: &mut Vec<f64>) -> Option<f64> {
    let shortest = intervals.iter().copied().fold(f64::INFINITY, f64::min);
    intervals.retain(|interval| *interval <= USUAL * shortest);
    cadence::median(intervals)
}
