//! Many sessions beside each other: one row a recording, and how plateaus, strokes to settle and
//! links are spread over all of them.

mod distribution;
mod output;
mod text;

pub use distribution::Distribution;
pub use output::outputs;
pub use text::text;

use super::{damage, view, words};
use crate::assess::{CylinderReading, Judgement};
use crate::engine::Condition;
use crate::pipeline::Findings;
use crate::units::Pressure;
use serde::Serialize;

/// What `format` says in an overview.
pub const FORMAT: &str = "needlerest-overview";

/// A folder of recordings at a glance.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Overview {
    /// Always [`FORMAT`].
    pub format: &'static str,
    /// Version of the format; 1.
    pub version: u32,
    /// Version of the program.
    pub tool: &'static str,
    /// One a recording: by engine, then by date.
    pub sessions: Vec<Session>,
    /// Recordings that could not be read.
    pub failed: Vec<Failed>,
    /// Readings, in pascal.
    pub plateaus_pa: Option<Distribution>,
    /// Strokes until a reading had settled.
    pub strokes_to_settle: Option<Distribution>,
    /// Packets lost of ten thousand sent, by recording.
    pub lost_per_10000: Option<Distribution>,
}

/// A recording that could not be read, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Failed {
    /// Its file name.
    pub file: String,
    /// Why.
    pub why: String,
}

/// One recording's row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Session {
    /// Its file name.
    pub file: String,
    /// The engine's label.
    pub engine: String,
    /// When recording began.
    pub started: String,
    /// Cylinders with a reading.
    pub cylinders: usize,
    /// The lowest reading in the condition that tells most: warm, else cold.
    pub worst: Option<Worst>,
    /// Lowest over highest in that condition.
    pub spread: Option<Spread>,
    /// The engine's score.
    pub score: Option<f64>,
    /// Its expanded uncertainty.
    pub score_expanded: Option<f64>,
    /// Against the last session before with the same cylinders of an engine of the same label.
    pub change: Option<Change>,
    /// Overall judgement.
    pub judgement: Judgement,
    /// The verdict.
    pub verdict: String,
    /// The recording is sealed and the seal holds.
    pub sealed: bool,
    /// What is the matter with the recording, one sentence each.
    pub damage: Vec<String>,
    /// Its readings were corrected by a check against a gauge: the day of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub corrected: Option<String>,
    /// For the distributions.
    #[serde(skip)]
    data: Data,
}

/// The lowest reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worst {
    /// Its cylinder.
    pub cylinder: String,
    /// Its condition.
    pub condition: Condition,
    /// The reading.
    #[serde(rename = "value_pa")]
    pub value: Pressure,
    /// Its expanded uncertainty.
    #[serde(rename = "expanded_pa")]
    pub expanded: Pressure,
}

/// Lowest over highest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// 0 to 1.
    pub share: f64,
    /// Expanded uncertainty.
    pub expanded: f64,
    /// By the rule set's rule of comparison.
    pub judgement: Judgement,
}

/// Change of the score since the session before.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// When that was.
    pub since: String,
    /// New score minus old.
    pub score: f64,
    /// Expanded uncertainty of the difference, the two taken as independent.
    pub expanded: f64,
}

#[derive(Clone, Debug, Default, PartialEq)]
struct Data {
    plateaus_pa: Vec<u64>,
    strokes: Vec<u64>,
    lost_per_10000: Option<u64>,
    /// There is a job card, so that the label says which engine it is.
    identified: bool,
    /// The cylinders that have a reading in the telling condition.
    read: Vec<String>,
}

impl Session {
    /// The row of one recording.
    pub fn new(file: &str, findings: &Findings) -> Self {
        let assessment = &findings.assessment;
        let condition = telling(findings);
        let readings = |condition: Condition| {
            let cylinders = assessment.cylinders.iter();
            cylinders.flat_map(move |cylinder| {
                let readings = cylinder.readings.iter();
                readings
                    .filter(move |reading| reading.condition == condition)
                    .map(move |reading| (cylinder.name.as_str(), reading))
            })
        };
        let lowest = |a: &(&str, &CylinderReading), b: &(&str, &CylinderReading)| {
            a.1.value.pa().total_cmp(&b.1.value.pa())
        };
        let worst = condition.and_then(|c| readings(c).min_by(lowest));
        let compared = assessment.comparisons.iter();
        let spread = compared
            .into_iter()
            .find(|c| Some(c.condition) == condition);
        Self {
            file: file.to_owned(),
            engine: engine(file, findings),
            started: findings.recording.started.clone(),
            cylinders: assessment
                .cylinders
                .iter()
                .filter(|c| !c.readings.is_empty())
                .count(),
            worst: worst.map(|(name, reading)| Worst {
                cylinder: name.to_owned(),
                condition: reading.condition,
                value: reading.value,
                expanded: reading.expanded,
            }),
            spread: spread.map(|c| Spread {
                share: c.share,
                expanded: c.share_expanded,
                judgement: c.judgement,
            }),
            score: assessment.score,
            score_expanded: assessment.score_expanded,
            change: None,
            judgement: assessment.judgement,
            verdict: assessment.verdict.clone(),
            sealed: findings.recording.seal_holds,
            damage: damage(&findings.recording),
            corrected: findings
                .sensor
                .correction
                .as_ref()
                .map(|by| by.date.clone()),
            data: Data {
                identified: findings.card.is_some(),
                read: condition.map_or_else(Vec::new, |c| {
                    readings(c).map(|(name, _)| name.to_owned()).collect()
                }),
                ..data(findings)
            },
        }
    }

    /// Whether both were read of the same cylinders of the same engine in the same condition, so
    /// that a change of the score is one of the engine.
    fn compares_with(&self, other: &Self) -> bool {
        let condition = |session: &Self| session.worst.as_ref().map(|worst| worst.condition);
        self.data.identified
            && self.engine == other.engine
            && condition(self) == condition(other)
            && self.data.read == other.data.read
    }
}

/// What the engine is called. Without a job card nothing says that two recordings are of one engine.
fn engine(file: &str, findings: &Findings) -> String {
    let label = view::label(findings);
    match findings.card {
        Some(_) => label,
        None => format!("{label}: {}", words::clean(file)),
    }
}

/// Warm readings are what manuals give limits for; cold ones serve where there are none.
fn telling(findings: &Findings) -> Option<Condition> {
    let made = view::conditions(findings);
    [Condition::WarmDry, Condition::ColdDry, Condition::Wet]
        .into_iter()
        .find(|condition| made.contains(condition))
}

fn data(findings: &Findings) -> Data {
    let counted = findings.runs.iter().filter(|run| !run.void);
    let calls = counted.clone().filter_map(|run| run.result.call);
    let readings: Vec<_> = counted
        .filter_map(|run| run.result.reading.as_ref())
        .collect();
    let packets = &findings.sensor.packets;
    let sent = packets.received + packets.lost;
    Data {
        plateaus_pa: readings
            .iter()
            .map(|r| r.value.pa().max(0.0) as u64)
            .collect(),
        strokes: calls.map(|call| u64::from(call.count)).collect(),
        lost_per_10000: (sent > 0).then(|| packets.lost.saturating_mul(10_000) / sent),
        ..Data::default()
    }
}

impl Overview {
    /// Puts the sessions in order and beside each other.
    pub fn new(mut sessions: Vec<Session>, mut failed: Vec<Failed>) -> Self {
        let order = |s: &Session| (s.engine.clone(), s.started.clone(), s.file.clone());
        sessions.sort_by_key(order);
        failed.sort_by(|a, b| a.file.cmp(&b.file));
        for n in 1..sessions.len() {
            let (before, after) = sessions.split_at_mut(n);
            if let Some(new) = after.first_mut() {
                let last = before.iter().rev().find(|old| new.compares_with(old));
                new.change = last.and_then(|old| change(old, new));
            }
        }
        let all = |values: fn(&Data) -> Vec<u64>| {
            Distribution::of(sessions.iter().flat_map(|session| values(&session.data)))
        };
        Self {
            format: FORMAT,
            version: 1,
            tool: env!("CARGO_PKG_VERSION"),
            plateaus_pa: all(|data| data.plateaus_pa.clone()),
            strokes_to_settle: all(|data| data.strokes.clone()),
            lost_per_10000: all(|data| data.lost_per_10000.into_iter().collect()),
            sessions,
            failed,
        }
    }
}

fn change(old: &Session, new: &Session) -> Option<Change> {
    let (before, after) = (old.score?, new.score?);
    let expanded = libm::hypot(
        old.score_expanded.unwrap_or(0.0),
        new.score_expanded.unwrap_or(0.0),
    );
    Some(Change {
        since: old.started.clone(),
        score: after - before,
        expanded,
    })
}
