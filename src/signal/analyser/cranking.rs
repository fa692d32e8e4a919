//! What is looked for while somebody cranks.

use crate::signal::decide::droop::DroopWatch;
use crate::signal::find::Found;
use crate::signal::find::following::Following;
use crate::signal::find::holding::Holding;
use crate::signal::find::rig::RigFinder;
use crate::signal::rest::Rest;
use crate::signal::results::Rig;

/// Strokes that wait for the rig to be recognised.
const WAITING: usize = 16;

/// What the samples are looked at for.
#[derive(Clone, Debug)]
pub(super) enum Phase {
    /// Nothing happens; the zero is measured.
    Resting(Rest),
    /// Strokes are looked for.
    Cranking(Box<Cranking>),
}

/// Both finders run until the rig is recognised.
#[derive(Clone, Debug)]
pub(super) struct Cranking {
    pub(super) since: f64,
    pub(super) floor: f64,
    pub(super) finder: RigFinder,
    pub(super) following: Following,
    pub(super) holding: Holding,
    pub(super) droop: DroopWatch,
    pub(super) waiting_following: Vec<Found>,
    pub(super) waiting_holding: Vec<Found>,
    pub(super) last_stroke: Option<f64>,
}

/// What a sample shows.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Seen {
    pub(super) stroke: Option<Found>,
    /// The sensor does not sit as it is taken to.
    pub(super) other_rig: Option<Rig>,
}

impl Seen {
    pub(super) fn is_nothing(&self) -> bool {
        self.stroke.is_none() && self.other_rig.is_none()
    }
}

impl Cranking {
    /// Takes a sample: time, gauge pressure. `rig` is the one in use, if known; `sought` says
    /// whether it may turn out to be another.
    pub(super) fn look(
        &mut self,
        rig: Option<Rig>,
        sought: bool,
        (t, x): (f64, f64),
        gap: bool,
        clipped: bool,
    ) -> Seen {
        let stroke = match rig {
            Some(Rig::Following) => self.following.push(t, x, gap, clipped),
            Some(Rig::Holding) => self.holding.push(t, x, gap, clipped),
            None => {
                let (peak, step) = (
                    self.following.push(t, x, gap, clipped),
                    self.holding.push(t, x, gap, clipped),
                );
                keep(&mut self.waiting_following, peak);
                keep(&mut self.waiting_holding, step);
                None
            }
        };
        Seen {
            stroke,
            other_rig: self.other_rig(rig, sought, t, x),
        }
    }

    /// The rig that a sample shows, if it is sought and not the one in use.
    pub(super) fn other_rig(
        &mut self,
        rig: Option<Rig>,
        sought: bool,
        t: f64,
        x: f64,
    ) -> Option<Rig> {
        let seen = if sought { self.finder.push(t, x) } else { None };
        seen.filter(|seen| rig != Some(*seen))
    }
}

/// Keeps a stroke until the rig is known; the oldest goes if there are too many.
fn keep(waiting: &mut Vec<Found>, found: Option<Found>) {
    if let Some(found) = found {
        if waiting.len() == WAITING {
            waiting.remove(0);
        }
        waiting.push(found);
    }
}
