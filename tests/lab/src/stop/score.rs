//! One run, analysed as live samples would be, and held against what was true.

use super::case::{Case, Who};
use super::{eye, truth};
use needlerest::signal::{Analyser, Event, Outcome, Rig, RunResult, Sample, Settings};
use std::fmt::Write as _;

/// How a run came out.
#[derive(Clone, Debug)]
#[expect(dead_code, reason = "some of it is only listed")]
pub struct Score {
    pub index: u64,
    pub who: Who,
    pub rig: Rig,
    pub odd: bool,
    pub wet: bool,
    pub outcome: Outcome,
    /// STOP was called, for the first time at this moment (s).
    pub called: Option<f64>,
    /// Calls taken back.
    pub withdrawn: u32,
    /// By what share the needle rises when cranking goes on as long again after that call.
    pub later: Option<f64>,
    /// The same for the plain eye.
    pub eye_later: Option<f64>,
    /// Strokes or kicks by which the call came after the eye's.
    pub late: Option<i64>,
    /// Whether the stated 95 % hold what each repeat reads.
    pub holds: Vec<bool>,
    /// Half-width of the stated 95 %, as a share of the reading.
    pub width: Option<f64>,
    /// Cut short while climbing: how many, and how many of them were called all the same.
    pub let_go: (u32, u32),
    pub rig_right: bool,
    about: String,
}

impl Score {
    /// The needle still rises by more than may be: 3 %, kicks and pulls 5 %.
    pub fn too_soon(&self) -> bool {
        self.later.is_some_and(|later| later > may_rise(self.who))
    }

    pub fn line(&self) -> String {
        format!("{self:?}")
    }
}

pub fn may_rise(who: Who) -> f64 {
    if who == Who::Kicks { 0.05 } else { 0.03 }
}

/// Analyses one run.
pub fn score(case: &Case) -> Score {
    let (result, called, withdrawn) = analyse(&case.samples, case.settings);
    let eye = eye::call(case);
    let reading = result.as_ref().and_then(|run| run.reading.as_ref());
    let (value, expanded) = reading.map_or((0.0, 0.0), |r| (r.value.pa(), r.expanded.pa()));
    let outcome = result
        .as_ref()
        .map_or(Outcome::NoReading, |run| run.outcome);
    let counts = outcome == Outcome::Settled || outcome == Outcome::AtRest;
    Score {
        index: case.index,
        who: case.who,
        rig: case.rig,
        odd: case.odd,
        wet: case.wet,
        outcome,
        called,
        withdrawn,
        later: called.map(|time| later(case, time)),
        eye_later: eye.map(|time| later(case, time)),
        late: called
            .zip(eye)
            .map(|(called, eye)| made(case, called) - made(case, eye)),
        holds: case
            .repeats
            .iter()
            .filter(|_| counts)
            .map(|again| {
                let end = again.last().map_or(0.0, |(at, _)| *at);
                let reads = truth::needle(again, case.rig, case.who, end);
                (value - reads).abs() <= expanded
            })
            .collect(),
        width: reading.map(|_| expanded / value),
        let_go: let_go(case),
        rig_right: result.and_then(|run| run.rig) == Some(case.rig),
        about: case.about.clone(),
    }
}

/// Strokes or kicks begun by then.
fn made(case: &Case, time: f64) -> i64 {
    let all = truth::chances(&case.strokes, case.who);
    all.iter().filter(|(began, _, _)| *began <= time).count() as i64
}

/// By what share the needle rises when cranking goes on from `time` for as long again.
fn later(case: &Case, time: f64) -> f64 {
    let first = case.strokes.first().map_or(0.0, |(at, _)| *at);
    let needle = |at| truth::needle(&case.strokes, case.rig, case.who, at);
    needle(2.0 * time - first) / needle(time) - 1.0
}

/// Runs cut short while the next three strokes or kicks would have lifted the needle by more than
/// 3 %: how many, and how many of them were called settled.
fn let_go(case: &Case) -> (u32, u32) {
    let (mut climbing, mut called) = (0, 0);
    for cut in &case.let_go {
        let made = &case.strokes[..cut.strokes.min(case.strokes.len())];
        let Some((end, _)) = made.last() else {
            continue;
        };
        let done = truth::chances(made, case.who).len();
        let all = truth::chances(&case.strokes, case.who);
        let Some((_, then, _)) = all.get(done + 2) else {
            continue;
        };
        let needle = |at| truth::needle(&case.strokes, case.rig, case.who, at);
        if needle(*then) / needle(*end) - 1.0 > 0.03 {
            climbing += 1;
            called += u32::from(analyse(&cut.samples, case.settings).1.is_some());
        }
    }
    (climbing, called)
}

/// The run with most strokes, when STOP was first called, and how often it was taken back.
fn analyse(samples: &[Sample], settings: Settings) -> (Option<RunResult>, Option<f64>, u32) {
    let mut analyser = Analyser::new(settings);
    let (mut events, mut called, mut withdrawn) = (Vec::new(), None, 0);
    let mut longest: Option<RunResult> = None;
    let mut now = 0.0;
    let mut take = |events: &mut Vec<Event>, now: f64| {
        for event in events.drain(..) {
            match event {
                Event::Settled { .. } => called = called.or(Some(now)),
                Event::Withdrawn { .. } => withdrawn += 1,
                Event::RunEnded(run)
                    if longest
                        .as_ref()
                        .is_none_or(|l| run.strokes.len() > l.strokes.len()) =>
                {
                    longest = Some(*run);
                }
                _ => {}
            }
        }
    };
    for sample in samples {
        now = sample.time.s();
        analyser.push(*sample, &mut events);
        take(&mut events, now);
    }
    analyser.finish(&mut events);
    take(&mut events, now);
    (longest, called, withdrawn)
}

/// What happened, event by event: of the run, and of each that was cut short.
pub fn story(case: &Case) -> String {
    let mut text = format!("the run, cranked until {:.2} s\n", case.ended);
    events(&case.samples, case.settings, &mut text);
    for cut in &case.let_go {
        let _ = writeln!(text, "let go after {} strokes", cut.strokes);
        events(&cut.samples, case.settings, &mut text);
    }
    let _ = writeln!(text, "true strokes (s, kPa)");
    for (at, shown) in &case.strokes {
        let _ = write!(text, "{at:.2} {:.1}  ", shown / 1e3);
    }
    text
}

fn events(samples: &[Sample], settings: Settings, text: &mut String) {
    let mut analyser = Analyser::new(settings);
    let mut events = Vec::new();
    for sample in samples {
        analyser.push(*sample, &mut events);
        for event in events.drain(..) {
            let at = sample.time.s();
            let _ = match event {
                Event::Stroke(s) => writeln!(
                    text,
                    "{at:8.3}   stroke at {:.3} of {:.1} kPa",
                    s.time.s(),
                    s.peak.kpa()
                ),
                Event::Counted(c) => writeln!(
                    text,
                    "{at:8.3} {:?} {} ({} unseen): needle {:.1}, heading {:.1}, to go {:?}",
                    c.turned,
                    c.made,
                    c.unseen,
                    c.needle.kpa(),
                    c.heading.kpa(),
                    c.to_go
                ),
                Event::Settled { reading, call } => {
                    writeln!(text, "{at:8.3} STOP {:.1} {call:?}", reading.value.kpa())
                }
                Event::RunEnded(run) => writeln!(text, "{at:8.3} ended {:?}", run.outcome),
                other => writeln!(text, "{at:8.3} {other:?}"),
            };
        }
    }
}
