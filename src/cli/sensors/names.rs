//! Names of the user's choice.

use crate::cli::{Exit, Failure};
use std::path::Path;

/// A name that can be told from an address and stands on one line.
pub(super) fn own_name(text: &str) -> Result<String, String> {
    let short = (1..=40).contains(&text.chars().count());
    if !short || text.contains(':') || text.chars().any(char::is_control) || text.trim() != text {
        return Err("a name has 1 to 40 characters, none of them a colon".to_owned());
    }
    Ok(text.to_owned())
}

/// There is no sensor of this name.
pub(super) fn unknown(name: &str, path: &Path) -> Failure {
    Failure::new(
        Exit::Usage,
        format!("no sensor is remembered as \"{name}\""),
    )
    .at(path.display())
    .remedy("needlerest sensors lists the names")
}

#[cfg(test)]
mod tests {
    use super::own_name;

    #[test]
    fn names_stand_on_one_line_and_are_no_addresses() {
        for good in ["shed", "the blue one", "Nº 7"] {
            assert!(own_name(good).is_ok(), "{good}");
        }
        for bad in ["", " a", "a\nb", "00:AA:01:01:00:01", &"x".repeat(41)] {
            assert!(own_name(bad).is_err(), "{bad}");
        }
    }
}
