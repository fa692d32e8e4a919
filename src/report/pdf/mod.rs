//! The report as PDF: the page's content on A4, with the font that the program carries.

mod content;
mod draw;
mod flow;

pub use draw::PdfError;

use super::view::Units;
use crate::pipeline::{Findings, Trace};

/// The report as a PDF file: the same findings, traces and units give the same bytes.
///
/// # Errors
/// Only by a fault of the program.
pub fn pdf(findings: &Findings, traces: &[Trace], units: Units) -> Result<Vec<u8>, PdfError> {
    let pages = content::pages(findings, traces, units);
    draw::document(&pages, &super::view::label(findings))
}
