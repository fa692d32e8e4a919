//! `overview`: a folder of recordings at a glance.

use super::analyse::AnalysisArgs;
use super::terminal::{progress, width};
use super::{Exit, Failure, Outcome, out};
use crate::pipeline::{self, Options, PlayError};
use crate::recording::OpenError;
use crate::report::overview::{Failed, Overview, Session, outputs, text};
use crate::report::{Consent, Units, write_folder};
use crate::units::PressureUnit;
use rayon::prelude::*;
use std::fs::{self, File};
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

/// Compare all recordings in a folder: engine, date, lowest cylinder, spread, score,
/// change since last
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  needlerest overview recordings --out overview")]
pub(super) struct Args {
    /// The folder with the recordings; other files in it are ignored
    folder: PathBuf,
    /// Write page, JSON and table into this folder
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    /// Replace an overview that is there already
    #[arg(long, requires = "out")]
    replace: bool,
    /// Unit of the pressures shown
    #[arg(long, value_name = "UNIT", default_value = "psi")]
    unit: PressureUnit,
    #[command(flatten)]
    analysis: AnalysisArgs,
    /// Print the overview as JSON
    #[arg(long)]
    json: bool,
}

/// What became of a file.
enum Read {
    Session(Box<Session>),
    Failed(Failed),
    /// It is no recording.
    Other,
}

pub(super) fn run(args: &Args) -> Outcome {
    let files = files(&args.folder)?;
    let options = Options {
        unit: Some(args.unit),
        ..args.analysis.options()?
    };
    let bar = progress(files.len() as u64, "reading");
    let read: Vec<Read> = files
        .par_iter()
        .map(|path| {
            let read = read(path, &options);
            bar.inc(1);
            read
        })
        .collect();
    bar.finish_and_clear();
    let (mut sessions, mut failed) = (Vec::new(), Vec::new());
    for one in read {
        match one {
            Read::Session(session) => sessions.push(*session),
            Read::Failed(why) => failed.push(why),
            Read::Other => {}
        }
    }
    let damaged = |session: &Session| !session.damage.is_empty();
    let loss = !failed.is_empty() || sessions.iter().any(damaged);
    if sessions.is_empty() && failed.is_empty() {
        return Err(
            Failure::new(Exit::NoReading, "there is no recording in this folder")
                .at(args.folder.display())
                .remedy("name a folder with files that `record` or `simulate` wrote"),
        );
    }
    let overview = Overview::new(sessions, failed);
    let units = Units {
        main: args.unit,
        also: None,
    };
    print(args, &overview, units)?;
    Ok(if loss { Exit::Loss } else { Exit::Done })
}

fn print(args: &Args, overview: &Overview, units: Units) -> Result<(), Failure> {
    let mut out = out::stdout();
    if args.json {
        let json =
            serde_json::to_string_pretty(overview).map_err(|e| Failure::new(Exit::Failed, e))?;
        out.json(&json)?;
    } else {
        write!(out, "{}", text(overview, units, width()))?;
    }
    let Some(folder) = &args.out else {
        return Ok(());
    };
    let made = outputs(overview, units).map_err(|error| Failure::new(Exit::Failed, error))?;
    let consent = if args.replace {
        Consent::Replace
    } else {
        Consent::Keep
    };
    write_folder(folder, &made, consent).map_err(|error| {
        Failure::new(Exit::Failed, &error)
            .at(folder.display())
            .remedy(error.remedy())
    })?;
    if !args.json {
        writeln!(out)?;
        let page = folder.join("overview.html");
        out.line(format!("The overview is in {}", page.display()))?;
    }
    Ok(())
}

/// The folder's files by name; folders in it are not searched.
fn files(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let failure = |error: std::io::Error| Failure::file(folder, "list", &error);
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).map_err(failure)? {
        let path = entry.map_err(failure)?.path();
        if path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

fn read(path: &Path, options: &Options) -> Read {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let failed = |why: String| {
        Read::Failed(Failed {
            file: name.clone(),
            why,
        })
    };
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) => return failed(error.to_string()),
    };
    match pipeline::analyse(BufReader::new(file), options.clone()) {
        Ok(analysis) => Read::Session(Box::new(Session::new(&name, &analysis.findings))),
        Err(PlayError::Open(OpenError::NotARecording | OpenError::Empty)) => Read::Other,
        Err(error) => failed(error.to_string()),
    }
}
