//! What a job card or a rule set that was given by hand changes, entry by entry.

use std::collections::BTreeMap;
use toml::{Table, Value};

/// The entries of a TOML text that another one does not have, or has otherwise; and those that it
/// lacks. Each is a line: entry, what it was, what it is. A text that is no TOML has none.
pub fn changed_entries(before: &str, now: &str) -> Vec<String> {
    let (before, now) = (entries(before), entries(now));
    let mut lines = Vec::new();
    for (entry, value) in &now {
        match before.get(entry) {
            Some(was) if was == value => {}
            Some(was) => lines.push(format!("{entry} = {value} (was {was})")),
            None => lines.push(format!("{entry} = {value} (was not there)")),
        }
    }
    let gone = before.iter().filter(|(entry, _)| !now.contains_key(*entry));
    lines.extend(gone.map(|(entry, was)| format!("{entry} is not there (was {was})")));
    lines
}

fn entries(text: &str) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    if let Ok(table) = text.parse::<Table>() {
        walk("", &Value::Table(table), &mut found);
    }
    found
}

fn walk(at: &str, value: &Value, found: &mut BTreeMap<String, String>) {
    match value {
        Value::Table(table) => {
            for (key, value) in table {
                let dot = if at.is_empty() { "" } else { "." };
                walk(&format!("{at}{dot}{key}"), value, found);
            }
        }
        Value::Array(values) => {
            for (n, value) in values.iter().enumerate() {
                // A rule has a key, a cylinder has a name: they may stand in another order.
                let called = ["key", "name"]
                    .iter()
                    .find_map(|entry| value.get(entry)?.as_str());
                let place = called.map_or_else(|| (n + 1).to_string(), str::to_owned);
                walk(&format!("{at}[{place}]"), value, found);
            }
        }
        value => _ = found.insert(at.to_owned(), value.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::changed_entries;

    #[test]
    fn tells_what_is_new_changed_and_gone() {
        let before = "[limits]\nservice = 100\n[[cylinder]]\nname = \"1\"\nbore = 5\n";
        let now = "[limits]\nservice = 60\nlow = 2\n[[cylinder]]\nname = \"1\"\n";
        assert_eq!(
            changed_entries(before, now),
            [
                "limits.low = 2 (was not there)",
                "limits.service = 60 (was 100)",
                "cylinder[1].bore is not there (was 5)",
            ]
        );
        assert!(changed_entries(before, before).is_empty());
    }
}
