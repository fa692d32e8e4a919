//! The file itself: `settings.toml` beside the remembered sensors. Each key is an option's name,
//! so there is nothing to learn twice.

use crate::cli::{Exit, Failure};
use crate::report::words::steers;
use crate::units::PressureUnit;
use clap::Command;
use etcetera::{BaseStrategy, choose_base_strategy};
use std::path::{Path, PathBuf};
use toml::de::{DeTable, DeValue};

/// A key of the file: an option of that name and what the option is for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Key {
    /// As it is called in the file and, after `--`, on the command line.
    pub(super) name: &'static str,
    /// What it is for.
    pub(super) about: &'static str,
    /// Commands whose option it is a default for; empty: every command that has the option.
    commands: &'static [&'static str],
    /// Whether a value makes sense.
    check: fn(&str) -> Result<(), String>,
}

/// Every key, in the order in which they are shown.
pub(super) const KEYS: [Key; 5] = [
    Key {
        name: "unit",
        about: "unit of the pressures shown",
        commands: &[],
        check: unit,
    },
    Key {
        name: "also",
        about: "a second unit beside it, in tables and reports",
        commands: &[],
        check: unit,
    },
    Key {
        name: "sensor",
        about: "the sensor to connect to: a name you gave it, its address, or the name it \
                advertises",
        // Not where all sensors are wanted (scan) or a new one (sensors remember).
        commands: &["visit", "record", "self-check"],
        check: line,
    },
    Key {
        name: "adapter",
        about: "the Bluetooth adapter, such as hci0",
        commands: &[],
        check: line,
    },
    Key {
        name: "announce",
        about: "the command that speaks or sounds what must not be missed",
        commands: &[],
        check: line,
    },
];

fn unit(text: &str) -> Result<(), String> {
    let parsed: Result<PressureUnit, _> = text.parse();
    parsed.map(drop).map_err(|error| error.to_string())
}

fn line(text: &str) -> Result<(), String> {
    if text.trim().is_empty() || text.contains(steers) {
        return Err("a text of one line is wanted".to_owned());
    }
    Ok(())
}

impl Key {
    /// The key of this name.
    ///
    /// # Errors
    /// When there is none; the message lists those there are.
    pub(super) fn named(name: &str) -> Result<Self, String> {
        let found = KEYS.into_iter().find(|key| key.name == name);
        found.ok_or_else(|| {
            let names = KEYS.map(|key| key.name).join(", ");
            format!("there is no setting \"{name}\"; the settings are {names}")
        })
    }

    /// Whether the value makes sense for it.
    pub(super) fn check(&self, value: &str) -> Result<(), String> {
        (self.check)(value)
    }

    fn is_for(&self, command: &str) -> bool {
        self.commands.is_empty() || self.commands.contains(&command)
    }
}

/// What the file says: keys and values, each checked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::cli) struct Settings {
    values: Vec<(&'static str, String)>,
}

/// Where the file is, whether or not it is there.
pub(super) fn path() -> Result<PathBuf, Failure> {
    choose_base_strategy()
        .map(|base| base.config_dir().join("needlerest").join("settings.toml"))
        .map_err(|error| Failure::new(Exit::Failed, error).remedy("set the variable HOME"))
}

impl Settings {
    /// Reads the user's file; none is no failure, and neither is a user without a home.
    ///
    /// # Errors
    /// A file that cannot be read or does not make sense, by its line and field.
    pub(in crate::cli) fn load() -> Result<Self, Failure> {
        match path() {
            Ok(path) => Self::read(&path),
            Err(_) => Ok(Self::default()),
        }
    }

    /// Reads this file; none is no failure.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        match std::fs::read_to_string(path) {
            Ok(text) => Self::parse(&text, path),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(Failure::file(path, "read", &error)),
        }
    }

    /// Reads a file's text; `path` is for the messages.
    pub(super) fn parse(text: &str, path: &Path) -> Result<Self, Failure> {
        let wrong = |at: usize, field: Option<&str>, what: String| {
            let line = 1 + text.bytes().take(at).filter(|byte| *byte == b'\n').count();
            let field = field.map_or_else(String::new, |field| format!(", {field}"));
            Failure::new(Exit::BadInput, what)
                .at(format!("{}, line {line}{field}", path.display()))
                .remedy("correct that line, or remove it; needlerest settings shows them all")
        };
        let table = DeTable::parse(text).map_err(|error| {
            let at = error.span().map_or(0, |span| span.start);
            wrong(at, None, error.message().trim().replace('\n', ", "))
        })?;
        let mut values = Vec::new();
        for (name, value) in table.get_ref() {
            let key =
                Key::named(name.get_ref()).map_err(|what| wrong(name.span().start, None, what))?;
            let at = value.span().start;
            let DeValue::String(value) = value.get_ref() else {
                let what = format!("a text is wanted: {} = \"…\"", key.name);
                return Err(wrong(at, Some(key.name), what));
            };
            key.check(value)
                .map_err(|what| wrong(at, Some(key.name), what))?;
            values.push((key.name, value.to_string()));
        }
        Ok(Self { values })
    }

    /// What the file says for a key.
    pub(super) fn get(&self, name: &str) -> Option<&str> {
        let found = self.values.iter().find(|(key, _)| *key == name);
        found.map(|(_, value)| value.as_str())
    }
}

/// Makes the settings the defaults of the options of their names, in every command that has them;
/// `--help` shows them as it shows any default.
pub(in crate::cli) fn apply(line: Command, settings: &Settings) -> Command {
    line.mut_subcommands(|command| {
        let values = settings.values.iter().filter_map(|(name, value)| {
            let key = Key::named(name).ok()?;
            key.is_for(command.get_name()).then_some((*name, value))
        });
        let values: Vec<(&'static str, &String)> = values.collect();
        values.into_iter().fold(command, |command, (name, value)| {
            with_default(command, name, value)
        })
    })
}

/// The command, and those below it, with this default where they have the option.
fn with_default(command: Command, name: &'static str, value: &String) -> Command {
    let command = command.mut_subcommands(|below| with_default(below, name, value));
    if has_option(&command, name) {
        command.mut_arg(name, |arg| arg.default_value(value.clone()))
    } else {
        command
    }
}

/// Whether a command, or one below it, takes any of its defaults from the settings.
pub(in crate::cli) fn asks_for(command: &Command) -> bool {
    let below = |key: &Key| {
        let mut commands = command.get_subcommands();
        commands.any(|below| has_option(below, key.name))
    };
    KEYS.iter()
        .any(|key| key.is_for(command.get_name()) && (has_option(command, key.name) || below(key)))
}

fn has_option(command: &Command, name: &str) -> bool {
    command.get_arguments().any(|arg| arg.get_id() == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Settings, Failure> {
        Settings::parse(text, Path::new("settings.toml"))
    }

    #[test]
    fn a_sound_file_is_read() {
        let settings = parsed("# mine\nunit = \"bar\"\nsensor = 'the shed one'\n").expect("sound");
        assert_eq!(settings.get("unit"), Some("bar"));
        assert_eq!(settings.get("sensor"), Some("the shed one"));
        assert_eq!(settings.get("also"), None);
    }

    #[test]
    fn mistakes_are_told_with_line_and_field() {
        for (text, place) in [
            ("\nunit = \"furlong\"\n", "line 2, unit"),
            ("unit = \"bar\"\nalso = 5\n", "line 2, also"),
            ("unitt = \"bar\"\n", "line 1"),
            ("unit = \n", "line 1"),
            ("unit = \"bar\"\nunit = \"psi\"\n", "line 2"),
            ("announce = \" \"\n", "line 1, announce"),
        ] {
            let told = format!("{:?}", parsed(text).expect_err(text));
            assert!(told.contains(place), "{text}: {told}");
        }
    }
}
