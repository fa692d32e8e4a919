//! What counts as one chance to climb: a stroke of a starter or a hand crank; a whole kick or pull
//! with all its strokes; and behind a check valve the time in which another one was due and lifted
//! nothing, because such a stroke leaves no trace in the pressure, but whoever was told to go on
//! goes on. Those are only counted, so that a needle that stands for long costs no more than one
//! that climbs.

use super::{Made, Turned};
use crate::signal::results::Rig;
use crate::signal::tuned::{
    ALIKE, FAILED, HAND_STROKE_S, KICK_APART, KICK_OVER_S, KICKED_STROKE_S, KICKS_S, SLACK,
    STEADY_FIRST_S, STEADY_S, STEADY_STROKE_S, UNDOUBTED_S, USUAL,
};
use crate::units::median;

/// So many chances that were due one after the other that more of them change nothing.
const MOST_UNSEEN: u32 = 99;

/// A chance to climb of which a stroke was seen, and those after it that were due and lifted
/// nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chance {
    /// When it was: a kick's first stroke.
    pub(crate) time: f64,
    /// Its last stroke.
    pub(crate) ended: f64,
    /// Its best stroke: the one with the highest sample.
    pub(crate) level: f64,
    pub(crate) sampled: f64,
    /// How many were due after it, and nothing rose.
    pub(crate) unseen: u32,
}

/// How many chances these are, seen or not.
pub(crate) fn made(chances: &[Chance]) -> usize {
    chances
        .iter()
        .map(|chance| 1 + chance.unseen as usize)
        .sum()
}

/// The strokes of a run as chances to climb.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Chances {
    pub(crate) turned: Turned,
    /// Usual time from one to the next (s).
    pub(crate) interval: f64,
    /// Those of which a stroke was seen.
    pub(crate) seen: Vec<Chance>,
}

/// Sorts strokes into chances. `told` is how the engine is turned, where the card says so.
pub(crate) fn of(strokes: &[Made], told: Option<Turned>) -> Chances {
    let steady = steady_groups(strokes);
    let turned = turned(&steady, told);
    let seen: Vec<Chance> = if turned.steadily() {
        strokes.chunks(1).filter_map(chance).collect()
    } else {
        groups(strokes, KICK_OVER_S).filter_map(chance).collect()
    };
    let interval = if turned.steadily() {
        within(&steady)
            .or_else(|| usual(&seen))
            .unwrap_or(STEADY_FIRST_S)
    } else {
        usual(&seen).map_or(KICKS_S.usual, |interval| {
            interval.clamp(KICKS_S.shortest, KICKS_S.longest)
        })
    };
    Chances {
        turned,
        interval,
        seen,
    }
}

impl Chances {
    /// With those that were due by `now` and of which nothing was seen. Only behind a check valve:
    /// elsewhere every stroke is seen.
    pub(crate) fn with_unseen(mut self, rig: Option<Rig>, now: f64) -> Self {
        if rig == Some(Rig::Holding) {
            for n in 1..self.seen.len() {
                let due = (self.seen[n].time - self.seen[n - 1].time) / self.interval;
                self.seen[n - 1].unseen = unseen(due + 0.5);
            }
            self.wait(rig, now);
        }
        self
    }

    /// Counts those that were due by `now` since the last one.
    pub(crate) fn wait(&mut self, rig: Option<Rig>, now: f64) {
        if let (Some(Rig::Holding), Some(last)) = (rig, self.seen.last_mut()) {
            let due = (now - last.time) / self.interval - SLACK;
            last.unseen = unseen(due + 1.0);
        }
    }

    /// Without those that failed: the engine was coasting, a kick slipped or never came over the
    /// top. They lift nothing, whatever there is to climb.
    pub(crate) fn without_failed(mut self, rig: Option<Rig>) -> Self {
        if rig == Some(Rig::Following) {
            // The needle of tops leaves the weaker half out.
            return self;
        }
        let mut best: f64 = 0.0;
        self.seen.retain(|chance| {
            best = best.max(chance.level);
            chance.level >= FAILED * best
        });
        self
    }

    /// Without the kick that may still be going on.
    pub(crate) fn closed(&self, now: f64) -> &[Chance] {
        let open = |chance: &Chance| chance.unseen == 0 && now - chance.ended < KICK_OVER_S;
        match self.seen.split_last() {
            Some((last, before)) if self.turned == Turned::InKicks && open(last) => before,
            _ => &self.seen,
        }
    }

    /// When there will be one more, or the kick in hand will be over, if nothing is seen.
    pub(crate) fn next_s(&self, rig: Option<Rig>, now: f64) -> f64 {
        let Some(last) = self.seen.last() else {
            return f64::INFINITY;
        };
        let over = last.ended + KICK_OVER_S;
        if self.turned == Turned::InKicks && last.unseen == 0 && now < over {
            over
        } else if rig != Some(Rig::Holding) || last.unseen == MOST_UNSEEN {
            f64::INFINITY
        } else if last.unseen == 0 {
            last.time + self.interval * (1.0 + SLACK)
        } else {
            last.time + self.interval * f64::from(last.unseen) + self.interval
        }
    }
}

/// How many chances come before the `due`th.
fn unseen(due: f64) -> u32 {
    (due.min(f64::from(MOST_UNSEEN + 1)) as u32).saturating_sub(1)
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
        unseen: 0,
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
    median(intervals)
}

#[cfg(test)]
mod limits;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::build_up::needle;

    /// A starter's strokes every 0.4 s, but for two pauses of 4 and of 400 s.
    fn strokes() -> Vec<Made> {
        let times = [0.0, 0.4, 0.8, 1.2, 1.6, 5.6, 405.6];
        let made = |(n, time)| {
            let level = 1e5 * (1.0 - libm::pow(0.5, n as f64 + 1.0));
            Made {
                time,
                level,
                sampled: level,
            }
        };
        times.into_iter().enumerate().map(made).collect()
    }

    /// From the times, at 0.4 s each: nine in 4 s; of those in 400 s no more than change anything.
    #[test]
    fn what_was_due_is_counted() {
        let chances =
            of(&strokes(), Some(Turned::ByStarter)).with_unseen(Some(Rig::Holding), 406.9);
        let unseen: Vec<u32> = chances.seen.iter().map(|chance| chance.unseen).collect();
        assert_eq!(unseen, [0, 0, 0, 0, 9, MOST_UNSEEN, 2]);
        assert_eq!(made(&chances.seen), 7 + 9 + 99 + 2);
        let following = of(&strokes(), None).with_unseen(Some(Rig::Following), 1e3);
        assert_eq!(made(&following.seen), 7);
    }

    /// However long the needle stands, the looks at it come to an end.
    #[test]
    fn a_needle_that_stands_is_looked_at_a_bounded_number_of_times() {
        for told in [Turned::ByStarter, Turned::ByHand, Turned::InKicks] {
            let mut chances = of(&strokes(), Some(told));
            let (mut now, mut looks) = (405.6_f64, 0);
            while now.is_finite() {
                chances.wait(Some(Rig::Holding), now);
                // What is due is looked at again until it counts, sample by sample.
                let next = chances.next_s(Some(Rig::Holding), now);
                now = next.max(now + 0.05);
                looks += 1;
                assert!(looks < 100 * MOST_UNSEEN, "{told:?} at {now}");
            }
            assert_eq!(chances.seen.last().unwrap().unseen, MOST_UNSEEN);
        }
    }

    /// The needle after each chance is that of a list in which those that lifted nothing stand too.
    #[test]
    fn counting_is_as_good_as_listing() {
        let chances =
            of(&strokes(), Some(Turned::ByStarter)).with_unseen(Some(Rig::Holding), 407.0);
        let listed: Vec<Chance> = chances
            .seen
            .iter()
            .flat_map(|chance| {
                let one = Chance {
                    unseen: 0,
                    ..*chance
                };
                std::iter::repeat_n(one, 1 + chance.unseen as usize)
            })
            .collect();
        let rig = Some(Rig::Holding);
        let all = needle::after_each(&listed, rig, 0..usize::MAX);
        assert_eq!(all.len(), made(&chances.seen));
        assert_eq!(needle::after_each(&chances.seen, rig, 0..usize::MAX), all);
        for most in 0..=all.len() + 1 {
            let latest = needle::after_latest(&chances.seen, rig, most);
            assert_eq!(latest, all[all.len().saturating_sub(most)..]);
            let first = needle::after_each(&chances.seen, rig, 0..most);
            assert_eq!(first, all[..most.min(all.len())]);
        }
    }
}
