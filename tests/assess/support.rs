//! Readings written by hand, for tests of what is made of them.

use needlerest::assess::{Assessment, RuleSet, RunInput, assess};
use needlerest::engine::{Condition, Display, JobCard};
use needlerest::signal::{
    BuildUp, Cadence, Call, Flag, Grade, Outcome, Reading, Rig, RunResult, Stroke, Turned, Zero,
};
use needlerest::units::{Pressure, PressureUnit, Rate, Time};

pub fn psi(value: f64) -> Pressure {
    Pressure::new(value, PressureUnit::Psi)
}

/// A settled run of eight strokes at a stroke rate, with an expanded uncertainty: the first
/// reaches seven tenths, and each leaves three tenths of what was left to climb.
pub fn run(value: Pressure, expanded: Pressure, strokes_hz: Option<f64>) -> RunResult {
    let strokes: Vec<Stroke> = (1..=8)
        .map(|number| Stroke {
            number,
            time: Time::from_s(f64::from(number)),
            peak: value * (1.0 - libm::pow(0.3, f64::from(number))),
            rise: value * (0.7 * libm::pow(0.3, f64::from(number) - 1.0)),
            needle: value * (1.0 - libm::pow(0.3, f64::from(number))),
            count: number,
            interval: None,
            cut_off: Pressure::ZERO,
            packets_missing: false,
            clipped: false,
        })
        .collect();
    RunResult {
        started: Time::ZERO,
        ended: Time::from_s(10.0),
        rig: Some(Rig::Holding),
        zero: Zero {
            level: Pressure::ZERO,
            standard: Pressure::ZERO,
            measured: true,
        },
        noise: Pressure::ZERO,
        strokes,
        build_up: Some(BuildUp {
            plateau: value,
            plateau_uncertainty: Pressure::ZERO,
            ratio: 0.3,
            ratio_uncertainty: 0.02,
            first_share: 0.7,
            first_share_uncertainty: 0.02,
            strokes: 8,
        }),
        turned: Turned::ByStarter,
        count: 8,
        outcome: Outcome::Settled,
        call: Some(Call {
            time: Time::from_s(6.0),
            count: 6,
            unseen: 0,
        }),
        reading: Some(Reading {
            value,
            expanded,
            expanded_relative: expanded,
            heading: None,
            budget: Vec::new(),
        }),
        cadence: strokes_hz.map(|hz| Cadence {
            median: Rate::from_hz(hz),
            slowest: Rate::from_hz(hz),
            fastest: Rate::from_hz(hz),
            unevenness: 0.02,
            pauses: 0,
        }),
        droop: None,
        flags: Vec::new(),
        grade: Grade::Good,
    }
}

/// A run in which no stroke was found.
pub fn silent() -> RunResult {
    RunResult {
        outcome: Outcome::NoReading,
        reading: None,
        build_up: None,
        cadence: None,
        strokes: Vec::new(),
        flags: vec![Flag::NoStrokes],
        ..run(psi(0.0), psi(0.0), None)
    }
}

/// Whether some line says this.
pub fn says(list: &[String], what: &str) -> bool {
    list.iter().any(|line| line.contains(what))
}

/// A session put together reading by reading.
#[derive(Default)]
pub struct Session {
    pub runs: Vec<(String, Condition, bool, RunResult)>,
}

impl Session {
    /// Readings of cylinders 1, 2, … in one condition, without any uncertainty: what a rule says
    /// of the bare numbers.
    pub fn bare(condition: Condition, readings: &[f64]) -> Self {
        Self::default().with(condition, readings, 0.0)
    }

    /// Adds readings of cylinders 1, 2, … with an expanded uncertainty, all in psi.
    pub fn with(mut self, condition: Condition, readings: &[f64], expanded: f64) -> Self {
        for (at, reading) in readings.iter().enumerate() {
            let name = (at + 1).to_string();
            let result = run(psi(*reading), psi(expanded), Some(125.0 / 60.0));
            self.runs.push((name, condition, false, result));
        }
        self
    }

    /// Adds one run.
    pub fn add(mut self, cylinder: &str, condition: Condition, result: RunResult) -> Self {
        self.runs
            .push((cylinder.to_owned(), condition, false, result));
        self
    }

    pub fn inputs(&self) -> Vec<RunInput<'_>> {
        self.runs
            .iter()
            .enumerate()
            .map(|(index, (cylinder, condition, void, result))| RunInput {
                index,
                cylinder: cylinder.clone(),
                condition: *condition,
                void: *void,
                result,
            })
            .collect()
    }

    pub fn assessed(&self, card: Option<&JobCard>) -> Assessment {
        self.assessed_by(card, &RuleSet::default())
    }

    pub fn assessed_by(&self, card: Option<&JobCard>, rules: &RuleSet) -> Assessment {
        let units = card.map_or_else(Display::default, |card| card.display);
        assess(card, &self.inputs(), rules).said(units)
    }
}

/// A card for an engine with a row of cylinders on one bank.
pub fn card(cylinders: usize, more: &str) -> JobCard {
    let head = "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Heron\"\n\
                cycle = \"four-stroke\"\n";
    let mut parts = vec![format!("{head}{more}")];
    for at in 1..=cylinders {
        let mut beside = Vec::new();
        if at > 1 {
            beside.push(format!("\"{}\"", at - 1));
        }
        if at < cylinders {
            beside.push(format!("\"{}\"", at + 1));
        }
        let beside = beside.join(", ");
        parts.push(format!(
            "[[cylinder]]\nname = \"{at}\"\nneighbours = [{beside}]\n"
        ));
    }
    JobCard::parse(&parts.join("\n")).unwrap()
}

/// Bore, stroke, ratio and closing angle of a 500 cm³ cylinder, 10:1, closing 60° after bottom
/// dead centre.
pub const REFERENCE: &str = "bore_mm = 86.0\nstroke_mm = 86.1\ncompression_ratio = 10.0\n\
                             closes_deg_abdc = 60.0\nstart = \"electric\"\n";
