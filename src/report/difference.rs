//! What differs between two files, in words and with places.

use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;

/// Something in the report that is not what today's analysis gives.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// File, and the place in it: a JSON pointer, a line or a byte.
    pub place: String,
    /// What the report says there.
    pub report: String,
    /// What it should say.
    pub today: String,
}

/// The most that is shown of a text.
const SHOWN: usize = 60;

/// Differences as they are found: the first are kept, all are counted.
#[derive(Clone, Debug, Default)]
pub(super) struct Differences {
    pub(super) kept: Vec<Difference>,
    pub(super) more: u64,
}

impl Differences {
    /// As many are kept.
    const MOST: usize = 1000;

    /// How many there are.
    pub(super) fn count(&self) -> u64 {
        self.kept.len() as u64 + self.more
    }

    fn add(&mut self, difference: impl FnOnce() -> Difference) {
        if self.kept.len() < Self::MOST {
            self.kept.push(difference());
        } else {
            self.more += 1;
        }
    }

    /// Goes through two JSON values side by side.
    pub(super) fn values(&mut self, name: &str, report: &Value, today: &Value) {
        self.walk(name, "", report, today);
    }

    fn walk(&mut self, name: &str, at: &str, report: &Value, today: &Value) {
        match (report, today) {
            (Value::Object(a), Value::Object(b)) => {
                let keys: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
                for key in keys {
                    let at = format!("{at}/{}", key.replace('~', "~0").replace('/', "~1"));
                    self.walk(name, &at, or_null(a.get(key)), or_null(b.get(key)));
                }
            }
            (Value::Array(a), Value::Array(b)) => {
                for n in 0..a.len().max(b.len()) {
                    let at = format!("{at}/{n}");
                    self.walk(name, &at, or_null(a.get(n)), or_null(b.get(n)));
                }
            }
            (a, b) if a == b || (a.is_number() && a.as_f64() == b.as_f64()) => {}
            (a, b) => self.add(|| Difference {
                place: format!("{name} {at}"),
                report: a.to_string(),
                today: b.to_string(),
            }),
        }
    }

    /// Compares line by line, line ends included.
    pub(super) fn lines(&mut self, name: &str, report: &str, today: &str) {
        let (mut theirs, mut ours) = (report.split_inclusive('\n'), today.split_inclusive('\n'));
        let mut number = 0_usize;
        loop {
            number += 1;
            let (report, today) = match (theirs.next(), ours.next()) {
                (None, None) => break,
                (a, b) if a == b => continue,
                (a, b) => (a.unwrap_or("(no such line)"), b.unwrap_or("(no such line)")),
            };
            self.add(|| {
                let (report, today) = around_first_difference(report, today);
                Difference {
                    place: format!("{name}, line {number}"),
                    report,
                    today,
                }
            });
        }
    }

    /// Says at which byte two files part.
    pub(super) fn bytes(&mut self, name: &str, report: &[u8], today: &[u8]) {
        let same = report.iter().zip(today).take_while(|(a, b)| a == b).count();
        let show = |bytes: &[u8]| {
            let byte = bytes.get(same);
            let byte = byte.map_or_else(|| "no byte".to_owned(), |byte| format!("0x{byte:02x}"));
            format!("{byte} there, {} bytes in all", bytes.len())
        };
        self.add(|| Difference {
            place: format!("{name}, byte {}", same + 1),
            report: show(report),
            today: show(today),
        });
    }
}

fn or_null(value: Option<&Value>) -> &Value {
    value.unwrap_or(&Value::Null)
}

/// Of each of two lines the part where they begin to differ.
fn around_first_difference(report: &str, today: &str) -> (String, String) {
    let (theirs, ours) = (report.trim_end_matches('\n'), today.trim_end_matches('\n'));
    if theirs == ours {
        let end = |line: &str| {
            if line.ends_with('\n') {
                "with"
            } else {
                "without"
            }
        };
        let words = |line| format!("{} a line end", end(line));
        return (words(report), words(today));
    }
    let pairs = theirs.chars().zip(ours.chars());
    let same = pairs.take_while(|(a, b)| a == b).count();
    let from = same.saturating_sub(SHOWN / 3);
    let part = |line: &str| line.chars().skip(from).take(SHOWN).collect();
    (part(theirs), part(ours))
}
