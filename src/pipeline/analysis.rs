//! From runs to findings, and from a whole recording to findings.

use super::by_hand::ByHand;
use super::findings::{Findings, RecordingFacts, Run, SensorFacts};
use super::samples::MOST_SAMPLES;
use super::soundness::Soundness;
use super::stream::{MOST_RUNS, MOST_STROKES, Pipeline};
use super::trace::Trace;
use crate::assess::{RunInput, assess_with_air};
use crate::units::{Pressure, Time};

/// The findings and what is drawn beside them.
#[derive(Clone, Debug)]
pub struct Analysis {
    /// Everything a report needs.
    pub findings: Findings,
    /// Pressure against time, one a run.
    pub traces: Vec<Trace>,
}

impl Pipeline {
    /// Ends the last run and assesses them all.
    pub fn finish(mut self, soundness: Soundness) -> Analysis {
        self.end(&mut Vec::new());
        let findings = self.findings(soundness);
        Analysis {
            findings,
            traces: self.traces,
        }
    }

    /// What the runs so far amount to.
    pub fn findings(&self, soundness: Soundness) -> Findings {
        let inputs = inputs(&self.runs);
        Findings {
            format: Findings::FORMAT.to_owned(),
            version: Findings::VERSION,
            tool: env!("CARGO_PKG_VERSION").to_owned(),
            recording: RecordingFacts {
                started: self.header.started.clone(),
                duration: Time::from_us(self.last_us),
                seal: soundness.seal,
                seal_holds: soundness.seal_holds,
                damaged_lines: soundness.damaged_lines,
                missing_lines: soundness.missing_lines,
                damage: soundness.damage,
                notes: self.notes(),
            },
            sensor: self.sensor_facts(),
            set_by_hand: ByHand::of(&self.options),
            card: self.card.clone(),
            assessment: assess_with_air(self.card.as_ref(), &inputs, &self.air, &self.rules)
                .said(self.units),
            air: self.air.clone(),
            runs: self.runs.clone(),
        }
    }

    /// The notes, and what was left out.
    fn notes(&self) -> Vec<String> {
        let mut notes = self.notes.clone();
        if self.full {
            let kept = self.runs.len();
            notes.push(format!(
                "The recording holds more than {MOST_RUNS} runs or {MOST_STROKES} strokes: what \
                 came after run {kept} is left out."
            ));
        }
        if self.collector.full {
            notes.push(format!(
                "The recording holds more than {MOST_SAMPLES} samples: later runs are listed \
                 without theirs."
            ));
        }
        if self.notes_left_out > 0 {
            let (kept, more) = (self.notes.len(), self.notes_left_out);
            notes.push(format!(
                "The recording holds more notes and marks than are kept: after the first {kept}, \
                 {more} are left out."
            ));
        }
        notes
    }

    fn sensor_facts(&self) -> SensorFacts {
        let reading = |run: &Run| Some(run.result.reading.as_ref()?.value);
        let readings = || self.runs.iter().map(reading);
        SensorFacts {
            name: self.header.sensor.name.clone(),
            protocol: self.protocol.name().to_owned(),
            accuracy: self.protocol.accuracy_text(),
            correction: self
                .correction_facts
                .as_ref()
                .map(|facts| facts.with_readings(readings())),
            range_max: self
                .protocol
                .range_high()
                .filter(|high| *high > Pressure::ZERO),
            samples_per_s: self.samples_per_s(),
            packets: self.packet_counts(),
            link: self.link.clone(),
        }
    }
}

/// The runs as the assessment takes them.
pub fn inputs(runs: &[Run]) -> Vec<RunInput<'_>> {
    let numbered = runs.iter().enumerate();
    numbered
        .map(|(index, run)| RunInput {
            index,
            cylinder: run.cylinder.clone(),
            condition: run.condition,
            void: run.void,
            result: &run.result,
        })
        .collect()
}
