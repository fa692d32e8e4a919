//! Samples in, events out.

mod cranking;
mod stretch;

use cranking::{Cranking, Phase, Seen};

use super::build_up::cadence;
use super::decide::context::Context;
use super::decide::droop::DroopWatch;
use super::decide::run::Run;
use super::find::Found;
use super::find::following::Following;
use super::find::holding::Holding;
use super::find::rig::{GONE_S, RigFinder};
use super::rest::screen::Screen;
use super::rest::{Rest, RestLevel};
use super::results::{Flag, Rig, Zero};
use super::settings::{Event, Live, Sample, Settings, State};
use crate::units::{Pressure, Time};

/// A rise must be this many standard deviations of the noise, …
const RISE_NOISE: f64 = 8.0;
/// … this many steps of the sensor, …
const RISE_STEPS: f64 = 4.0;
/// … and this share of the ambient pressure (20 kPa), to be the foot of a stroke.
const RISE_AMBIENT: f64 = 0.2;
/// Only a pulse of this share of the ambient pressure says how the sensor sits.
const RIG_AMBIENT: f64 = 0.4;
/// A rest level further than this share of the ambient pressure from the zero before it is no
/// zero: something is still held.
const NEW_ZERO: f64 = 0.03;
/// The first zero may be off by this multiple of the ambient pressure.
const FIRST_ZERO: f64 = 1.5;
/// The held pressure was let go when it falls below this share of the highest.
const BLED: f64 = 0.3;
/// On a following rig, a new run begins after so long (s) without a stroke, where the recording
/// does not say when one begins. Kick-starts pause for many seconds; moving the sensor to the
/// next cylinder takes longer.
pub const FOLLOWING_RUN_GAP_S: f64 = 45.0;
/// So many strokes of a run show how the sensor sits better than a single odd pulse later on.
const SURE_OF_RIG: u32 = 3;
/// Samples that are looked at together where nothing happens.
const STRETCH: usize = 16;
/// Nothing came of a rise for this long (s): it was no stroke.
const FALSE_START_S: f64 = 3.0;

/// Turns a sensor's samples into strokes, the stop decision and run results. Streaming: the work
/// and the memory for a sample do not grow with the length of the recording; the strokes of the
/// run in hand are kept up to [`super::STROKES_KEPT`].
#[derive(Clone, Debug)]
pub struct Analyser {
    settings: Settings,
    screen: Screen,
    zero: Zero,
    noise: f64,
    rig: Option<Rig>,
    period: Period,
    phase: Phase,
    run: Run,
    runs_ended: u32,
    before: Option<(f64, f64)>,
    paused: bool,
    unzeroed_told: bool,
    clipped_told: bool,
}

/// Mean time between samples.
#[derive(Clone, Copy, Debug, Default)]
struct Period {
    given: Option<f64>,
    mean: f64,
    n: u32,
}

impl Period {
    fn push(&mut self, step: f64) {
        if self.n < 256 {
            self.n += 1;
            self.mean += (step - self.mean) / f64::from(self.n);
        }
    }
    /// Further samples change it no more.
    fn is_known(&self) -> bool {
        self.n == 256
    }
    fn get(&self) -> f64 {
        self.given.unwrap_or(self.mean)
    }
}

impl Analyser {
    /// Begins a recording.
    pub fn new(settings: Settings) -> Self {
        let assumed = if settings.absolute {
            settings.ambient
        } else {
            Pressure::ZERO
        };
        Self {
            screen: Screen::new(&settings),
            zero: Zero {
                level: assumed,
                // A weather map's spread, or as well as a gauge sensor keeps its zero.
                standard: settings.ambient * 0.02,
                measured: false,
            },
            noise: 0.0,
            rig: settings.rig,
            period: Period {
                given: settings
                    .sample_period
                    .map(Time::s)
                    .filter(|s| s.is_finite() && *s > 0.0),
                ..Period::default()
            },
            phase: Phase::Resting(Rest::default()),
            run: Run::new(false),
            runs_ended: 0,
            before: None,
            paused: false,
            unzeroed_told: false,
            clipped_told: false,
            settings,
        }
    }

    /// Takes samples, in order, up to the first that brings something, and adds that to `events`;
    /// gives how many it took. The same as [`Self::push`] one by one, but quicker.
    pub fn push_all(&mut self, samples: &[Sample], events: &mut Vec<Event>) -> usize {
        let told = events.len();
        let mut taken = 0;
        for stretch in samples.chunks(STRETCH) {
            let passed = self.pass_over(stretch, events);
            taken += passed;
            for sample in stretch.iter().skip(passed) {
                if events.len() > told {
                    return taken;
                }
                self.push(*sample, events);
                taken += 1;
            }
            if events.len() > told {
                return taken;
            }
        }
        taken
    }

    /// Takes the next sample and adds what it brings to `events`.
    pub fn push(&mut self, sample: Sample, events: &mut Vec<Event>) {
        if !self.screen.passes(&sample) {
            self.run.refused_samples += 1;
            return;
        }
        let (t, raw) = (sample.time.s(), sample.pressure.pa());
        if let Some((last, _)) = self.before {
            self.period.push(t - last);
        }
        self.run.started.get_or_insert(t);
        self.run.ended = t;
        if sample.clipped || self.at_the_end(raw) {
            self.run.clipped_samples += 1;
            if !self.clipped_told {
                self.clipped_told = true;
                events.push(Event::Flagged(Flag::Clipped { samples: 1 }));
            }
        }
        match &self.phase {
            Phase::Resting(_) => self.rest(&sample, events),
            Phase::Cranking(_) => self.crank(&sample, events),
        }
        self.before = Some((t, raw));
    }

    /// Whether the sensor is at the upper end of its range.
    fn at_the_end(&self, raw: f64) -> bool {
        self.settings
            .range_max
            .is_some_and(|range| raw >= range.pa() - 0.5 * self.settings.resolution.pa())
    }

    fn rest(&mut self, sample: &Sample, events: &mut Vec<Event>) {
        let (t, raw) = (sample.time.s(), sample.pressure.pa());
        let Phase::Resting(rest) = &mut self.phase else {
            return;
        };
        let Some((level, noise)) = rest.so_far(0.1 * self.settings.ambient.pa()) else {
            rest.push(t, raw);
            return;
        };
        let floor = floor_of(&self.settings, noise.max(self.noise));
        if raw - level > floor {
            self.start_cranking(sample, events);
        } else if level - raw > floor {
            // Something was still held, and is being let go; or the piston goes down.
            let mut lower = Rest::default();
            lower.push(t, raw);
            self.take_zero(events);
            self.phase = Phase::Resting(lower);
        } else {
            let was_known = rest.settled();
            rest.push(t, raw);
            if !was_known && rest.settled() {
                self.take_zero(events);
            }
        }
    }

    /// What resolution alone leaves as noise.
    fn noise_floor(&self) -> f64 {
        self.settings.resolution.pa() / 12.0_f64.sqrt()
    }

    fn take_zero(&mut self, events: &mut Vec<Event>) {
        let floor = self.noise_floor();
        let Phase::Resting(rest) = &self.phase else {
            return;
        };
        let Some(RestLevel {
            level,
            standard,
            noise,
        }) = rest.level(floor)
        else {
            return;
        };
        let ambient = self.settings.ambient.pa();
        let off = level - self.zero.level.pa();
        // Before the first stroke, a lower level shows that something was held until then: the
        // engine stood in a compression, or was turned slowly against one.
        let unused = self.runs_ended == 0 && self.run.strokes() == 0;
        let allowed = if self.zero.measured && !(unused && off < 0.0) {
            NEW_ZERO
        } else {
            FIRST_ZERO
        } * ambient;
        if off.abs() > allowed.max(5.0 * noise) {
            return;
        }
        let first = !self.zero.measured;
        self.noise = noise;
        self.zero = Zero {
            level: Pressure::from_pa(level),
            standard: Pressure::from_pa(standard),
            measured: true,
        };
        if first {
            events.push(Event::Zeroed(self.zero));
        }
    }

    fn start_cranking(&mut self, sample: &Sample, events: &mut Vec<Event>) {
        self.take_zero(events);
        if !self.zero.measured && !self.unzeroed_told {
            self.unzeroed_told = true;
            events.push(Event::Flagged(Flag::NotZeroed));
        }
        let noise = self.noise.max(self.noise_floor());
        let floor = floor_of(&self.settings, noise);
        let before = self.before;
        let zero = self.zero.level.pa();
        let from = before.map_or(0.0, |(_, raw)| raw - zero);
        let mut cranking = Cranking {
            since: sample.time.s(),
            floor,
            finder: RigFinder::new(floor.max(RIG_AMBIENT * self.settings.ambient.pa())),
            following: Following::new(floor, noise, self.settings.ambient.pa()),
            holding: Holding::new(
                from,
                noise,
                self.settings.resolution.pa(),
                self.period.get(),
            ),
            droop: DroopWatch::default(),
            waiting_following: Vec::new(),
            waiting_holding: Vec::new(),
            last_stroke: None,
        };
        // The sample before the rise: without it a stroke of one sample has no left flank.
        if let Some((t, raw)) = before {
            cranking.following.push(t, raw - zero, false, false);
        }
        self.phase = Phase::Cranking(Box::new(cranking));
        self.crank(sample, events);
    }

    fn crank(&mut self, sample: &Sample, events: &mut Vec<Event>) {
        let t = sample.time.s();
        let x = sample.pressure.pa() - self.zero.level.pa();
        let clipped = sample.clipped || self.at_the_end(sample.pressure.pa());
        let (rig, sought) = (self.rig, self.settings.rig.is_none());
        let Phase::Cranking(cranking) = &mut self.phase else {
            return;
        };
        let seen = cranking.look(rig, sought, (t, x), sample.gap_before, clipped);
        self.act(seen, events);
        self.afterwards(t, x, events);
    }

    fn act(&mut self, seen: Seen, events: &mut Vec<Event>) {
        match seen {
            Seen {
                other_rig: Some(rig),
                ..
            } if self.rig.is_none() || self.run.strokes() < SURE_OF_RIG => {
                self.recognise(rig, events);
            }
            Seen {
                stroke: Some(found),
                ..
            } => self.stroke(&found, events),
            _ => {}
        }
    }

    fn recognise(&mut self, rig: Rig, events: &mut Vec<Event>) {
        if self.rig.replace(rig).is_some() {
            // What was taken for strokes of the other rig was none.
            self.run.restart();
        }
        events.push(Event::RigRecognised(rig));
        let Phase::Cranking(cranking) = &mut self.phase else {
            return;
        };
        let waiting = match rig {
            Rig::Following => std::mem::take(&mut cranking.waiting_following),
            Rig::Holding => std::mem::take(&mut cranking.waiting_holding),
        };
        for found in &waiting {
            self.stroke(found, events);
        }
    }

    fn stroke(&mut self, found: &Found, events: &mut Vec<Event>) {
        self.paused = false;
        let (run, context) = self.run_in_context();
        run.push(found, &context, events);
        if let Phase::Cranking(cranking) = &mut self.phase {
            cranking.last_stroke = Some(found.time);
            cranking.droop.interrupt();
        }
    }

    /// What the passing of time and a falling pressure bring.
    fn afterwards(&mut self, t: f64, x: f64, events: &mut Vec<Event>) {
        let Phase::Cranking(cranking) = &mut self.phase else {
            return;
        };
        let last = cranking.last_stroke;
        let quiet = t - last.unwrap_or(cranking.since);
        if self.rig == Some(Rig::Holding) {
            let held = cranking.holding.highest();
            if last.is_some_and(|last| self.settings.rig.is_none() && t - last < GONE_S)
                && self.run.strokes() == 1
                && x < BLED * held
            {
                // One rise that is gone at once was no step.
                self.recognise(Rig::Following, events);
                return;
            }
            if last.is_some() && x < BLED * held {
                events.push(Event::Bled {
                    held: Pressure::from_pa(held),
                });
                self.end_run(events);
                return;
            }
            cranking.droop.push(t, x);
        }
        if t >= self.run.next_look && !self.settings.strokes_only {
            self.look(t, events);
        }
        let Phase::Cranking(cranking) = &mut self.phase else {
            return;
        };
        if last.is_none() {
            if quiet > FALSE_START_S && x < cranking.floor {
                self.phase = Phase::Resting(Rest::default());
            }
            return;
        }
        if self.rig == Some(Rig::Following) && quiet > FOLLOWING_RUN_GAP_S && !self.run.explicit {
            self.end_run(events);
            return;
        }
        if !self.paused && !self.run.settled() && quiet > cadence::PAUSE_LEAST_S {
            let longest = cadence::pause_after(self.run.usual_interval());
            if quiet > longest {
                self.paused = true;
                events.push(Event::Paused {
                    strokes: self.run.strokes(),
                });
            }
        }
    }

    /// Looks at where the needle stands, because a stroke would have been due.
    fn look(&mut self, t: f64, events: &mut Vec<Event>) {
        let (run, context) = self.run_in_context();
        run.look(t, &context, events);
    }

    /// The run in the making, and what it needs to know.
    fn run_in_context(&mut self) -> (&mut Run, Context<'_>) {
        let Self {
            run,
            settings,
            rig,
            zero,
            noise,
            ..
        } = self;
        let context = Context {
            settings,
            rig: *rig,
            zero: *zero,
            noise: *noise,
        };
        (run, context)
    }

    /// A run begins here, says the recording.
    pub fn begin_run(&mut self, events: &mut Vec<Event>) {
        if self.run.explicit || self.run.strokes() > 0 {
            self.end_run(events);
        }
        self.run = Run::new(true);
        if let Phase::Cranking(_) = self.phase {
            self.phase = Phase::Resting(Rest::default());
        }
    }

    /// The recording is over.
    pub fn finish(&mut self, events: &mut Vec<Event>) {
        let anything = self.run.started.is_some() && self.runs_ended == 0;
        if self.run.explicit || self.run.strokes() > 0 || anything {
            self.end_run(events);
        }
    }

    fn end_run(&mut self, events: &mut Vec<Event>) {
        let mut droop = None;
        let rounding = self.noise_floor();
        if let Phase::Cranking(cranking) = &mut self.phase {
            if self.rig.is_none() {
                // Too little to tell; a single rise that was never seen to fall was at least held.
                for found in std::mem::take(&mut cranking.waiting_holding) {
                    let Self {
                        run,
                        settings,
                        zero,
                        noise,
                        ..
                    } = self;
                    let context = Context {
                        settings,
                        rig: None,
                        zero: *zero,
                        noise: *noise,
                    };
                    run.push(&found, &context, events);
                }
            }
            if let Phase::Cranking(cranking) = &mut self.phase {
                cranking.droop.interrupt();
                droop = cranking.droop.droop(self.noise, rounding);
            }
        }
        let run = std::mem::replace(&mut self.run, Run::new(false));
        let context = Context {
            settings: &self.settings,
            rig: self.rig,
            zero: self.zero,
            noise: self.noise,
        };
        events.push(Event::RunEnded(Box::new(run.end(&context, droop))));
        self.runs_ended += 1;
        self.paused = false;
        self.clipped_told = false;
        self.phase = Phase::Resting(Rest::default());
    }

    /// Where things stand, for a gauge.
    pub fn live(&self) -> Live {
        let strokes = self.run.strokes();
        let state = if self.run.settled() {
            State::Settled
        } else if strokes > 0 {
            if self.paused {
                State::Paused
            } else {
                State::Climbing
            }
        } else if self.zero.measured {
            State::Ready
        } else {
            State::SeekingZero
        };
        let zero = self.zero.level;
        let context = Context {
            settings: &self.settings,
            rig: self.rig,
            zero: self.zero,
            noise: self.noise,
        };
        Live {
            state,
            time: self.before.map(|(t, _)| Time::from_s(t)),
            pressure: self.before.map(|(_, raw)| Pressure::from_pa(raw) - zero),
            rig: self.rig,
            strokes,
            last: self.run.last().map(|stroke| stroke.peak),
            needle: self.run.last().map(|stroke| stroke.needle),
            count: self.run.count(&context),
            cadence: self.run.cadence(),
        }
    }
}

/// Smallest rise that counts as a stroke's foot.
fn floor_of(settings: &Settings, noise: f64) -> f64 {
    (RISE_NOISE * noise)
        .max(RISE_STEPS * settings.resolution.pa())
        .max(RISE_AMBIENT * settings.ambient.pa())
}
