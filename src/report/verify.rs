//! Holds a report against what the analysis of its recording gives today: the report is made
//! again, and every byte of every file is compared.
//!
//! A report by another version of the program cannot be made again by this one. Of such a report
//! the findings alone are compared, and it is said that the rest was not.

use super::carried::{carried, without_samples};
use super::difference::Differences;
use super::page::by_hand::by_hand;
use super::page::{Fact, embedded};
use super::view::Units;
use super::{FORMAT, Made, Output, PAGE, ReportError, json, outputs};
use crate::pipeline::{ByHand, Findings, Trace};
use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use super::difference::Difference;

/// The file of the findings in a report's folder.
const FINDINGS: &str = "findings.json";
/// What only some builds of the program make: that it is missing says nothing.
const OPTIONAL: &str = "report.pdf";

/// A file of the report under examination.
#[derive(Clone, Debug)]
pub struct Examined {
    /// Its name, without folder.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// The report under examination.
#[derive(Clone, Debug)]
pub struct Submitted {
    /// Its files.
    pub files: Vec<Examined>,
    /// What else lies in its folder.
    others: Vec<String>,
    /// It is a whole folder, in which nothing may be missing.
    folder: bool,
}

impl Submitted {
    /// One file of a report, page or findings, by whatever name.
    pub fn file(file: Examined) -> Self {
        Self {
            files: vec![file],
            others: Vec::new(),
            folder: false,
        }
    }

    /// A report's folder: the files that a report may have, and the names of all else that is in it.
    pub fn folder(files: Vec<Examined>, others: Vec<String>) -> Self {
        Self {
            files,
            others,
            folder: true,
        }
    }
}

/// How far report and recording agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// The report is there as a whole, and every byte of it follows from the recording.
    EveryByte,
    /// What was compared follows from the recording, but not everything was there or could be
    /// compared.
    InPart,
    /// Something does not follow from the recording.
    No,
}

/// How a report compares.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Comparison {
    /// What it comes to.
    pub agreement: Agreement,
    /// Version of the program that wrote the report.
    pub written_by: String,
    /// This program's version is the same: then every byte is compared, otherwise the findings
    /// alone.
    pub same_version: bool,
    /// Its findings are in another form: then nothing is compared but which recording they are of.
    pub other_form: bool,
    /// The seal that the report carries.
    pub report_seal: Option<String>,
    /// The seal that the recording has.
    pub recording_seal: Option<String>,
    /// What was set by hand, one line a setting; the analysis was repeated so.
    pub set_by_hand: Vec<String>,
    /// Files that were compared: every byte, or of a report by another version the findings in
    /// them.
    pub compared: Vec<String>,
    /// Files of which nothing was compared, or of a page by another version nothing but its
    /// findings.
    pub not_compared: Vec<String>,
    /// Files that a report has and this one lacks.
    pub missing: Vec<String>,
    /// What differs, the first thousand; empty if nothing does.
    pub differences: Vec<Difference>,
    /// Differences beyond those.
    pub more_differences: u64,
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

/// Compares a report with the one that today's findings give.
///
/// # Errors
/// If there are no findings in it, or they cannot be read.
pub fn compare(
    report: &Submitted,
    findings: &Findings,
    traces: &[Trace],
) -> Result<Comparison, ExamineError> {
    let units = units_of(&report.files).unwrap_or_else(|| Units::of(findings));
    Today::make(findings, traces, units)?.compare(report)
}

/// The report as it is made today; any number of reports can be held against it.
#[derive(Debug)]
pub struct Today<'a> {
    findings: &'a Findings,
    /// The findings as the page has them.
    embedded: String,
    outputs: Vec<Output>,
}

/// What a report says of itself.
struct Head {
    /// Version of the findings' form.
    form: Value,
    tool: String,
    seal: Option<String>,
}

impl<'a> Today<'a> {
    /// Makes it, with pressures in these units.
    ///
    /// # Errors
    /// Only by a fault of the program.
    pub fn make(
        findings: &'a Findings,
        traces: &[Trace],
        units: Units,
    ) -> Result<Self, ReportError> {
        Ok(Self {
            findings,
            embedded: embedded(&carried(findings)?),
            outputs: outputs(findings, traces, units)?,
        })
    }

    /// Compares a report with it.
    ///
    /// # Errors
    /// If there are no findings in the report, or they cannot be read.
    pub fn compare(&self, report: &Submitted) -> Result<Comparison, ExamineError> {
        let head = self.head(&report.files)?;
        let other_form = head.form != self.findings.version;
        let same_version = head.tool == self.findings.tool && !other_form;
        let mut found = Differences::default();
        let (mut compared, mut not_compared) = (Vec::new(), report.others.clone());
        for file in &report.files {
            let looked_at = match self.counterpart(file) {
                Some(output) if same_version => {
                    self.every_byte(file, output, &mut found);
                    true
                }
                Some(_) => self.findings_alone(file, &head, &mut found)?,
                None => false,
            };
            if looked_at {
                compared.push(file.name.clone());
            }
            if !looked_at || (is_page(file) && !same_version) {
                not_compared.push(file.name.clone());
            }
        }
        let missing = self.missing(report);
        let all = same_version && missing.is_empty() && not_compared.is_empty();
        let agreement = match (found.count(), all) {
            (0, true) => Agreement::EveryByte,
            (0, false) => Agreement::InPart,
            _ => Agreement::No,
        };
        Ok(Comparison {
            agreement,
            written_by: head.tool,
            same_version,
            other_form,
            report_seal: head.seal,
            recording_seal: self.findings.recording.seal.clone(),
            set_by_hand: by_hand(self.findings).iter().map(Fact::line).collect(),
            compared,
            not_compared,
            missing,
            differences: found.kept,
            more_differences: found.more,
        })
    }

    /// What the first file with findings in it says of itself.
    fn head(&self, files: &[Examined]) -> Result<Head, ExamineError> {
        for file in files.iter().filter(|file| carries_findings(file)) {
            if self.has_todays_findings(file) {
                return Ok(Head {
                    tool: self.findings.tool.clone(),
                    form: self.findings.version.into(),
                    seal: self.findings.recording.seal.clone(),
                });
            }
            if let Some(found) = findings_in(file)? {
                let text = |key: &str| found.pointer(key)?.as_str().map(str::to_owned);
                return Ok(Head {
                    tool: text("/tool").unwrap_or_default(),
                    form: found.pointer("/version").cloned().unwrap_or_default(),
                    seal: text("/recording/seal"),
                });
            }
        }
        Err(ExamineError::NoReport)
    }

    /// Whether the findings in a file are today's to the letter: the quick way to know.
    fn has_todays_findings(&self, file: &Examined) -> bool {
        if is_page(file) {
            let text = std::str::from_utf8(&file.bytes).ok();
            return text.and_then(|text| part(text, "findings")) == Some(&self.embedded);
        }
        self.counterpart(file)
            .is_some_and(|output| output.bytes == file.bytes)
    }

    /// A page or findings are known by their kind (they may have been renamed), the rest by name.
    fn counterpart(&self, file: &Examined) -> Option<&Output> {
        let name = if is_page(file) {
            PAGE
        } else if is_json(file) {
            FINDINGS
        } else {
            file.name.as_str()
        };
        self.outputs.iter().find(|output| output.name == name)
    }

    fn missing(&self, report: &Submitted) -> Vec<String> {
        let names = self.outputs.iter().map(|output| output.name);
        names
            .filter(|name| report.folder && *name != OPTIONAL)
            .filter(|name| report.files.iter().all(|file| file.name != *name))
            .map(str::to_owned)
            .collect()
    }

    /// Compares every byte. Where they differ, value by value and line by line, but only for the
    /// telling: one byte too many, too few or another is a difference whatever they find.
    fn every_byte(&self, file: &Examined, expected: &Output, found: &mut Differences) {
        if file.bytes == expected.bytes {
            return;
        }
        let before = found.count();
        if !self.has_todays_findings(file)
            && let Ok(Some(theirs)) = findings_in(file)
            && let Ok(ours) = serde_json::to_value(self.findings)
        {
            found.values(&file.name, &theirs, &ours);
        }
        let text = std::str::from_utf8;
        if let (Ok(report), Ok(today)) = (text(&file.bytes), text(&expected.bytes))
            && expected.name != FINDINGS
        {
            found.lines(&file.name, report, today);
        }
        if found.count() == before {
            found.bytes(&file.name, &file.bytes, &expected.bytes);
        }
    }

    /// Of a report by another version: compares the findings, as values and as text. Gives whether
    /// there are any in the file.
    fn findings_alone(
        &self,
        file: &Examined,
        head: &Head,
        found: &mut Differences,
    ) -> Result<bool, ExamineError> {
        let Some(theirs) = findings_in(file)? else {
            return Ok(false);
        };
        if head.form != self.findings.version {
            let form = theirs.pointer("/version").cloned().unwrap_or_default();
            found.values(&file.name, &form, &head.form);
            let recording = |all: &Value| all.pointer("/recording").cloned().unwrap_or_default();
            let ours = serde_json::to_value(self.findings).map_err(ReportError::Json)?;
            found.values(&file.name, &recording(&theirs), &recording(&ours));
            return Ok(true);
        }
        // All but the name of the version must be as it is today.
        let mut ours = self.findings.clone();
        head.tool.clone_into(&mut ours.tool);
        if is_page(file) {
            ours = without_samples(ours);
        }
        let before = found.count();
        let values = serde_json::to_value(&ours).map_err(ReportError::Json)?;
        found.values(&file.name, &theirs, &values);
        if found.count() == before {
            let ours = if is_page(file) {
                serde_json::to_string(&ours).map(|text| embedded(&text))
            } else {
                json(&ours)
            };
            let ours = ours.map_err(ReportError::Json)?;
            let text = String::from_utf8_lossy(&file.bytes);
            let theirs = findings_text(file, &text)?;
            if theirs != ours {
                found.bytes(&file.name, theirs.as_bytes(), ours.as_bytes());
            }
        }
        Ok(true)
    }
}

fn is_page(file: &Examined) -> bool {
    file.name.to_ascii_lowercase().ends_with(".html")
}

fn is_json(file: &Examined) -> bool {
    file.name.to_ascii_lowercase().ends_with(".json")
}

fn carries_findings(file: &Examined) -> bool {
    is_page(file) || is_json(file)
}

/// The findings that a page or a file of findings carries, as text.
fn findings_text<'a>(file: &Examined, text: &'a str) -> Result<&'a str, ExamineError> {
    let none = || ExamineError::Damaged(file.name.clone(), "it is no page of a report".into());
    if is_page(file) {
        return part(text, "findings").ok_or_else(none);
    }
    Ok(text)
}

/// The findings that a file carries; none if it is not of a kind that does.
fn findings_in(file: &Examined) -> Result<Option<Value>, ExamineError> {
    if !carries_findings(file) {
        return Ok(None);
    }
    let damaged = |why: &str| ExamineError::Damaged(file.name.clone(), why.to_owned());
    let text = String::from_utf8_lossy(&file.bytes);
    let json = findings_text(file, &text)?;
    let value: Value = serde_json::from_str(json).map_err(|error| damaged(&error.to_string()))?;
    match value.get("format").and_then(Value::as_str) {
        Some(FORMAT) => Ok(Some(value)),
        _ => Err(damaged("its format is not needlerest-findings")),
    }
}

/// What a script element of the page holds.
fn part<'a>(html: &'a str, id: &str) -> Option<&'a str> {
    let start = format!("<script type=\"application/json\" id=\"{id}\">");
    let (_, rest) = html.split_once(&start)?;
    rest.split_once("</script>").map(|(json, _)| json)
}

/// The units in which a report was made, where its page says so.
fn units_of(files: &[Examined]) -> Option<Units> {
    files.iter().filter(|file| is_page(file)).find_map(|file| {
        let text = String::from_utf8_lossy(&file.bytes);
        let made: Made = serde_json::from_str(part(&text, "made")?).ok()?;
        Some(made.units)
    })
}

/// What was set by hand when a report was made.
///
/// # Errors
/// If there are no findings in the report, or they cannot be read.
pub fn set_by_hand(report: &Submitted) -> Result<ByHand, ExamineError> {
    for file in &report.files {
        if let Some(found) = findings_in(file)? {
            let Some(set) = found.get("set_by_hand") else {
                return Ok(ByHand::default());
            };
            return ByHand::deserialize(set).map_err(|error| {
                ExamineError::Damaged("set_by_hand".to_owned(), error.to_string())
            });
        }
    }
    Err(ExamineError::NoReport)
}
