//! `verify`: holds a report against its recording.

use super::analyse::{self, AnalysisArgs};
use super::{Exit, Failure, Outcome, document};
use crate::pipeline::{self, ByHandError};
use crate::report::signature::{Signature, SignatureError};
use crate::report::verify::{Comparison, ExamineError, Examined, compare, set_by_hand};
use crate::report::{NAMES, words};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Check a report against its recording: is the recording whole, and does every number follow
/// from it
///
/// What was set by hand for the report (--card, --tolerance, …) is kept in it and repeated; what
/// is given here takes precedence.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  needlerest verify heron-report heron.jsonl\n  needlerest verify index.html heron.jsonl --public-key seller.pub"
)]
pub(super) struct Args {
    /// The report: its folder, its page, or its findings.json
    report: PathBuf,
    /// The recording that it was made from
    recording: PathBuf,
    /// The signature of the recording's seal; RECORDING.signature if that is there
    #[arg(long, value_name = "FILE")]
    signature: Option<PathBuf>,
    /// The public key of whom you expect the signature from
    #[arg(long, value_name = "FILE")]
    public_key: Option<PathBuf>,
    #[command(flatten)]
    analysis: AnalysisArgs,
    /// Print what was found as JSON
    #[arg(long)]
    json: bool,
}

/// All that was found.
#[derive(Serialize)]
struct Found {
    recording_whole: bool,
    damaged_lines: u64,
    seal_holds: bool,
    same_seal: bool,
    signature: Option<Signed>,
    comparison: Comparison,
    agrees: bool,
}

#[derive(Serialize)]
struct Signed {
    holds: bool,
    key: Option<String>,
    key_expected: bool,
    why_not: Option<String>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let files = report_files(&args.report)?;
    let recording = analyse::open(&args.recording)?;
    let by_hand = set_by_hand(&files).map_err(|error| not_examined(&error, &args.report))?;
    let options = by_hand
        .options(args.analysis.options()?)
        .map_err(|error| not_repeated(&error, &args.report))?;
    let analysis = pipeline::analyse(recording, options)
        .map_err(|error| analyse::failure(&args.recording, &error))?;
    let comparison = compare(&files, &analysis.findings, &analysis.traces)
        .map_err(|error| not_examined(&error, &args.report))?;
    let facts = &analysis.findings.recording;
    let signature = signature(args, facts.seal.as_deref())?;
    let same_seal = facts.seal.is_some() && comparison.report_seal == facts.seal;
    let whole = facts.damaged_lines == 0 && facts.seal_holds;
    let signature_good = signature.as_ref().is_none_or(|signed| signed.holds);
    let found = Found {
        recording_whole: whole,
        damaged_lines: facts.damaged_lines,
        seal_holds: facts.seal_holds,
        same_seal,
        agrees: whole && same_seal && signature_good && comparison.differences.is_empty(),
        signature,
        comparison,
    };
    let mut out = anstream::stdout().lock();
    if args.json {
        let text =
            serde_json::to_string_pretty(&found).map_err(|e| Failure::new(Exit::Failed, e))?;
        writeln!(out, "{text}")?;
    } else {
        print(&mut out, &found, facts.seal.is_some())?;
    }
    Ok(if found.agrees {
        Exit::Done
    } else {
        Exit::Mismatch
    })
}

fn not_examined(error: &ExamineError, report: &Path) -> Failure {
    Failure::new(Exit::BadInput, error)
        .at(report.display())
        .remedy("name a report's folder, its index.html or its findings.json")
}

fn not_repeated(error: &ByHandError, report: &Path) -> Failure {
    let remedy = "the report was altered, as what cannot be read makes no report; give the file \
                  that was used, with --card or --rules";
    Failure::new(Exit::BadInput, error)
        .at(report.display())
        .remedy(remedy)
}

fn report_files(report: &Path) -> Result<Vec<Examined>, Failure> {
    let read =
        |path: &Path, name: String| document::of_report(path).map(|bytes| Examined { name, bytes });
    if report.is_dir() {
        return NAMES
            .into_iter()
            .map(|name| (report.join(name), name))
            .filter(|(path, _)| path.is_file())
            .map(|(path, name)| read(&path, name.to_owned()))
            .collect();
    }
    let name = report.file_name().unwrap_or_default();
    Ok(vec![read(report, name.to_string_lossy().into_owned())?])
}

fn signature(args: &Args, seal: Option<&str>) -> Result<Option<Signed>, Failure> {
    let usual = super::sign::beside(&args.recording);
    let path = match &args.signature {
        Some(path) => path,
        None if usual.is_file() => &usual,
        None if args.public_key.is_some() => {
            return Err(
                Failure::new(Exit::Failed, "there is no signature to check with this key")
                    .at(usual.display())
                    .remedy("name the signature's file with --signature"),
            );
        }
        None => return Ok(None),
    };
    let public = args.public_key.as_deref().map(document::text).transpose()?;
    let bad = |error: &SignatureError, path: &Path| {
        Failure::new(Exit::BadInput, error).at(path.display())
    };
    let signature = Signature::parse(&document::text(path)?).map_err(|error| bad(&error, path))?;
    let checked = signature.check(seal.unwrap_or(""), public.as_deref());
    if let (Err(error @ SignatureError::Key(_)), Some(path)) = (&checked, &args.public_key) {
        return Err(bad(error, path));
    }
    Ok(Some(Signed {
        holds: checked.is_ok(),
        key: Some(hex::encode(signature.public_key)),
        key_expected: public.is_some(),
        why_not: checked.err().map(|error| error.to_string()),
    }))
}

/// Differences that are listed one by one; all are counted.
const LISTED: usize = 20;

fn print(out: &mut impl Write, found: &Found, sealed: bool) -> std::io::Result<()> {
    let recording = match found.damaged_lines {
        0 => "every line is whole".to_owned(),
        n => format!("{n} lines are damaged"),
    };
    writeln!(out, "recording  {recording}")?;
    let seal = match (sealed, found.seal_holds) {
        (true, true) => "holds: nothing was changed since it was sealed",
        (true, false) => "does NOT hold: the recording was changed after it was sealed",
        (false, _) => "there is none: recording was cut short, or goes on",
    };
    writeln!(out, "seal       {seal}")?;
    let same = if found.same_seal {
        "carries this seal"
    } else {
        "does NOT carry this seal: it was made from another recording, or altered"
    };
    writeln!(out, "report     {same}")?;
    if let Some(signed) = &found.signature {
        let key = signed.key.as_deref().unwrap_or("");
        let line = match (&signed.why_not, signed.key_expected) {
            (None, true) => "holds, and was made with the key you named".to_owned(),
            (None, false) => {
                format!("holds, made with key {key}; --public-key checks whose that is")
            }
            (Some(why), _) => format!("NOT accepted: {why}"),
        };
        writeln!(out, "signature  {line}")?;
    }
    let comparison = &found.comparison;
    let how = if comparison.same_version {
        "every byte".to_owned()
    } else {
        format!(
            "every number, as it was written by another version ({})",
            words::shorten(&comparison.written_by, 20)
        )
    };
    writeln!(out, "compared   {} ({how})", comparison.compared.join(", "))?;
    for line in &comparison.set_by_hand {
        writeln!(out, "repeated   {}", words::clean(line))?;
    }
    if !comparison.ignored.is_empty() {
        let names: Vec<String> = comparison
            .ignored
            .iter()
            .map(|n| words::shorten(n, 40))
            .collect();
        writeln!(
            out,
            "left out   {} (this program does not make them)",
            names.join(", ")
        )?;
    }
    let count = comparison.differences.len();
    if count == 0 {
        writeln!(out, "numbers    all as today's analysis gives them")?;
    } else {
        writeln!(out, "numbers    {count} differences from today's analysis")?;
    }
    for difference in comparison.differences.iter().take(LISTED) {
        writeln!(out, "  {}", words::clean(&difference.place))?;
        writeln!(
            out,
            "    report: {}",
            words::shorten(&difference.report, 70)
        )?;
        writeln!(out, "    today:  {}", words::shorten(&difference.today, 70))?;
    }
    if count > LISTED {
        writeln!(
            out,
            "  … and {} more; --json lists them all",
            count - LISTED
        )?;
    }
    let verdict = if found.agrees && comparison.set_by_hand.is_empty() {
        "The report follows from the recording."
    } else if found.agrees {
        "The report follows from the recording, with what was set by hand as told above."
    } else {
        "The report does NOT follow from the recording as it stands."
    };
    writeln!(out, "{verdict}")
}
