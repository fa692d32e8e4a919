//! All outputs of a report, built in memory before any of them is written.

use super::chart::{PlotError, png, sheet, svg};
use super::{Output, PAGE, PageError, Units, json, page, runs_csv, samples_csv, strokes_csv};
use crate::pipeline::{Findings, Trace};

/// Longest file of a report in bytes: no longer one is written, and none is read to be verified.
/// The bounds on what is listed keep them far below.
pub const LARGEST: usize = 64 * 1024 * 1024;

/// Why a report could not be made: in each case a fault of the program, not of the data.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The page.
    #[error(transparent)]
    Page(#[from] PageError),
    /// A plot.
    #[error(transparent)]
    Plot(#[from] PlotError),
    /// The PDF.
    #[cfg(feature = "pdf")]
    #[error(transparent)]
    Pdf(#[from] super::PdfError),
    /// A file would be longer than what can be verified.
    #[error("{0} would be longer than {LARGEST} bytes, which nobody could verify")]
    TooLarge(&'static str),
    /// The findings as JSON.
    #[error("the findings cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// Makes every file of a report. The same findings, traces and units give the same bytes.
///
/// # Errors
/// Only by a fault of the program.
pub fn outputs(
    findings: &Findings,
    traces: &[Trace],
    units: Units,
) -> Result<Vec<Output>, ReportError> {
    let sheet = sheet(findings, units);
    let output = |name, bytes| Output { name, bytes };
    // First, as it takes most memory while it is made: nothing else takes any then.
    let png = png(&sheet)?;
    let mut made = vec![
        output(PAGE, page(findings, traces, units)?.into_bytes()),
        output("findings.json", json(findings)?.into_bytes()),
        output("build-up.svg", svg(&sheet)?.into_bytes()),
        output("build-up.png", png),
        output("runs.csv", runs_csv(findings, units).into_bytes()),
        output("strokes.csv", strokes_csv(findings, units).into_bytes()),
    ];
    made.extend(findings.set_by_hand.samples.then(|| {
        let table = samples_csv(findings, units);
        output("samples.csv", table.into_bytes())
    }));
    #[cfg(feature = "pdf")]
    made.push(output("report.pdf", super::pdf(findings, traces, units)?));
    match made.iter().find(|output| output.bytes.len() > LARGEST) {
        Some(output) => Err(ReportError::TooLarge(output.name)),
        None => Ok(made),
    }
}
