//! The findings as JSON.

use super::Findings;

/// What `format` says in the findings.
pub const FORMAT: &str = "needlerest-findings";

/// The findings as indented JSON with a line feed at the end; the same findings give the same
/// bytes. Its schema is `protocol/findings.schema.json`.
///
/// # Errors
/// Only if a value cannot be written as JSON, which none of the findings' types can bring about.
pub fn json(findings: &Findings) -> serde_json::Result<String> {
    serde_json::to_string_pretty(findings).map(|text| text + "\n")
}

/// The JSON Schema (draft 2020-12) of the findings, made from their types.
pub fn schema() -> String {
    let schema = schemars::schema_for!(Findings);
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}
