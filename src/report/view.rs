//! The findings as they are shown: one place where numbers become text, so that terminal, page
//! and PDF never differ.

use super::words;
use crate::assess::{CylinderAssessment, CylinderReading, Finding, Judgement, Role};
use crate::engine::{Condition, Display};
use crate::pipeline::Findings;
use crate::units::{Pressure, PressureUnit};
use serde::{Deserialize, Serialize};

/// The units in which pressures are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Units {
    /// The unit of every pressure.
    pub main: PressureUnit,
    /// A second one, shown beside the readings.
    pub also: Option<PressureUnit>,
}

impl From<Display> for Units {
    fn from(display: Display) -> Self {
        Self {
            main: display.unit,
            also: display.with(None, None).also,
        }
    }
}

impl Units {
    /// What was asked for by hand, else what the job card asks for, else psi alone.
    pub fn of(findings: &Findings) -> Self {
        let card = findings.card.as_ref();
        let by_card = card.map_or_else(Self::default, |card| card.display.into());
        by_card.with(findings.set_by_hand.unit, findings.set_by_hand.also)
    }

    /// With the units that are given instead.
    #[must_use]
    pub fn with(self, main: Option<PressureUnit>, also: Option<PressureUnit>) -> Self {
        let (unit, second) = (self.main, self.also);
        let by_card = Display { unit, also: second };
        by_card.with(main, also).into()
    }
}

/// A number as shown, the value it was made from, and where in the findings that stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Number {
    /// As shown, without unit.
    pub text: String,
    /// The value in the findings (SI, or as the field says).
    pub value: f64,
    /// JSON pointer (RFC 6901) into the findings.
    pub from: String,
}

impl Number {
    /// A pressure in the given unit.
    pub fn pressure(value: Pressure, unit: PressureUnit, from: String) -> Self {
        Self {
            text: value.digits(unit),
            value: value.pa(),
            from,
        }
    }
    /// A small pressure: one decimal more than a reading has, and more (up to four) where its
    /// first two digits would not be seen otherwise.
    pub fn pressure_fine(value: Pressure, unit: PressureUnit, from: String) -> Self {
        let usual = value.digits(unit);
        let least = usual.split_once('.').map_or(0, |(_, after)| after.len()) + 1;
        let shown = value.to(unit);
        let decimals = (least..least + 3)
            .find(|decimals| shown.abs() * libm::pow(10.0, *decimals as f64) >= 10.0)
            .unwrap_or(least + 3);
        let decimals = if shown == 0.0 { least } else { decimals };
        let text = format!("{shown:.decimals$}");
        let nothing = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
        let text = if nothing {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        };
        Self {
            text,
            value: value.pa(),
            from,
        }
    }
    /// A share (0 to 1) as per cent without decimals. Never rounded up to 100.
    pub fn percent(value: f64, from: String) -> Self {
        let rounded = format!("{:.0}", value * 100.0);
        let text = if value < 1.0 && rounded == "100" {
            format!("{:.1}", (value * 1000.0).floor() / 10.0)
        } else {
            rounded
        };
        Self { text, value, from }
    }
    /// A probability (0 to 1) as per cent: near 0 or 1 a bound, never a certainty.
    pub fn probability(value: f64, from: String) -> Self {
        let text = match value {
            v if v > 0.99 => "over 99".to_owned(),
            v if v < 0.01 => "under 1".to_owned(),
            v => format!("{:.0}", v * 100.0),
        };
        Self { text, value, from }
    }
    /// A share (0 to 1) as per cent with one decimal.
    pub fn tenth(value: f64, from: String) -> Self {
        let text = format!("{:.1}", value * 100.0);
        Self { text, value, from }
    }
    /// A plain number with so many decimals.
    pub fn plain(value: f64, decimals: usize, from: String) -> Self {
        let text = format!("{value:.decimals$}");
        Self { text, value, from }
    }
}

/// A pressure with its uncertainty, in both units where a second one is asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measured {
    /// The value in the main unit.
    pub value: Number,
    /// Expanded uncertainty (k = 2) in the main unit.
    pub expanded: Number,
    /// The same pair in the second unit, and that unit.
    pub also: Option<(Number, Number, String)>,
}

impl Measured {
    fn new(value: (Pressure, &str), expanded: (Pressure, &str), units: Units) -> Self {
        let pair = |unit| {
            (
                Number::pressure(value.0, unit, value.1.to_owned()),
                Number::pressure(expanded.0, unit, expanded.1.to_owned()),
            )
        };
        let also = units.also.map(|unit| {
            let (value, expanded) = pair(unit);
            (value, expanded, unit.to_string())
        });
        let (value, expanded) = pair(units.main);
        Self {
            value,
            expanded,
            also,
        }
    }
}

/// A reading in the table of cylinders.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// The run it comes from.
    pub run: usize,
    /// The reading.
    pub reading: Measured,
    /// Share of the highest in the same condition, in per cent.
    pub share: Option<Number>,
    /// Computed beyond the last stroke.
    pub at_least: bool,
    /// The run's grade, where it is not good.
    pub grade: Option<&'static str>,
    /// The word and the sign of a limit that this reading does not keep for certain.
    pub broken: Option<(&'static str, &'static str)>,
}

/// A cylinder's line in the table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Its name, cleaned.
    pub name: String,
    /// One list for each condition of [`CylinderTable::conditions`].
    pub cells: Vec<Vec<Cell>>,
    /// Its score, 0 to 100.
    pub score: Option<Number>,
    /// Expanded uncertainty of the score.
    pub score_expanded: Option<Number>,
    /// Most probable cause, and its probability in per cent.
    pub cause: Option<(&'static str, Number)>,
}

#[cfg(feature = "pdf")]
impl Cell {
    /// In lines of text.
    pub fn lines(&self, unit: &str) -> Vec<String> {
        let reading = &self.reading;
        let mut lines = vec![format!(
            "{} ± {} {unit}",
            reading.value.text, reading.expanded.text
        )];
        if let Some((value, expanded, unit)) = &reading.also {
            lines.push(format!("{} ± {} {unit}", value.text, expanded.text));
        }
        lines.extend(
            self.share
                .as_ref()
                .map(|share| format!("{} % of highest", share.text)),
        );
        lines.extend(self.broken.map(|(word, sign)| format!("{sign} {word}")));
        lines.extend(self.at_least.then(|| "at least: climbing".to_owned()));
        lines.extend(self.grade.map(|grade| format!("{grade} test")));
        lines
    }
}

impl Row {
    /// Score and its uncertainty, or a dash.
    pub fn score_text(&self) -> String {
        match (&self.score, &self.score_expanded) {
            (Some(score), Some(expanded)) => format!("{} ± {}", score.text, expanded.text),
            (Some(score), None) => score.text.clone(),
            (None, _) => "–".to_owned(),
        }
    }
    /// Most probable cause and its probability, or nothing.
    pub fn cause_text(&self) -> String {
        self.cause
            .as_ref()
            .map_or_else(String::new, |(word, probability)| {
                format!("{word} ({} %)", probability.text)
            })
    }
}

/// How the cylinders of one condition compare.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// Lowest over highest in per cent.
    pub share: Number,
    /// Its expanded uncertainty in percentage points.
    pub expanded: Number,
    /// The judgement in words.
    pub judgement: &'static str,
    /// The judgement's sign.
    pub sign: &'static str,
}

/// The table of cylinders.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CylinderTable {
    /// Label of the engine, cleaned; or what stands for one.
    pub label: String,
    /// Conditions that were tested, in their order.
    pub conditions: Vec<&'static str>,
    /// Unit of the readings.
    pub unit: String,
    /// Second unit.
    pub also: Option<String>,
    /// The overall judgement in words, and its sign.
    pub judgement: (&'static str, &'static str),
    /// The verdict, cleaned.
    pub verdict: String,
    /// The engine's score and its expanded uncertainty.
    pub score: Option<Number>,
    /// Expanded uncertainty of the score.
    pub score_expanded: Option<Number>,
    /// One a cylinder.
    pub rows: Vec<Row>,
    /// One for each condition; none where there was nothing to compare.
    pub spreads: Vec<Option<Spread>>,
}

impl CylinderTable {
    /// Puts the findings' main table into words.
    pub fn new(findings: &Findings, units: Units) -> Self {
        let tested = conditions(findings);
        let assessment = &findings.assessment;
        let rows = assessment
            .cylinders
            .iter()
            .enumerate()
            .map(|(index, cylinder)| row(findings, index, cylinder, &tested, units))
            .collect();
        let score = scores(assessment.score, assessment.score_expanded, "/assessment");
        let spreads = tested.iter().map(|c| spread(findings, *c)).collect();
        Self {
            label: label(findings),
            conditions: tested.iter().map(|c| c.label()).collect(),
            unit: units.main.to_string(),
            also: units.also.map(|unit| unit.to_string()),
            judgement: both(assessment.judgement),
            verdict: words::clean(&assessment.verdict),
            score: score.0,
            score_expanded: score.1,
            rows,
            spreads,
        }
    }
}

/// What the engine is called, cleaned.
pub fn label(findings: &Findings) -> String {
    findings.card.as_ref().map_or_else(
        || "Engine without a job card".to_owned(),
        |card| words::clean(&card.engine.label),
    )
}

/// The conditions in which a run that counts was made, in their order.
pub fn conditions(findings: &Findings) -> Vec<Condition> {
    Condition::ALL
        .into_iter()
        .filter(|wanted| {
            findings
                .runs
                .iter()
                .any(|run| !run.void && run.condition == *wanted)
        })
        .collect()
}

fn both(judgement: Judgement) -> (&'static str, &'static str) {
    (
        words::judgement(judgement),
        words::judgement_sign(judgement),
    )
}

/// A score and its uncertainty, with a decimal where without one the uncertainty would vanish.
fn scores(score: Option<f64>, expanded: Option<f64>, at: &str) -> (Option<Number>, Option<Number>) {
    let decimals = usize::from(expanded.is_some_and(|e| e > 0.0 && e < 0.95));
    let number = |value: Option<f64>, name: &str| {
        value.map(|value| Number::plain(value, decimals, format!("{at}/{name}")))
    };
    (number(score, "score"), number(expanded, "score_expanded"))
}

fn row(
    findings: &Findings,
    index: usize,
    cylinder: &CylinderAssessment,
    tested: &[Condition],
    units: Units,
) -> Row {
    let at = format!("/assessment/cylinders/{index}");
    let cells = tested
        .iter()
        .map(|condition| {
            cylinder
                .readings
                .iter()
                .enumerate()
                .filter(|(_, reading)| reading.condition == *condition)
                .map(|(n, reading)| {
                    let broken = broken(findings, &cylinder.name, *condition).map(both);
                    let cell = cell(findings, reading, &format!("{at}/readings/{n}"), units);
                    Cell { broken, ..cell }
                })
                .collect()
        })
        .collect();
    let cause = cylinder.causes.first().map(|cause| {
        let from = format!("{at}/causes/0/probability");
        (
            words::cause(cause.kind),
            Number::probability(cause.probability, from),
        )
    });
    let score = scores(cylinder.score, cylinder.score_expanded, &at);
    Row {
        name: words::clean(&cylinder.name),
        cells,
        score: score.0,
        score_expanded: score.1,
        cause,
    }
}

fn cell(findings: &Findings, reading: &CylinderReading, at: &str, units: Units) -> Cell {
    use crate::signal::Grade;
    let grade = findings
        .runs
        .get(reading.run)
        .map(|run| run.result.grade)
        .filter(|grade| *grade != Grade::Good)
        .map(words::grade);
    Cell {
        run: reading.run,
        reading: Measured::new(
            (reading.value, &format!("{at}/value_pa")),
            (reading.expanded, &format!("{at}/expanded_pa")),
            units,
        ),
        share: reading
            .share_of_highest
            .map(|share| Number::percent(share, format!("{at}/share_of_highest"))),
        at_least: reading.at_least,
        grade,
        broken: None,
    }
}

/// What is said of a cylinder that does not keep a limit that decides: as the whole is judged
/// where that is milder (a low reading that is not confirmed).
fn broken(findings: &Findings, name: &str, condition: Condition) -> Option<Judgement> {
    let about = |found: &&Finding| {
        found.role == Role::Decides
            && found.condition == Some(condition)
            && found.cylinders.iter().any(|known| known == name)
    };
    let found = || findings.assessment.findings.iter().filter(about);
    let any = |wanted| found().any(|found| found.judgement == wanted);
    match findings.assessment.judgement {
        Judgement::Pass => None,
        Judgement::Fail if any(Judgement::Fail) => Some(Judgement::Fail),
        Judgement::Unconfirmed if any(Judgement::Fail) => Some(Judgement::Unconfirmed),
        _ => any(Judgement::TooCloseToCall).then_some(Judgement::TooCloseToCall),
    }
}

fn spread(findings: &Findings, condition: Condition) -> Option<Spread> {
    let comparisons = &findings.assessment.comparisons;
    let (index, found) = comparisons
        .iter()
        .enumerate()
        .find(|(_, comparison)| comparison.condition == condition)?;
    let at = format!("/assessment/comparisons/{index}");
    Some(Spread {
        share: Number::tenth(found.share, format!("{at}/share")),
        expanded: Number::tenth(found.share_expanded, format!("{at}/share_expanded")),
        judgement: words::judgement(found.judgement),
        sign: words::judgement_sign(found.judgement),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_pressures_show_two_digits_and_no_negative_zero() {
        let fine =
            |pa: f64, unit| Number::pressure_fine(Pressure::from_pa(pa), unit, String::new()).text;
        assert_eq!(fine(38.0, PressureUnit::Bar), "0.00038");
        assert_eq!(fine(3800.0, PressureUnit::Bar), "0.038");
        assert_eq!(fine(-0.01, PressureUnit::Bar), "0.000000");
        assert_eq!(fine(0.0, PressureUnit::Psi), "0.00");
        assert_eq!(fine(6894.757, PressureUnit::Psi), "1.00");
    }

    #[test]
    fn a_share_just_below_one_is_not_shown_as_all() {
        let percent = |share| Number::percent(share, String::new()).text;
        assert_eq!(percent(0.9996), "99.9");
        assert_eq!(percent(1.0), "100");
        assert_eq!(percent(0.5), "50");
    }
}
