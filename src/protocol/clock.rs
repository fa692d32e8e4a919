//! When each sample was taken: by the sensor's clock where it has one, else by arrival.

use super::spec::TickOf;
use crate::units::Time;

/// Where the samples of a packet lie in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub first: Time,
    pub step: Time,
    /// The sensor's clock had started anew; the gap was bridged by the host's.
    pub anew: bool,
}

/// What a packet says about time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stamp {
    /// When it arrived, on the host's clock.
    pub arrived: Time,
    pub tick: u64,
    pub samples: usize,
    /// From one sample to the next.
    pub step: Time,
    /// No packet is missing between this one and the one before.
    pub consecutive: bool,
}

/// The sensor's clock, unwrapped: zero at the first tick.
#[derive(Clone, Debug)]
pub(super) struct TickClock {
    tick: Time,
    around: i64,
    tick_of: TickOf,
    last: Option<Last>,
    link_was_lost: bool,
}

#[derive(Clone, Copy, Debug)]
struct Last {
    tick: i64,
    total: i64,
    arrived: Time,
}

impl TickClock {
    /// `around` is how many ticks make one turn of the counter.
    pub(super) fn new(tick_us: f64, around: i64, tick_of: TickOf) -> Self {
        Self {
            tick: Time::from_s(tick_us / 1e6),
            around,
            tick_of,
            last: None,
            link_was_lost: false,
        }
    }

    /// The length of so many ticks.
    pub(super) fn length(&self, ticks: u64) -> Time {
        self.tick * ticks as f64
    }

    pub(super) fn link_lost(&mut self) {
        self.link_was_lost = true;
    }

    pub(super) fn span(&mut self, stamp: Stamp) -> Span {
        let mut tick = stamp.tick.cast_signed();
        if tick >= self.around {
            tick %= self.around;
        }
        let (total, anew) = match self.last {
            None => (0, false),
            Some(last) => self.total(last, tick, stamp),
        };
        self.link_was_lost = false;
        self.last = Some(Last {
            tick,
            total,
            arrived: stamp.arrived,
        });
        let at_tick = self.tick * total as f64;
        let before = match self.tick_of {
            TickOf::First => 0,
            TickOf::Last => stamp.samples.saturating_sub(1),
        };
        Span {
            first: at_tick - stamp.step * before as f64,
            step: stamp.step,
            anew,
        }
    }

    /// Ticks since the first, and whether the clock had started anew.
    ///
    /// A counter that has gone round tells the time only up to whole turns. In a row without a
    /// gap there were none; otherwise the host's clock, rough as arrival times are, says how many.
    fn total(&self, last: Last, tick: i64, stamp: Stamp) -> (i64, bool) {
        let behind = tick - last.tick;
        let forward = if behind < 0 {
            behind + self.around
        } else {
            behind
        };
        let elapsed = (stamp.arrived - last.arrived).max(Time::ZERO);
        let host = elapsed / self.tick;
        let turns = if stamp.consecutive && forward < self.around / 2 {
            0
        } else {
            // Far beyond any recording, and safe to multiply.
            let nearest = ((host - forward as f64) / self.around as f64).round();
            nearest.clamp(-1.0, MOST_TURNS) as i64
        };
        let moved = forward + turns * self.around;
        let off = (self.tick * (moved as f64 - host)).abs();
        let back = self.tick * (-moved) as f64;
        let anew = back.s() > BACK_S
            || self.link_was_lost && off.s() > DRIFT_S.max(elapsed.s() * DRIFT_SHARE);
        let moved = if anew {
            host.min(MOST_TICKS).round() as i64
        } else {
            moved
        };
        (last.total.saturating_add(moved), anew)
    }
}

/// A tick this far back, in seconds, is no jitter: the clock was set anew.
const BACK_S: f64 = 1.0;
/// How far the two clocks may differ over a lost link, in seconds …
const DRIFT_S: f64 = 2.0;
/// … or as a share of the time that it was lost.
const DRIFT_SHARE: f64 = 0.01;
const MOST_TURNS: f64 = 1e6;
const MOST_TICKS: f64 = 1e15;

/// The host's clock, for sensors without one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HostClock {
    last: Option<Time>,
}

impl HostClock {
    /// The last sample is taken to be as old as the packet; those before it are spread by the
    /// sample rate, closer where the packet before came less long ago.
    pub(super) fn span(&mut self, stamp: Stamp) -> Span {
        let arrived = stamp.arrived;
        let room = self
            .last
            .map(|last| (arrived - last).max(Time::ZERO) / stamp.samples.max(1) as f64);
        let step = room.map_or(stamp.step, |room| room.min(stamp.step));
        self.last = Some(self.last.map_or(arrived, |last| last.max(arrived)));
        Span {
            first: arrived - step * stamp.samples.saturating_sub(1) as f64,
            step,
            anew: false,
        }
    }
}
