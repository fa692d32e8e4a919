//! One run: its strokes, the call, and how it ended.

use super::budget::{Parts, budget};
use super::call::Look;
use super::context::{Context, STROKES_KEPT, tolerance};
use super::quality;
use super::repeat;
use super::tops::Tops;
use crate::signal::build_up::chances::{self, Chances};
use crate::signal::build_up::climb::Climb;
use crate::signal::build_up::{Made, cadence, needle};
use crate::signal::find::Found;
use crate::signal::results::{
    BuildUp, Call, Droop, Grade, Outcome, Reading, Rig, RunResult, Stroke,
};
use crate::signal::settings::{Count, Event};
use crate::units::{Pressure, Rate, Time};

/// Strokes, kicks or pulls from which the way up is taken: no needle climbs for longer.
const CLIMBS_WITHIN: usize = 64;

/// A run in the making.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    /// Begun by the recording, not by a stroke.
    pub(crate) explicit: bool,
    pub(crate) started: Option<f64>,
    pub(crate) ended: f64,
    pub(crate) clipped_samples: u64,
    pub(crate) refused_samples: u64,
    /// When the next look is due if no stroke comes.
    pub(crate) next_look: f64,
    strokes: Vec<Stroke>,
    made: Vec<Made>,
    count: u32,
    tops: Tops,
    /// The chances up to the last stroke or look.
    chances: Option<Chances>,
    look: Option<Look>,
    looked_at: Option<LookedAt>,
    call: Option<(Call, f64)>,
    withdrawn: u32,
    any_clipped: bool,
}

/// What a look depends on: the same again says the same again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct LookedAt {
    strokes: u32,
    chances: usize,
    unseen: u32,
    withdrawn: u32,
}

impl Run {
    pub(crate) fn new(explicit: bool) -> Self {
        Self {
            explicit,
            started: None,
            ended: 0.0,
            clipped_samples: 0,
            refused_samples: 0,
            next_look: f64::INFINITY,
            strokes: Vec::new(),
            made: Vec::new(),
            count: 0,
            tops: Tops::default(),
            chances: None,
            look: None,
            looked_at: None,
            call: None,
            withdrawn: 0,
            any_clipped: false,
        }
    }

    /// Forgets the strokes: they were found for the wrong rig.
    pub(crate) fn restart(&mut self) {
        *self = Self {
            started: self.started,
            ended: self.ended,
            clipped_samples: self.clipped_samples,
            refused_samples: self.refused_samples,
            ..Self::new(self.explicit)
        };
    }

    pub(crate) fn strokes(&self) -> u32 {
        self.count
    }

    pub(crate) fn last(&self) -> Option<&Stroke> {
        self.strokes.last()
    }

    pub(crate) fn settled(&self) -> bool {
        self.call.is_some()
    }

    /// Usual time between strokes, kicks or pulls.
    pub(crate) fn usual_interval(&self) -> Option<f64> {
        let chances = self.chances.as_ref().filter(|_| self.made.len() > 1);
        chances.map(|chances| chances.interval)
    }

    /// Stroke rate of the last strokes, without pauses.
    pub(crate) fn cadence(&self) -> Option<Rate> {
        let recent = self.made.len().saturating_sub(9);
        let turned = self.look?.turned;
        cadence::cadence(self.made.get(recent..)?, turned).map(|cadence| cadence.median)
    }

    /// Takes the next stroke.
    pub(crate) fn push(&mut self, found: &Found, context: &Context<'_>, events: &mut Vec<Event>) {
        let before = self.strokes.last().copied();
        // A peak fitted between samples may seem to come before the last one, where two stand close.
        let at = before.map_or(found.time, |stroke| found.time.max(stroke.time.s()));
        self.count += 1;
        self.any_clipped |= found.clipped;
        self.tops.push(found);
        keep(
            &mut self.made,
            Made {
                time: at,
                level: found.level,
                sampled: found.level - found.added,
            },
        );
        let chances = self.chances_at(context, at);
        let stroke = Stroke {
            number: self.count,
            time: Time::from_s(at),
            peak: Pressure::from_pa(found.level),
            rise: Pressure::from_pa(found.level - before.map_or(0.0, |stroke| stroke.peak.pa())),
            needle: Pressure::from_pa(needle::at(&chances.seen, context.rig)),
            count: chances::made(&chances.seen) as u32,
            interval: before.map(|stroke| Time::from_s(at - stroke.time.s())),
            cut_off: Pressure::from_pa(found.cut_off),
            packets_missing: found.missing,
            clipped: found.clipped,
        };
        keep(&mut self.strokes, stroke);
        self.chances = Some(chances);
        events.push(Event::Stroke(stroke));
        if !context.settings.strokes_only {
            self.look(at, context, events);
        }
    }

    fn chances_at(&self, context: &Context<'_>, now: f64) -> Chances {
        chances::of(&self.made, context.settings.turned)
            .without_failed(context.rig)
            .with_unseen(context.rig, now)
    }

    /// Looks at where the needle stands now: after a stroke, or when one would have been due.
    pub(crate) fn look(&mut self, now: f64, context: &Context<'_>, events: &mut Vec<Event>) {
        let Some(chances) = &mut self.chances else {
            return;
        };
        chances.wait(context.rig, now);
        self.next_look = chances.next_s(context.rig, now);
        let (turned, closed) = (chances.turned, chances.closed(now));
        let looked_at = Some(LookedAt {
            strokes: self.count,
            chances: closed.len(),
            unseen: closed.last().map_or(0, |chance| chance.unseen),
            withdrawn: self.withdrawn,
        });
        if looked_at == self.looked_at {
            return;
        }
        self.looked_at = looked_at;
        let Some(look) = self.tops.look((turned, closed), context) else {
            return;
        };
        let known = self.look.map_or(0, |look| look.chances);
        self.look = Some(look);
        if look.chances > known {
            events.push(Event::Counted(counted(&look, context)));
        }
        match self.call {
            None if look.settled && !self.any_clipped => self.settle(now, &look, context, events),
            Some((_, called)) if look.needle > called + tolerance(context, called) => {
                self.call = None;
                self.withdrawn += 1;
                events.push(Event::Withdrawn {
                    settled: Pressure::from_pa(called),
                    now: Pressure::from_pa(look.needle),
                });
            }
            _ => {}
        }
    }

    fn settle(&mut self, now: f64, look: &Look, context: &Context<'_>, events: &mut Vec<Event>) {
        let call = Call {
            time: Time::from_s(now),
            count: look.chances,
            unseen: look.unseen,
        };
        self.call = Some((call, look.needle));
        let chances = self.chances_at(context, self.ended);
        if let Some(reading) = self.reading(look, &chances, context) {
            events.push(Event::Settled { reading, call });
        }
    }

    /// How far the run has come.
    pub(crate) fn count(&self, context: &Context<'_>) -> Option<Count> {
        self.look.map(|look| counted(&look, context))
    }

    fn reading(&self, look: &Look, chances: &Chances, context: &Context<'_>) -> Option<Reading> {
        let heading = (!look.settled && !look.rests && self.call.is_none())
            .then_some(Pressure::from_pa(look.climb.plateau));
        let following = context.rig == Some(Rig::Following);
        let value = Pressure::from_pa(look.needle);
        let (accuracy, correction) = context.settings.level_standard(value);
        let budget = budget(&Parts {
            accuracy: accuracy.pa(),
            correction: correction.pa(),
            resolution: context.settings.resolution.pa(),
            noise: self.tops.standard.mean(),
            zero: context.zero.standard.pa(),
            repeat: repeat::standard(look, chances, context.rig),
            sample_rate: if following {
                self.tops.sampling_doubt()
            } else {
                0.0
            },
        });
        // What is wider than half of itself is no reading.
        let sane = value.pa().is_finite() && budget.expanded < 0.5 * value.pa();
        sane.then(|| Reading {
            value,
            expanded: Pressure::from_pa(budget.expanded),
            expanded_relative: Pressure::from_pa(budget.expanded_relative),
            heading,
            budget: budget.lines,
        })
    }

    fn build_up(&self, chances: &Chances, context: &Context<'_>) -> Option<BuildUp> {
        let first = chances.seen.first()?.level;
        let levels = needle::after_each(&chances.seen, context.rig, 0..CLIMBS_WITHIN);
        let rest = *levels.last()?;
        // The way up, and one more.
        let up = levels
            .iter()
            .take_while(|level| rest - **level > tolerance(context, rest));
        let up = (up.count() + 2).min(levels.len());
        let doubt = self.tops.standard.mean();
        let climb = Climb::of(levels.get(..up)?, 0.0, doubt)?;
        let plateau = climb.plateau.max(rest);
        let standard = libm::hypot(doubt, climb.ratio_standard * (plateau - first).abs());
        let share = first / plateau;
        Some(BuildUp {
            plateau: Pressure::from_pa(plateau),
            plateau_uncertainty: Pressure::from_pa(standard),
            ratio: climb.ratio,
            ratio_uncertainty: climb.ratio_standard,
            first_share: share,
            first_share_uncertainty: share.abs() * libm::hypot(standard / plateau, doubt / first),
            strokes: up as u32,
        })
    }

    /// Closes the run.
    pub(crate) fn end(mut self, context: &Context<'_>, droop: Option<Droop>) -> RunResult {
        let chances = chances::of(&self.made, context.settings.turned).without_failed(context.rig);
        // The kick in hand is over; what would have been due since is not known to have been made.
        let seen = chances
            .clone()
            .with_unseen(context.rig, chances.seen.last().map_or(0.0, |c| c.time));
        let look = match (self.call, self.look) {
            (Some(_), look) => look.or_else(|| self.tops.look((seen.turned, &seen.seen), context)),
            (None, Some(look)) if look.rests => Some(look),
            _ => self.tops.look((seen.turned, &seen.seen), context),
        };
        let reading = look
            .filter(|_| !self.any_clipped)
            .and_then(|look| self.reading(&look, &seen, context));
        let outcome = match (&reading, self.call) {
            (None, _) => Outcome::NoReading,
            (Some(_), Some(_)) => Outcome::Settled,
            (Some(reading), None) if reading.is_at_least() => Outcome::StillClimbing,
            _ => Outcome::AtRest,
        };
        let mut result = RunResult {
            started: Time::from_s(self.started.unwrap_or(self.ended)),
            ended: Time::from_s(self.ended),
            rig: context.rig,
            zero: context.zero,
            noise: Pressure::from_pa(context.noise),
            build_up: self.build_up(&seen, context),
            turned: chances.turned,
            count: self
                .call
                .map_or(0, |(call, _)| call.count)
                .max(chances::made(&seen.seen) as u32),
            call: self
                .call
                .map(|(call, _)| call)
                .filter(|_| outcome == Outcome::Settled),
            strokes: std::mem::take(&mut self.strokes),
            outcome,
            reading,
            cadence: cadence::cadence(&self.made, chances.turned),
            droop,
            flags: Vec::new(),
            grade: Grade::Good,
        };
        quality::judge(&mut result, context, &self.tally());
        result
    }

    fn tally(&self) -> quality::Tally {
        quality::Tally {
            strokes: self.count,
            clipped_samples: self.clipped_samples,
            refused_samples: self.refused_samples,
            withdrawn: self.withdrawn,
            cut_off_share: self.tops.cut_off_share(),
        }
    }
}

/// How far the run has come.
fn counted(look: &Look, context: &Context<'_>) -> Count {
    Count {
        made: look.chances,
        unseen: look.unseen,
        turned: look.turned,
        to_go: look.to_go,
        needle: Pressure::from_pa(look.needle),
        heading: Pressure::from_pa(look.climb.plateau),
        tolerance: Pressure::from_pa(tolerance(context, look.needle)),
    }
}

/// Keeps an entry; once the list is full, its last entry keeps step, so that intervals stay right.
fn keep<T>(list: &mut Vec<T>, entry: T) {
    if list.len() == STROKES_KEPT {
        list.pop();
    }
    list.push(entry);
}

#[cfg(test)]
mod endings;
#[cfg(test)]
mod tests;
