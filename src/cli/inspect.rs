//! `inspect`: what a recording holds, and whether it is whole.

use super::out::Out;
use super::signature::{self, Signed};
use super::{Exit, Failure, Outcome, out};
use crate::recording::{
    Damage, OpenError, RecoverError, SealState, Summary, WriteError, open, recover,
};
use crate::report::words;
use serde_json::json;
use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

/// Show what a recording holds and whether it is whole
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest inspect session.jsonl
  needlerest inspect torn.jsonl --recover whole.jsonl")]
pub(super) struct Args {
    /// The recording
    recording: PathBuf,
    /// Write every undamaged line to a new recording
    #[arg(long, value_name = "COPY")]
    recover: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Outcome {
    let path = &args.recording;
    let mut reader = open(path).map_err(|error| cannot_open(path, &error))?;
    let summary =
        Summary::read(&mut reader).map_err(|error| Failure::file(path, "read", &error))?;
    let recovered = match &args.recover {
        Some(copy) => Some(recover_to(path, copy)?),
        None => None,
    };
    let seal = match &summary.seal {
        SealState::Holds { sha256 } => Some(sha256.as_str()),
        _ => None,
    };
    // A signature that cannot be read is told once the recording has been.
    let signature = signature::check(path, None, None, seal);
    let signed = signature.as_ref().ok().and_then(Option::as_ref);
    let mut out = out::stdout();
    if args.json {
        let found = json!({
            "summary": summary,
            "signature": signed,
            "recovered": recovered,
        });
        out.json(&format!("{found:#}"))?;
    } else {
        show(&mut out, &summary, signed)?;
        if let (Some(recovered), Some(copy)) = (&recovered, &args.recover) {
            let (kept, copy) = (recovered.kept, copy.display());
            writeln!(out)?;
            out.line(format!(
                "{} kept in {copy}, read again and found whole.",
                words::many(kept, "line")
            ))?;
        }
    }
    if signature?.is_some_and(|signed| !signed.holds) {
        return Ok(Exit::Mismatch);
    }
    let lost = summary.decoded.is_some_and(|counts| counts.lost > 0);
    Ok(if not_whole(&summary).is_none() && !lost {
        Exit::Done
    } else {
        Exit::Loss
    })
}

/// Why a recording cannot be opened, for a person.
pub(super) fn cannot_open(path: &Path, error: &OpenError) -> Failure {
    let (exit, remedy) = match error {
        OpenError::Io(error) => return Failure::file(path, "read", error),
        OpenError::Empty => (Exit::BadInput, "nothing can be had from it; record again"),
        OpenError::NotARecording => (Exit::BadInput, "give a file that needlerest recorded"),
        OpenError::Newer { .. } => (Exit::BadInput, "use a newer needlerest"),
        OpenError::DamagedHeader { .. } => (
            Exit::BadInput,
            "look for another copy; without its first line nothing says how to read the rest",
        ),
    };
    Failure::new(exit, error).at(path.display()).remedy(remedy)
}

fn recover_to(path: &Path, copy: &Path) -> Result<crate::recording::Recovered, Failure> {
    let file = File::open(path).map_err(|error| Failure::file(path, "read", &error))?;
    recover(BufReader::new(file), copy).map_err(|error| match &error {
        RecoverError::Open(error) => cannot_open(path, error),
        RecoverError::Read(error) => Failure::file(path, "read", error),
        RecoverError::Write(WriteError::Exists) => Failure::new(Exit::Failed, error)
            .at(copy.display())
            .remedy("give a name that is not taken"),
        RecoverError::Write(_) | RecoverError::Unfaithful(_) => Failure::new(Exit::Failed, error)
            .at(copy.display())
            .remedy("write it to another disk"),
    })
}

fn show(
    out: &mut Out<impl Write>,
    summary: &Summary,
    signed: Option<&Signed>,
) -> std::io::Result<()> {
    let mut say = |what: &str, text: String| out.line(format!("{what:<12} {text}"));
    if let Some(said) = not_whole(summary) {
        say("NOT WHOLE", said)?;
    }
    for (what, text) in facts(summary) {
        say(what, text)?;
    }
    if let Some(signed) = signed {
        say("signature", signed.line())?;
    }
    for run in &summary.runs {
        let (at, cylinder, condition) = (run.at.s(), &run.cylinder, run.condition.label());
        say(
            "run",
            format!("{at:.1} s: cylinder {cylinder}, {condition}"),
        )?;
    }
    for note in &summary.notes {
        say("note", note.clone())?;
    }
    for damaged in &summary.damage {
        let (line, damage) = (damaged.line, &damaged.damage);
        let which = match damaged.count {
            1 => format!("line {line}"),
            more => format!("lines {line} to {}", line + more - 1),
        };
        say("damage", format!("{which}: {damage}"))?;
    }
    let told = summary.damage.iter().map(|damaged| match damaged.damage {
        Damage::Missing { lines } => lines,
        _ => damaged.count,
    });
    let told = told.fold(0_u64, u64::saturating_add);
    let all = summary.damaged_lines.saturating_add(summary.missing_lines);
    if all > told {
        let more = all - told;
        say("damage", format!("and {more} more lines, not listed here"))?;
    }
    Ok(())
}

/// What is the matter with the recording; none if it is whole.
fn not_whole(summary: &Summary) -> Option<String> {
    let many = |count: u64, what: &str| {
        (count > 0).then(|| format!("{} {what}", words::many(count, "line")))
    };
    let seal = match &summary.seal {
        SealState::Holds { .. } => None,
        SealState::Missing => Some("it was cut short, or is still going on".to_owned()),
        SealState::Broken { .. } => Some("it was changed after it was sealed".to_owned()),
    };
    let said = [
        many(summary.damaged_lines, "cannot be used"),
        many(summary.missing_lines, "missing"),
        seal,
    ];
    let said: Vec<String> = said.into_iter().flatten().collect();
    (!said.is_empty()).then(|| said.join("; "))
}

fn facts(summary: &Summary) -> Vec<(&'static str, String)> {
    let header = &summary.header;
    let name = |name: &str| {
        if name.is_empty() {
            "(no name)".to_owned()
        } else {
            name.to_owned()
        }
    };
    let mut facts = vec![
        ("started", words::moment(&header.started)),
        (
            "length",
            format!(
                "{:.1} s, {}",
                summary.duration.s(),
                words::many(summary.lines, "line")
            ),
        ),
        (
            "sensor",
            format!("{} ({})", name(&header.sensor.name), header.sensor.address),
        ),
        (
            "correction",
            header.sensor.correction.as_ref().map_or_else(
                || "none".to_owned(),
                |checked| {
                    let last = &checked.last;
                    format!(
                        "by the check of {} against \"{}\"",
                        last.date, last.reference
                    )
                },
            ),
        ),
        (
            "protocol",
            match (&summary.protocol, &summary.protocol_error) {
                (Some(name), _) => name.clone(),
                (None, Some(error)) => format!("cannot be used: {error}"),
                (None, None) => "none".to_owned(),
            },
        ),
        (
            "job card",
            if header.card.is_some() { "yes" } else { "none" }.to_owned(),
        ),
    ];
    for (from, count) in &summary.packets {
        facts.push(("packets", format!("{count} of {from}")));
    }
    if let Some(counts) = &summary.decoded {
        facts.push(("samples", counts.samples.to_string()));
        let troubles = [
            (counts.lost, "packets lost"),
            (counts.repeated, "packets repeated"),
            (counts.reordered, "packets out of order, put back"),
            (counts.short, "packets too short"),
            (counts.long, "packets with bytes left over"),
            (counts.unknown_status, "packets with unknown status bits"),
            (counts.out_of_range, "samples out of range"),
            (counts.link_losses, "link losses"),
            (counts.restarts, "restarts of the sensor"),
            (counts.spoilt, "frames or lines whose check failed"),
            (counts.unread, "lines that do not fit the pattern"),
            (counts.other_kind, "messages of another kind"),
            (counts.skipped_bytes, "bytes that begin no frame or line"),
        ];
        for (count, what) in troubles {
            if count > 0 {
                facts.push(("trouble", format!("{count} {what}")));
            }
        }
    }
    facts.push((
        "seal",
        match &summary.seal {
            SealState::Holds { sha256 } => format!("holds: nothing was changed since ({sha256})"),
            SealState::Missing if summary.torn_tail => {
                "none, and the last line breaks off: recording was cut short".to_owned()
            }
            SealState::Missing => "none: recording was cut short, or is still going on".to_owned(),
            SealState::Broken { .. } => {
                "DOES NOT HOLD: the file was changed after it was sealed".to_owned()
            }
        },
    ));
    facts
}
