//! What one line of the page says.

use crate::report::view::Number;
use crate::report::words;
use serde::Serialize;

/// A label, a text, and a number where there is one.
#[derive(Serialize)]
pub(in crate::report) struct Fact {
    pub(super) label: &'static str,
    text: String,
    number: Option<Number>,
    after: String,
}

impl Fact {
    /// In one line of text.
    pub(in crate::report) fn line(&self) -> String {
        let number = self
            .number
            .as_ref()
            .map_or("", |number| number.text.as_str());
        let line = format!("{}: {}{number} {}", self.label, self.text, self.after);
        line.trim_end().to_owned()
    }
    pub(super) fn text(label: &'static str, text: impl Into<String>) -> Self {
        Self {
            label,
            text: text.into(),
            number: None,
            after: String::new(),
        }
    }
    pub(super) fn number(label: &'static str, number: Number, after: impl Into<String>) -> Self {
        Self {
            label,
            text: String::new(),
            number: Some(number),
            after: after.into(),
        }
    }
}

/// Texts that come from outside, made fit to be shown.
pub(super) fn cleaned(texts: &[String]) -> Vec<String> {
    texts.iter().map(|text| words::clean(text)).collect()
}
