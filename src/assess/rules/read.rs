//! Reading a rule set and checking that every rule can be applied.

use super::error::{FORMAT, RuleError, VERSION};
use super::{Measure, Rule, RuleSet};
use crate::units::PressureUnit;
use std::collections::BTreeSet;

impl RuleSet {
    /// Reads a rule set from TOML.
    ///
    /// # Errors
    /// A text that is not TOML or not a rule set; two rules of one name; a limit or unit that
    /// does not fit the rule's kind; a rule without a source.
    pub fn parse(text: &str) -> Result<Self, RuleError> {
        let set: Self = toml::from_str(text).map_err(|error| RuleError::Form {
            line: 1 + error
                .span()
                .map_or(0, |span| newlines_before(text, span.start)),
            problem: error.message().trim().replace('\n', ", "),
        })?;
        if set.format != FORMAT || set.version != VERSION {
            return Err(RuleError::Foreign {
                found: format!("\"{}\" version {}", set.format, set.version),
            });
        }
        if !(set.decision > 0.5 && set.decision < 1.0) {
            return Err(wrong(
                "decision",
                &format!("{} is not between 0.5 and 1", set.decision),
                "0.9 and 0.95 are usual",
            ));
        }
        let mut keys = BTreeSet::new();
        for rule in &set.rules {
            check(rule)?;
            if !keys.insert(rule.key.as_str()) {
                return Err(wrong(
                    &format!("rule \"{}\"", rule.key),
                    "is there twice",
                    "give each rule a key of its own",
                ));
            }
        }
        Ok(set)
    }
}

fn newlines_before(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().iter().take(offset);
    before.filter(|byte| **byte == b'\n').count()
}

fn wrong(place: &str, problem: &str, remedy: &str) -> RuleError {
    RuleError::Value {
        place: place.to_owned(),
        problem: problem.to_owned(),
        remedy: remedy.to_owned(),
    }
}

fn check(rule: &Rule) -> Result<(), RuleError> {
    let place = |field: &str| format!("rule \"{}\", {field}", rule.key);
    if rule.key.trim().is_empty() {
        return Err(wrong("a rule's key", "is empty", "give each rule a key"));
    }
    if rule.source.trim().is_empty() {
        return Err(wrong(
            &place("source"),
            "is empty",
            "say where the number comes from, or \"common practice, no source\"",
        ));
    }
    let (fits, wanted) = match rule.kind.measure() {
        Measure::Share => (rule.unit == "share", "\"share\""),
        Measure::Count => (rule.unit == "count", "\"count\""),
        Measure::Pressure => (
            rule.unit.parse::<PressureUnit>().is_ok(),
            "a unit of pressure",
        ),
    };
    if !fits {
        return Err(wrong(
            &place("unit"),
            &format!("\"{}\" does not fit its kind", rule.unit),
            &format!("write {wanted}"),
        ));
    }
    if let Some(from) = rule
        .passes_from
        .filter(|from| !(*from > 0.5 && *from < 1.0))
    {
        return Err(wrong(
            &place("passes_from"),
            &format!("{from} is not between 0.5 and 1"),
            "leave it out, or write a probability",
        ));
    }
    let most = match rule.kind.measure() {
        Measure::Share => 1.0,
        Measure::Count => 1e3,
        Measure::Pressure => 1e8,
    };
    if !(rule.limit > 0.0 && rule.limit <= most) {
        return Err(wrong(
            &place("limit"),
            &format!("{} {} cannot be a limit", rule.limit, rule.unit),
            &format!("write a number over 0 and up to {most}"),
        ));
    }
    Ok(())
}
