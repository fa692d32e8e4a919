//! `settings`: shows the user's defaults, sets one, forgets one.

use super::file::{KEYS, Key, Settings, path};
use crate::cli::{Exit, Failure, Outcome, document, out};
use std::io::Write;
use std::path::Path;
use toml::de::DeTable;

/// Show or change your own defaults: units, sensor, sound
#[derive(Debug, clap::Args)]
#[command(
    after_help = "An option on the command line overrides a setting, and a setting overrides \
what a job card says.

Examples:
  needlerest settings
  needlerest settings set unit bar
  needlerest settings set announce 'spd-say \"$NEEDLEREST_TEXT\"'
  needlerest settings forget unit"
)]
pub(in crate::cli) struct Args {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Set a default
    Set {
        /// unit, also, sensor, adapter or announce
        name: String,
        /// What it is to be
        value: String,
    },
    /// Forget a default
    Forget {
        /// unit, also, sensor, adapter or announce
        name: String,
    },
}

pub(in crate::cli) fn run(args: &Args) -> Outcome {
    let path = path()?;
    match &args.what {
        None => show(&path),
        Some(What::Set { name, value }) => {
            let key = known(name)?;
            key.check(value).map_err(|why| {
                Failure::new(Exit::Usage, why)
                    .at(format!("{} {value:?}", key.name))
                    .remedy("needlerest settings shows what each is for")
            })?;
            change(&path, key, Some(value))?;
            out::stdout().line(format!("{name} = {value} in {}", path.display()))?;
            Ok(Exit::Done)
        }
        Some(What::Forget { name }) => {
            change(&path, known(name)?, None)?;
            writeln!(out::stdout(), "{name} is no longer set.")?;
            Ok(Exit::Done)
        }
    }
}

fn known(name: &str) -> Result<Key, Failure> {
    Key::named(name).map_err(|why| Failure::new(Exit::Usage, why).at("NAME"))
}

fn show(path: &Path) -> Outcome {
    let settings = Settings::read(path)?;
    let mut out = out::stdout();
    let there = if path.exists() {
        ""
    } else {
        " (not there yet)"
    };
    out.line(format!("{}{there}", path.display()))?;
    writeln!(out)?;
    for key in KEYS {
        let value = settings.get(key.name).unwrap_or("–");
        out.line(format!("{:<10} {value:<24} {}", key.name, key.about))?;
    }
    writeln!(out, "\nneedlerest settings set NAME VALUE changes one.")?;
    Ok(Exit::Done)
}

/// Puts a value into the file, or takes it out; all else in the file stays as it is.
fn change(path: &Path, key: Key, value: Option<&str>) -> Result<(), Failure> {
    let failed = |error: std::io::Error| Failure::file(path, "write", &error);
    // What is there must make sense before it is touched.
    Settings::read(path)?;
    let before = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(error) => return Err(failed(error)),
    };
    let after = changed(&before, key.name, value);
    Settings::parse(&after, path)?;
    document::save(path, &after)
}

/// The text with this one entry replaced, added or taken out.
fn changed(text: &str, name: &str, value: Option<&str>) -> String {
    let entry = value.map(|value| format!("{name} = {}\n", toml::Value::from(value)));
    let entry = entry.unwrap_or_default();
    let table = DeTable::parse(text).ok();
    let found = table.as_ref().and_then(|table| {
        let mut entries = table.get_ref().iter();
        let (key, value) = entries.find(|(key, _)| key.get_ref() == name)?;
        Some((key.span().start, value.span().end))
    });
    let Some((start, end)) = found else {
        let gap = if text.is_empty() || text.ends_with('\n') {
            ""
        } else {
            "\n"
        };
        return format!("{text}{gap}{entry}");
    };
    let (before, rest) = (text.get(..start), text.get(end..));
    let after = rest
        .and_then(|rest| rest.split_once('\n'))
        .map_or("", |(_, after)| after);
    format!("{}{entry}{after}", before.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_entry_changes_and_the_rest_stays() {
        let text = "# mine\nunit = \"bar\" # for Ann\nsensor = 'shed'\n";
        assert_eq!(
            changed(text, "unit", Some("psi")),
            "# mine\nunit = \"psi\"\nsensor = 'shed'\n"
        );
        assert_eq!(changed(text, "unit", None), "# mine\nsensor = 'shed'\n");
        assert_eq!(changed(text, "also", None), text);
        assert_eq!(
            changed("unit = \"bar\"", "also", Some("psi")),
            "unit = \"bar\"\nalso = \"psi\"\n"
        );
    }
}
