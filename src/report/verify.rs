//! Holds a report against what the analysis of its recording gives today.

use super::page::Fact;
use super::page::by_hand::by_hand;
use super::view::Units;
use super::{FORMAT, Made, Output, ReportError, outputs};
use crate::pipeline::{ByHand, Findings, Trace};
use serde::Deserialize;
use serde_json::Value;

/// A file of the report under examination.
#[derive(Clone, Debug)]
pub struct Examined {
    /// Its name, without folder.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// Something in the report that is not what today's analysis gives.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Difference {
    /// File, and the place in it: a JSON pointer or a line.
    pub place: String,
    /// What the report says there.
    pub report: String,
    /// What it should say.
    pub today: String,
}

/// How a report compares.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Comparison {
    /// Version of the program that wrote the report.
    pub written_by: String,
    /// This program's version is the same: then every byte is compared, otherwise every number.
    pub same_version: bool,
    /// The seal that the report carries.
    pub report_seal: Option<String>,
    /// The seal that the recording has.
    pub recording_seal: Option<String>,
    /// What was set by hand, one line a setting; the analysis was repeated so.
    pub set_by_hand: Vec<String>,
    /// Files that were compared.
    pub compared: Vec<String>,
    /// Files in the folder that are no part of a report.
    pub ignored: Vec<String>,
    /// What differs; empty if nothing does.
    pub differences: Vec<Difference>,
}

/// Why a report could not be examined.
#[derive(Debug, thiserror::Error)]
pub enum ExamineError {
    /// There are no findings in it.
    #[error("no findings in it: neither a report's page nor findings.json")]
    NoReport,
    /// What should be findings is not.
    #[error("{0}: the findings in it cannot be read: {1}")]
    Damaged(String, String),
    /// Today's report could not be made.
    #[error(transparent)]
    Report(#[from] ReportError),
}

/// Compares the files of a report with those that today's findings give.
///
/// # Errors
/// If there is no report among the files, or its findings cannot be read.
pub fn compare(
    files: &[Examined],
    today: &Findings,
    traces: &[Trace],
) -> Result<Comparison, ExamineError> {
    let report = report_findings(files)?;
    let text = |key: &str| {
        report
            .pointer(key)
            .and_then(Value::as_str)
            .map(str::to_owned)
    };
    let written_by = text("/tool").unwrap_or_default();
    let same_version = written_by == today.tool;
    let units = units_of(files).unwrap_or_else(|| Units::of(today));
    let expected = outputs(today, traces, units)?;
    let mut comparison = Comparison {
        written_by,
        same_version,
        report_seal: text("/recording/seal"),
        recording_seal: today.recording.seal.clone(),
        set_by_hand: by_hand(today).iter().map(Fact::line).collect(),
        compared: Vec::new(),
        ignored: Vec::new(),
        differences: Vec::new(),
    };
    for file in files {
        let found = match expected_for(file, &expected) {
            None => {
                comparison.ignored.push(file.name.clone());
                continue;
            }
            Some(_) if !same_version => numbers(file, today)?,
            Some(output) => bytes(file, output, today)?,
        };
        comparison.compared.push(file.name.clone());
        comparison.differences.extend(found);
    }
    Ok(comparison)
}

fn is_page(file: &Examined) -> bool {
    file.name.to_ascii_lowercase().ends_with(".html")
}

/// A page or findings are known by their kind (they may have been renamed), the rest by name.
fn expected_for<'a>(file: &Examined, expected: &'a [Output]) -> Option<&'a Output> {
    let name = if is_page(file) {
        "index.html"
    } else if file.name.to_ascii_lowercase().ends_with(".json") {
        "findings.json"
    } else {
        file.name.as_str()
    };
    expected.iter().find(|output| output.name == name)
}

fn report_findings(files: &[Examined]) -> Result<Value, ExamineError> {
    for file in files {
        if let Some(found) = findings_in(file)? {
            return Ok(found);
        }
    }
    Err(ExamineError::NoReport)
}

/// The findings that a file carries; none if it is not of a kind that does.
fn findings_in(file: &Examined) -> Result<Option<Value>, ExamineError> {
    let damaged = |why: &str| ExamineError::Damaged(file.name.clone(), why.to_owned());
    let text = String::from_utf8_lossy(&file.bytes);
    let json = if is_page(file) {
        embedded(&text, "findings").ok_or_else(|| damaged("not a page that needlerest wrote"))?
    } else if file.name.to_ascii_lowercase().ends_with(".json") {
        &text
    } else {
        return Ok(None);
    };
    let value: Value = serde_json::from_str(json).map_err(|error| damaged(&error.to_string()))?;
    match value.get("format").and_then(Value::as_str) {
        Some(FORMAT) => Ok(Some(value)),
        _ => Err(damaged("its format is not needlerest-findings")),
    }
}

/// What a script element of the page holds.
fn embedded<'a>(html: &'a str, id: &str) -> Option<&'a str> {
    let start = format!("<script type=\"application/json\" id=\"{id}\">");
    let (_, rest) = html.split_once(&start)?;
    rest.split_once("</script>").map(|(json, _)| json)
}

/// The units in which a report was made, where its page says so.
fn units_of(files: &[Examined]) -> Option<Units> {
    files.iter().filter(|file| is_page(file)).find_map(|file| {
        let text = String::from_utf8_lossy(&file.bytes);
        let made: Made = serde_json::from_str(embedded(&text, "made")?).ok()?;
        Some(made.units)
    })
}

/// What was set by hand when a report was made.
///
/// # Errors
/// If there is no report among the files, or it cannot be read.
pub fn set_by_hand(files: &[Examined]) -> Result<ByHand, ExamineError> {
    match report_findings(files)?.get("set_by_hand") {
        None => Ok(ByHand::default()),
        Some(found) => ByHand::deserialize(found)
            .map_err(|error| ExamineError::Damaged("set_by_hand".to_owned(), error.to_string())),
    }
}

/// Of a report by another version: its findings, number by number.
fn numbers(file: &Examined, today: &Findings) -> Result<Vec<Difference>, ExamineError> {
    let mut found = Vec::new();
    if let Some(report) = findings_in(file)? {
        let today = serde_json::to_value(today).map_err(ReportError::Json)?;
        walk(&file.name, "", &report, &today, &mut found);
        found.retain(|difference| !difference.place.ends_with(" /tool"));
    }
    Ok(found)
}

/// Of a report by this version: every byte; where they differ, what differs in words.
fn bytes(
    file: &Examined,
    expected: &Output,
    today: &Findings,
) -> Result<Vec<Difference>, ExamineError> {
    if file.bytes == expected.bytes {
        return Ok(Vec::new());
    }
    let mut found = numbers(file, today)?;
    let text = (
        std::str::from_utf8(&file.bytes),
        std::str::from_utf8(&expected.bytes),
    );
    match text {
        (Ok(report), Ok(today)) if expected.name != "findings.json" => {
            lines(&file.name, report, today, &mut found);
        }
        _ if found.is_empty() => found.push(Difference {
            place: file.name.clone(),
            report: format!("{} bytes, not the same", file.bytes.len()),
            today: format!("{} bytes", expected.bytes.len()),
        }),
        _ => {}
    }
    Ok(found)
}

/// The most that is shown of a line.
const SHOWN: usize = 60;

fn lines(name: &str, report: &str, today: &str, found: &mut Vec<Difference>) {
    let (mut theirs, mut ours) = (report.lines(), today.lines());
    let mut number = 0_usize;
    loop {
        number += 1;
        let (report, today) = match (theirs.next(), ours.next()) {
            (None, None) => break,
            (a, b) if a == b => continue,
            (a, b) => (a.unwrap_or("(no such line)"), b.unwrap_or("(no such line)")),
        };
        // The findings in a page are told apart value by value already.
        if today.starts_with("<script type=\"application/json\" id=\"findings\"") {
            continue;
        }
        let same = report
            .chars()
            .zip(today.chars())
            .take_while(|(a, b)| a == b)
            .count();
        let from = same.saturating_sub(SHOWN / 3);
        let part = |line: &str| line.chars().skip(from).take(SHOWN).collect();
        found.push(Difference {
            place: format!("{name}, line {number}"),
            report: part(report),
            today: part(today),
        });
    }
}

/// Goes through two JSON values side by side.
fn walk(name: &str, at: &str, report: &Value, today: &Value, found: &mut Vec<Difference>) {
    match (report, today) {
        (Value::Object(a), Value::Object(b)) => {
            let keys: std::collections::BTreeSet<&String> = a.keys().chain(b.keys()).collect();
            for key in keys {
                let (a, b) = (a.get(key), b.get(key));
                let at = format!("{at}/{}", key.replace('~', "~0").replace('/', "~1"));
                walk(
                    name,
                    &at,
                    a.unwrap_or(&Value::Null),
                    b.unwrap_or(&Value::Null),
                    found,
                );
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            for n in 0..a.len().max(b.len()) {
                let (a, b) = (a.get(n), b.get(n));
                walk(
                    name,
                    &format!("{at}/{n}"),
                    a.unwrap_or(&Value::Null),
                    b.unwrap_or(&Value::Null),
                    found,
                );
            }
        }
        (a, b) if a == b || (a.is_number() && a.as_f64() == b.as_f64()) => {}
        (a, b) => found.push(Difference {
            place: format!("{name} {at}"),
            report: a.to_string(),
            today: b.to_string(),
        }),
    }
}
