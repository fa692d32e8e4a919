//! One run: its strokes, its build-up, and the decision.

use super::budget::{Parts, budget};
use super::build_up::Prospect;
use super::bursts::{self, Bursts, Turned};
use super::cadence;
use super::curve;
use super::decision::{self, Bar, Look};
use super::fit::Step;
use super::found::Found;
use super::lifts::Lift;
use super::moments::Moments;
use super::quality;
use super::results::{BuildUp, Droop, Outcome, Reading, Rig, RunResult, Stroke, Zero};
use super::settings::{Estimate, Event, Settings};
use crate::units::{Pressure, Time};

/// Strokes of a run that are kept and listed; later ones are analysed and counted.
pub const STROKES_KEPT: usize = 1000;
/// Intervals from which the usual one is taken.
const RECENT: usize = 9;

/// Standard deviation of what interpolation adds, as a share of the cut-off, where samples fall
/// evenly on the tops: that of x² for x uniform in ±1/2 over its largest value, 4 / sqrt(180).
const SPREAD: f64 = 0.298;

/// What of the doubt about the shape between samples (of its variance) is the same in all strokes,
/// where samples fall differently on each.
const SHAPE: f64 = 0.15;

/// Two strokes are alike when they differ by no more than this multiple of the tolerance.
const ALIKE: f64 = 1.0;

/// A reading that was called settled.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Call {
    value: f64,
    stroke: u32,
}

/// A run in the making.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Begun by the recording, not by a stroke.
    pub(super) explicit: bool,
    pub(super) started: Option<f64>,
    pub(super) ended: f64,
    pub(super) clipped_samples: u64,
    pub(super) refused_samples: u64,
    strokes: Vec<Stroke>,
    count: u32,
    /// Usual time between strokes, from the last few.
    usual_interval: Option<f64>,
    /// Cut-off, noise and sample-rate doubt of the strokes, as running means.
    cut_off: f64,
    /// Mean height of the strokes.
    height: f64,
    standard: f64,
    bias: f64,
    /// Sum of the strokes' [`sharpness`].
    sharp: f64,
    /// What interpolation added: where it varies, the samples fell differently on every stroke.
    added: Moments,
    bank: Bursts,
    look: Option<Look>,
    /// Where the strokes led to before the last one.
    foreseen: Option<f64>,
    call: Option<Call>,
    /// The best known reading since it was called settled.
    best: Option<Reading>,
    withdrawn: u32,
    any_clipped: bool,
}

/// What a run needs to know to be judged.
#[derive(Clone, Copy, Debug)]
pub(super) struct Context<'a> {
    pub(super) settings: &'a Settings,
    pub(super) rig: Option<Rig>,
    pub(super) zero: Zero,
    pub(super) noise: f64,
}

impl Run {
    pub(super) fn new(explicit: bool) -> Self {
        Self {
            explicit,
            started: None,
            ended: 0.0,
            clipped_samples: 0,
            refused_samples: 0,
            strokes: Vec::new(),
            count: 0,
            usual_interval: None,
            cut_off: 0.0,
            height: 0.0,
            standard: 0.0,
            bias: 0.0,
            sharp: 0.0,
            added: Moments::default(),
            bank: Bursts::new(),
            look: None,
            foreseen: None,
            call: None,
            best: None,
            withdrawn: 0,
            any_clipped: false,
        }
    }

    /// Forgets the strokes: they were found for the wrong rig.
    pub(super) fn restart(&mut self) {
        *self = Self {
            started: self.started,
            ended: self.ended,
            clipped_samples: self.clipped_samples,
            refused_samples: self.refused_samples,
            ..Self::new(self.explicit)
        };
    }

    pub(super) fn strokes(&self) -> u32 {
        self.count
    }

    pub(super) fn last(&self) -> Option<&Stroke> {
        self.strokes.last()
    }

    pub(super) fn settled(&self) -> bool {
        self.call.is_some()
    }

    /// Usual time between strokes, from the last few.
    pub(super) fn usual_interval(&self) -> Option<f64> {
        self.usual_interval
    }

    fn median_interval(&self) -> Option<f64> {
        let mut recent: Vec<f64> = self
            .strokes
            .iter()
            .rev()
            .take(RECENT)
            .filter_map(|stroke| stroke.interval.map(Time::s))
            .collect();
        cadence::median(&mut recent)
    }

    /// Takes the next stroke.
    pub(super) fn push(&mut self, found: &Found, context: &Context<'_>, events: &mut Vec<Event>) {
        let before = self.strokes.last().copied();
        // A peak fitted between samples may seem to come before the last one, where two stand close.
        let at = before.map_or(found.time, |stroke| found.time.max(stroke.time.s()));
        let interval = before.map(|stroke| at - stroke.time.s());
        let steps = self.steps(interval, found.missing);
        if self.count == 0 {
            self.bank.begin(context.rig);
        }
        self.count += 1;
        self.any_clipped |= found.clipped;
        let weight = 1.0 / f64::from(self.count);
        self.cut_off += (found.cut_off - self.cut_off) * weight;
        self.height += (found.level - self.height) * weight;
        self.standard += (found.standard - self.standard) * weight;
        let sharp = if context.rig == Some(Rig::Holding) {
            1.0
        } else {
            sharpness(found)
        };
        self.sharp += sharp;
        self.bias += (found.bias - self.bias) * sharp / self.sharp;
        self.added.push(found.added, 1.0);
        let stroke = Stroke {
            number: self.count,
            time: Time::from_s(at),
            peak: Pressure::from_pa(found.level),
            rise: Pressure::from_pa(found.level - before.map_or(0.0, |stroke| stroke.peak.pa())),
            interval: interval.map(Time::from_s),
            cut_off: Pressure::from_pa(found.cut_off),
            packets_missing: found.missing,
            clipped: found.clipped,
        };
        if self.strokes.len() < STROKES_KEPT {
            self.strokes.push(stroke);
        } else if let Some(last) = self.strokes.last_mut() {
            // The list is full: its last entry keeps step, so that intervals stay right.
            *last = stroke;
        }
        self.usual_interval = self.median_interval();
        events.push(Event::Stroke(stroke));
        if context.settings.strokes_only {
            return;
        }
        // A peak with samples missing may be anything up to the true one.
        let trust = if found.missing && context.rig != Some(Rig::Holding) {
            0.05 * sharp
        } else {
            sharp
        };
        let telling = self.bank.push(
            at,
            Step {
                lift: Lift {
                    from: found.from,
                    to: found.level,
                    standard: found.standard,
                    trust,
                },
                strokes: steps,
            },
        );
        if telling {
            self.decide(context, events);
        }
    }

    /// How many strokes lie between the last one and this one, where samples are missing.
    fn steps(&self, interval: Option<f64>, missing: bool) -> u32 {
        match (interval, self.usual_interval) {
            (Some(interval), Some(usual)) if missing && usual > 0.0 => {
                ((interval / usual + 0.5) as u32).clamp(1, 10)
            }
            _ => 1,
        }
    }

    fn decide(&mut self, context: &Context<'_>, events: &mut Vec<Event>) {
        let Some(prospect) = self.bank.prospect() else {
            return;
        };
        let bar = self.bar(context, &prospect);
        let tolerance = bar.tolerance;
        let usable =
            !self.any_clipped && !self.undersampled(context, &prospect) && self.told_apart();
        // One odd stroke must not make a plateau: two in a row have to lead to the same.
        let agreed = self
            .foreseen
            .replace(prospect.plateau)
            .is_some_and(|before| (prospect.plateau - before).abs() <= tolerance);
        let two = self.two_agree(context, tolerance);
        let steady = libm::hypot(self.sampling_doubt(), context.zero.standard.pa());
        let look = decision::look(
            &prospect,
            steady,
            self.bank.steps(),
            &Bar {
                fewest: if two { 2 } else { bar.fewest },
                ..bar
            },
            usable && (agreed || two),
        );
        self.look = Some(look);
        match self.call {
            None if look.settled => {
                self.call = Some(Call {
                    value: prospect.plateau,
                    stroke: self.count,
                });
                self.best = self.reading(context);
                events.extend(self.best.clone().map(Event::Settled));
            }
            Some(call) if prospect.plateau - 2.0 * prospect.standard > call.value + tolerance => {
                (self.call, self.best) = (None, None);
                self.withdrawn += 1;
                events.push(Event::Withdrawn {
                    settled: Pressure::from_pa(call.value),
                    now: Pressure::from_pa(prospect.plateau),
                });
            }
            Some(_) => {
                let now = self.reading(context);
                self.best = better(self.best.take(), now);
            }
            None => {}
        }
    }

    /// What a call has to pass.
    fn bar(&self, context: &Context<'_>, prospect: &Prospect) -> Bar {
        let plateau = Pressure::from_pa(prospect.plateau);
        Bar {
            tolerance: context.settings.tolerance(plateau).pa(),
            sure: decision::sure(self.bank.turned(), context.rig, self.bank.steps()),
            fewest: decision::FEWEST,
        }
    }

    /// Whether two strokes are enough: a starter turns the engine, and the second stroke was as high
    /// as the first.
    fn two_agree(&self, context: &Context<'_>, tolerance: f64) -> bool {
        let [.., first, second] = self.strokes.as_slice() else {
            return false;
        };
        context.rig == Some(Rig::Following)
            && self.bank.steps() == 2
            && self.bank.surely_by_starter()
            && (second.peak - first.peak).pa().abs() <= ALIKE * tolerance
    }

    /// What the sample rate leaves in doubt. Samples that fell on a different part of every
    /// stroke's top err at random, and that averages out; in step with the strokes they do not.
    fn sampling_doubt(&self) -> f64 {
        let evenly_spread = SPREAD * self.cut_off;
        let varies = if evenly_spread > 0.0 {
            (self.added.variance().sqrt() / evenly_spread).min(1.0)
        } else {
            0.0
        };
        self.bias * (1.0 - varies + varies * SHAPE).sqrt()
    }

    fn told_apart(&self) -> bool {
        match (self.strokes.first(), self.strokes.last()) {
            (Some(first), Some(last)) => self.bank.told_apart(first.time.s(), last.time.s()),
            _ => false,
        }
    }

    fn undersampled(&self, context: &Context<'_>, prospect: &Prospect) -> bool {
        context.rig == Some(Rig::Following)
            && self.cut_off > quality::CUT_OFF_REFUSED * prospect.plateau.abs()
    }

    /// What the strokes say so far.
    pub(super) fn estimate(&self, settings: &Settings) -> Option<Estimate> {
        let prospect = self.bank.prospect()?;
        let look = self.look?;
        let plateau = Pressure::from_pa(prospect.plateau);
        Some(Estimate {
            plateau,
            standard: Pressure::from_pa(prospect.standard),
            left: Pressure::from_pa(prospect.left),
            left_at_most: Pressure::from_pa(look.left_at_most),
            tolerance: settings.tolerance(plateau),
            strokes_missing: look.strokes_missing,
        })
    }

    fn reading(&self, context: &Context<'_>) -> Option<Reading> {
        let prospect = self.bank.prospect()?;
        let noise = self.standard / prospect.weight.max(1.0).sqrt();
        let one_burst = if self.told_apart() {
            0.0
        } else {
            quality::one_burst(context.rig) * prospect.plateau
        };
        let fit = prospect.standard * prospect.standard - noise * noise + one_burst * one_burst;
        let budget = budget(&Parts {
            accuracy: context.settings.accuracy_standard.pa(),
            resolution: context.settings.resolution.pa(),
            noise,
            zero: context.zero.standard.pa(),
            fit: libm::hypot(
                quality::model(self.bank.turned() == Turned::InBursts) * fit.max(0.0).sqrt(),
                quality::beyond(prospect.left),
            ),
            sample_rate: self.sampling_doubt(),
        });
        Some(Reading {
            value: Pressure::from_pa(prospect.plateau),
            expanded: Pressure::from_pa(budget.expanded),
            expanded_relative: Pressure::from_pa(budget.expanded_relative),
            extrapolated: self.call.is_none(),
            strokes_missing: if self.call.is_none() {
                self.look.and_then(|look| look.strokes_missing)
            } else {
                None
            },
            settled_at_stroke: self.call.map(|call| call.stroke),
            budget: budget.lines,
        })
    }

    /// The curve through the steps, where they follow one; otherwise what the decision rests on.
    fn build_up(&self) -> Option<BuildUp> {
        let prospect = self.bank.prospect()?;
        let fitted = curve::fit(self.bank.curve(), prospect.ratio)
            .filter(|fitted| (fitted.plateau - prospect.plateau).abs() < 0.1 * prospect.plateau);
        let (plateau, standard) = fitted.map_or((prospect.plateau, prospect.standard), |fitted| {
            (fitted.plateau, fitted.plateau_standard)
        });
        let first = self.bank.curve().first()?.level;
        let share = first / plateau;
        let noise = libm::hypot(self.standard, prospect.scatter);
        Some(BuildUp {
            plateau: Pressure::from_pa(plateau),
            plateau_uncertainty: Pressure::from_pa(standard),
            ratio: fitted.map_or(prospect.ratio, |fitted| fitted.ratio),
            ratio_uncertainty: fitted
                .map_or(prospect.ratio_standard, |fitted| fitted.ratio_standard),
            first_share: share,
            first_share_uncertainty: share.abs() * libm::hypot(standard / plateau, noise / first),
            strokes: self.bank.steps(),
        })
    }

    /// Closes the run.
    pub(super) fn end(mut self, context: &Context<'_>, droop: Option<Droop>) -> RunResult {
        self.bank.finish();
        let prospect = self.bank.prospect();
        let refused = self.any_clipped
            || prospect.is_some_and(|prospect| self.undersampled(context, &prospect));
        let reading = if refused {
            None
        } else {
            better(self.best.take(), self.reading(context)).filter(sane)
        };
        let outcome = match &reading {
            Some(reading) if !reading.extrapolated => Outcome::Settled,
            Some(_) => Outcome::Extrapolated,
            None => Outcome::NoReading,
        };
        let times: Vec<f64> = self.strokes.iter().map(|stroke| stroke.time.s()).collect();
        let mut result = RunResult {
            started: Time::from_s(self.started.unwrap_or(self.ended)),
            ended: Time::from_s(self.ended),
            rig: context.rig,
            zero: context.zero,
            noise: Pressure::from_pa(context.noise),
            build_up: self.build_up(),
            strokes: std::mem::take(&mut self.strokes),
            outcome,
            reading,
            cadence: cadence::cadence(&times),
            droop,
            flags: Vec::new(),
            grade: super::results::Grade::Good,
        };
        quality::judge(&mut result, context, &self.tally(context, prospect));
        result
    }

    fn tally(&self, context: &Context<'_>, prospect: Option<Prospect>) -> quality::Tally {
        let uneven = prospect
            .filter(|_| self.call.is_none())
            .and_then(|prospect| {
                let bar = self.bar(context, &prospect);
                let needed = decision::needed(&prospect, self.bank.steps(), &bar)?;
                Some((prospect.scatter / prospect.plateau, needed))
            });
        let rate_limits = prospect.is_some_and(|prospect| {
            let bar = self.bar(context, &prospect);
            self.call.is_none() && decision::limits(self.sampling_doubt(), &bar)
        });
        quality::Tally {
            rate_limits,
            uneven,
            strokes: self.count,
            clipped_samples: self.clipped_samples,
            refused_samples: self.refused_samples,
            withdrawn: self.withdrawn,
            cut_off_share: if self.height > 0.0 {
                self.cut_off / self.height
            } else {
                0.0
            },
        }
    }
}

/// How much a stroke tells, between 0 and 1: less where its top lay between two samples.
fn sharpness(found: &Found) -> f64 {
    let clear = libm::hypot(found.standard, bursts::STEADY_SCATTER * found.level);
    let blurred = libm::hypot(clear, found.bias);
    if blurred > 0.0 {
        (clear / blurred) * (clear / blurred)
    } else {
        1.0
    }
}

/// A reading that was called settled stands until a later stroke makes it better known: someone
/// who cranks on, and tires, does not spoil it.
fn better(best: Option<Reading>, now: Option<Reading>) -> Option<Reading> {
    match (best, now) {
        (Some(best), Some(now)) if now.expanded < best.expanded => Some(now),
        (Some(best), _) => Some(best),
        (None, now) => now,
    }
}

/// An extrapolation wider than the reading itself is none.
fn sane(reading: &Reading) -> bool {
    let value = reading.value.pa();
    value.is_finite() && value > 0.0 && reading.expanded.pa() < 0.5 * value
}
