//! Sensors that the user gave a name: a small file in the user's configuration folder.

use crate::cli::{Exit, Failure, document};
use crate::correction::{CheckError, Checked};
use etcetera::{BaseStrategy, choose_base_strategy};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A remembered sensor.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::cli) struct Known {
    /// Bluetooth address (on macOS: the identifier that stands for it).
    pub address: String,
    /// The name that it advertised.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub advertised: String,
    /// The protocol file that describes it, if not one that comes with needlerest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protocol: Option<PathBuf>,
    /// What it tells is corrected by its last check.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub corrected: bool,
    /// Its checks against a gauge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<Checked>,
}

/// All remembered sensors by the user's names.
pub(in crate::cli) type AllKnown = BTreeMap<String, Known>;

/// Where they are kept.
pub(in crate::cli) fn path() -> Result<PathBuf, Failure> {
    choose_base_strategy()
        .map(|base| base.config_dir().join("needlerest").join("sensors.toml"))
        .map_err(|error| Failure::new(Exit::Failed, error).remedy("set the variable HOME"))
}

/// Reads them; none is no failure. Every check is seen to make sense.
pub(in crate::cli) fn load(path: &Path) -> Result<AllKnown, Failure> {
    let text = match document::read_text(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(AllKnown::new()),
        Err(error) => return Err(Failure::file(path, "read", &error)),
    };
    let all: AllKnown = toml::from_str(&text).map_err(|error| {
        Failure::new(Exit::BadInput, error.to_string().trim_end())
            .at(path.display())
            .remedy("correct this file, or remove it and remember the sensors anew")
    })?;
    for (name, known) in &all {
        sound(known).map_err(|error| {
            Failure::new(Exit::BadInput, error.what)
                .at(format!(
                    "{}, {name:?}, check: {}",
                    path.display(),
                    error.field
                ))
                .remedy("correct it, or take the check out of this file and check the sensor anew")
        })?;
    }
    Ok(all)
}

fn sound(known: &Known) -> Result<(), CheckError> {
    match &known.check {
        Some(check) => check.correction().map(drop),
        None if known.corrected => Err(CheckError {
            field: "corrected".to_owned(),
            what: "there is no check to correct by".to_owned(),
        }),
        None => Ok(()),
    }
}

/// Writes them, whole or not at all.
pub(in crate::cli) fn save(path: &Path, all: &AllKnown) -> Result<(), Failure> {
    let text = toml::to_string(all).map_err(|error| Failure::new(Exit::Failed, error))?;
    document::save(path, &text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_saved_is_read_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("deep").join("sensors.toml");
        assert_eq!(load(&path).expect("none yet"), AllKnown::new());
        let one = Known {
            address: "AA:BB:CC:DD:EE:FF".into(),
            advertised: "Needlerest \"7\"".into(),
            protocol: Some("own.toml".into()),
            ..Known::default()
        };
        let all = AllKnown::from([("the shed's".to_owned(), one)]);
        save(&path, &all).expect("writes");
        assert_eq!(load(&path).expect("reads"), all);
    }

    #[test]
    fn a_damaged_file_is_told_with_its_line() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("sensors.toml");
        std::fs::write(&path, "[a]\naddress = 5\n").expect("writes");
        let failure = load(&path).expect_err("damaged");
        assert!(format!("{failure:?}").contains("line 2"), "{failure:?}");
    }
}
