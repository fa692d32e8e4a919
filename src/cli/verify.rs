//! `verify`: holds a report against its recording.

use super::analyse::{self, AnalysisArgs};
use super::signature::{self, Signed};
use super::{Exit, Failure, Outcome, document, out};
use crate::assess::RuleSet;
use crate::pipeline::{self, ByHand, ByHandError};
use crate::recording;
use crate::report::verify::{
    Agreement, Comparison, ExamineError, Examined, Submitted, compare, set_by_hand,
};
use crate::report::{NAMES, changed_entries, damage, words};
use serde::Serialize;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Check a report against its recording: is the recording whole, and does every byte of the
/// report follow from it
///
/// The report is made again and compared, file by file. What was set by hand for it (--card,
/// --tolerance, …) is kept in it and repeated; what is given here takes precedence. Of a report
/// made by another version of this program only the findings are compared: exit code 7.
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
    /// The public key of the person who should have signed
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
    /// What is the matter with the recording, one sentence each.
    damage: Vec<String>,
    seal_holds: bool,
    same_seal: bool,
    signature: Option<Signed>,
    comparison: Comparison,
    /// Entries of a job card or rule set given by hand that are not as they would be without it.
    changed_by_hand: Vec<String>,
    agreement: Agreement,
}

pub(super) fn run(args: &Args) -> Outcome {
    let report = submitted(&args.report)?;
    let recording = analyse::open(&args.recording)?;
    let by_hand = set_by_hand(&report).map_err(|error| not_examined(&error, &args.report))?;
    let changed_by_hand = changed(&by_hand, &args.recording);
    let options = by_hand
        .options(args.analysis.options()?)
        .map_err(|error| not_repeated(&error, &args.report))?;
    let analysis = pipeline::analyse(recording, options)
        .map_err(|error| analyse::failure(&args.recording, &error))?;
    let comparison = compare(&report, &analysis.findings, &analysis.traces)
        .map_err(|error| not_examined(&error, &args.report))?;
    let facts = &analysis.findings.recording;
    let (signature, key) = (args.signature.as_deref(), args.public_key.as_deref());
    let signature = signature::check(&args.recording, signature, key, facts.seal.as_deref())?;
    let same_seal = facts.seal.is_some() && comparison.report_seal == facts.seal;
    let damage = damage(facts);
    let whole = damage.is_empty();
    let sound = whole && same_seal && signature.as_ref().is_none_or(|signed| signed.holds);
    let found = Found {
        recording_whole: whole,
        damage,
        seal_holds: facts.seal_holds,
        same_seal,
        agreement: if sound {
            comparison.agreement
        } else {
            Agreement::No
        },
        signature,
        comparison,
        changed_by_hand,
    };
    let mut out = out::stdout();
    if args.json {
        let text =
            serde_json::to_string_pretty(&found).map_err(|e| Failure::new(Exit::Failed, e))?;
        out.json(&text)?;
    } else {
        print(&mut out, &found, facts.seal.is_some())?;
    }
    Ok(match found.agreement {
        Agreement::EveryByte => Exit::Done,
        Agreement::InPart => Exit::InPart,
        Agreement::No => Exit::Mismatch,
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

fn submitted(report: &Path) -> Result<Submitted, Failure> {
    let read =
        |path: &Path, name: String| document::of_report(path).map(|bytes| Examined { name, bytes });
    if !report.is_dir() {
        let name = report.file_name().unwrap_or_default();
        let file = read(report, name.to_string_lossy().into_owned())?;
        return Ok(Submitted::file(file));
    }
    let place = |name: &str| Some(report.join(name)).filter(|path| path.is_file());
    let files = NAMES
        .into_iter()
        .filter_map(|name| Some(read(&place(name)?, name.to_owned())))
        .collect::<Result<_, _>>()?;
    let failed = |error: std::io::Error| Failure::file(report, "list", &error);
    let mut others = Vec::new();
    for entry in fs::read_dir(report).map_err(failed)? {
        let name = entry.map_err(failed)?.file_name();
        let name = name.to_string_lossy().into_owned();
        if !NAMES.contains(&name.as_str()) || place(&name).is_none() {
            others.push(name);
        }
    }
    others.sort();
    Ok(Submitted::folder(files, others))
}

/// What a job card and a rule set that were given by hand change.
fn changed(by_hand: &ByHand, recording: &Path) -> Vec<String> {
    let mut changed = Vec::new();
    if let Some(card) = &by_hand.card {
        // A recording that cannot be opened is told by the analysis.
        let kept = recording::open(recording).ok();
        let kept = kept.and_then(|reader| reader.header().card.clone());
        let entries = changed_entries(kept.as_deref().unwrap_or(""), &card.text);
        changed.extend(entries.into_iter().map(|entry| format!("card: {entry}")));
    }
    if let Some(rules) = &by_hand.rules {
        let entries = changed_entries(RuleSet::SHIPPED, &rules.text);
        changed.extend(entries.into_iter().map(|entry| format!("rules: {entry}")));
    }
    changed
}

/// So many of a kind are listed one by one; all are counted.
const LISTED: usize = 20;

fn print(out: &mut impl Write, found: &Found, sealed: bool) -> std::io::Result<()> {
    for said in &found.damage {
        writeln!(out, "recording  {said}")?;
    }
    if found.recording_whole {
        writeln!(out, "recording  every line is whole")?;
    }
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
        writeln!(out, "signature  {}", signed.line())?;
    }
    print_files(out, &found.comparison)?;
    for line in &found.comparison.set_by_hand {
        writeln!(out, "repeated   {}", words::clean(line))?;
    }
    let changed = &found.changed_by_hand;
    for line in changed.iter().take(LISTED) {
        writeln!(out, "  {}", words::shorten(line, 150))?;
    }
    print_more(out, changed.len().saturating_sub(LISTED) as u64)?;
    print_differences(out, &found.comparison)?;
    writeln!(out, "{}", verdict(found))
}

fn print_files(out: &mut impl Write, comparison: &Comparison) -> std::io::Result<()> {
    let list = |names: &[String]| {
        let some = names.iter().take(LISTED).map(|n| words::shorten(n, 40));
        let more = names.len().saturating_sub(LISTED);
        let more = (more > 0).then(|| format!("and {more} more"));
        some.chain(more).collect::<Vec<_>>().join(", ")
    };
    let how = if comparison.same_version {
        "every byte".to_owned()
    } else if comparison.other_form {
        "which recording it is of; its findings are in another form".to_owned()
    } else {
        let by = words::shorten(&comparison.written_by, 20);
        format!("the findings alone, as the report was made by another version, {by}")
    };
    writeln!(out, "compared   {} ({how})", list(&comparison.compared))?;
    if !comparison.not_compared.is_empty() {
        let why = if comparison.same_version {
            "not made by `replay --report` of this program"
        } else {
            "only the version that made them could tell"
        };
        let named = |name: &String| {
            let part = if comparison.compared.contains(name) {
                "the rest of "
            } else {
                ""
            };
            format!("{part}{name}")
        };
        let names: Vec<String> = comparison.not_compared.iter().map(named).collect();
        writeln!(out, "not compared  {} ({why})", list(&names))?;
    }
    if !comparison.missing.is_empty() {
        let names = list(&comparison.missing);
        writeln!(out, "missing    {names} (a report has them)")?;
    }
    Ok(())
}

fn print_differences(out: &mut impl Write, comparison: &Comparison) -> std::io::Result<()> {
    let count = comparison.differences.len() as u64 + comparison.more_differences;
    let what = if comparison.same_version {
        "content"
    } else if comparison.other_form {
        "recording"
    } else {
        "findings"
    };
    match count {
        0 => writeln!(out, "{what:<10} as today's analysis gives it")?,
        1 => writeln!(out, "{what:<10} 1 difference from today's analysis")?,
        _ => writeln!(out, "{what:<10} {count} differences from today's analysis")?,
    }
    for difference in comparison.differences.iter().take(LISTED) {
        writeln!(out, "  {}", words::clean(&difference.place))?;
        let (report, today) = (&difference.report, &difference.today);
        writeln!(out, "    report: {}", words::shorten(report, 70))?;
        writeln!(out, "    today:  {}", words::shorten(today, 70))?;
    }
    print_more(out, count.saturating_sub(LISTED as u64))
}

fn print_more(out: &mut impl Write, more: u64) -> std::io::Result<()> {
    match more {
        0 => Ok(()),
        _ => writeln!(out, "  … and {more} more; --json lists them"),
    }
}

fn verdict(found: &Found) -> String {
    let comparison = &found.comparison;
    match found.agreement {
        Agreement::EveryByte if comparison.set_by_hand.is_empty() => {
            "The report follows from the recording.".to_owned()
        }
        Agreement::EveryByte => "The report follows from the recording, with what was set by hand \
             as told above."
            .to_owned(),
        Agreement::InPart if comparison.same_version => {
            "What was compared follows from the recording; the report is NOT verified as a whole."
                .to_owned()
        }
        Agreement::InPart if comparison.other_form => format!(
            "Made by {}, in another form: it is of this recording; numbers, page, tables and pictures \
             were NOT compared. The program that made it can do that.",
            words::shorten(&comparison.written_by, 20)
        ),
        Agreement::InPart => format!(
            "Made by {}: its numbers agree; page, tables and pictures were NOT compared.",
            words::shorten(&comparison.written_by, 20)
        ),
        Agreement::No => "The report does NOT follow from the recording as it stands.".to_owned(),
    }
}
