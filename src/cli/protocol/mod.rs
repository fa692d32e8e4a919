//! `protocol`: checks a protocol file, and shows how a payload decodes by it.

mod conform;
mod judge;
mod trial;

use super::live::choice::read;
use super::out::{self, Out};
use super::{Exit, Failure, Outcome};
use crate::engine::rating;
use crate::protocol::{
    Answer, Check, CheckKind, Explained, ProtocolFile, Reference, Row, explain, limits, schema,
};
use crate::report::words;
use crate::units::PressureUnit;
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};

/// The worked example of protocol/README.md.
const EXAMPLE: &str = include_str!("../../../protocol/workbench/sensor.toml");

/// Check a protocol file; show how a payload decodes by it
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest protocol check protocol/reference-sensor.toml
  needlerest protocol decode protocol/environmental-sensing.toml 02 76 0F 00
  needlerest protocol decode my-sensor.toml --text 'P=101.3 kPa'
  needlerest protocol example > my-sensor.toml
  needlerest protocol schema > protocol-file.schema.json")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Check a protocol file and say what it describes
    Check {
        /// The protocol file (TOML)
        file: PathBuf,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show a payload of the stream field by field
    Decode {
        /// The protocol file (TOML)
        file: PathBuf,
        /// The payload in hexadecimal; spaces, colons and 0x are passed over. Of a stream of frames
        /// or lines, any stretch
        #[arg(required_unless_present = "text")]
        hex: Vec<String>,
        /// A line of text as the sensor sends it, instead of HEX
        #[arg(
            long,
            value_name = "LINE",
            conflicts_with = "hex",
            allow_hyphen_values = true
        )]
        text: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    Conform(conform::Args),
    /// Print a protocol file to begin one's own with: the workbench sensor's
    Example,
    /// Print the JSON Schema of protocol files
    Schema,
}

pub(super) fn run(args: &Args) -> Outcome {
    match &args.what {
        What::Check { file, json } => check(file, *json),
        What::Decode {
            file,
            hex,
            text,
            json,
        } => decode(file, hex, text.as_deref(), *json),
        What::Conform(args) => conform::run(args),
        What::Example => {
            write!(out::stdout(), "{EXAMPLE}")?;
            Ok(Exit::Done)
        }
        What::Schema => {
            writeln!(out::stdout(), "{}", schema())?;
            Ok(Exit::Done)
        }
    }
}

fn check(path: &Path, as_json: bool) -> Outcome {
    let file = read(path)?;
    let mut out = out::stdout();
    if as_json {
        let facts = json!({
            "sound": true,
            "name": file.name(),
            "accuracy": file.accuracy_text(),
            "resolution_pa": file.resolution(),
            "serves": file.gauge_top().map(|top| rating::serves(top, PressureUnit::Bar)),
            "tried": trial::trial(&file),
            "lacking": trial::lacking(&file),
            "spec": file.spec(),
        });
        out.json(&format!("{facts:#}"))?;
        return Ok(Exit::Done);
    }
    for (what, text) in facts(&file) {
        let what = format!("{what:<12} ");
        // A line feed in a name must not pass for a line of ours.
        let text = text.replace('\n', "\u{240a}");
        let layout = textwrap::Options::new(super::terminal::width())
            .initial_indent(&what)
            .subsequent_indent("             ");
        writeln!(out, "{}", textwrap::fill(&text, layout))?;
    }
    let tried = trial::trial(&file);
    writeln!(
        out,
        "{:<12} {} samples packed into {} payloads of up to {} bytes and read back: off by at \
         most {:.3} kPa",
        "tried",
        tried.samples,
        tried.packets,
        tried.longest,
        tried.worst_pa / 1e3
    )?;
    if !tried.alike {
        return Err(Failure::new(
            Exit::BadInput,
            "what is packed as this file says does not read back alike",
        )
        .at(path.display())
        .remedy("see whether type, scale and offset of the pressure can hold the sensor's range"));
    }
    let layout = textwrap::Options::new(super::terminal::width())
        .initial_indent("mind         ")
        .subsequent_indent("             ");
    for said in trial::lacking(&file) {
        writeln!(out, "{}", textwrap::fill(&words::clean(&said), &layout))?;
    }
    writeln!(out, "\nThe file is sound.")?;
    Ok(Exit::Done)
}

/// What a protocol file describes, in plain words.
fn facts(file: &ProtocolFile) -> Vec<(&'static str, String)> {
    let spec = file.spec();
    let mut facts = vec![("name", file.name().to_owned())];
    let service = spec.recognise.service.map(|uuid| format!("service {uuid}"));
    let prefix = spec.recognise.name_prefix.as_ref();
    let prefix = prefix.map(|prefix| format!("a name that begins with \"{prefix}\""));
    let known_by: Vec<String> = service.into_iter().chain(prefix).collect();
    facts.push(("known by", known_by.join(" and ")));
    facts.push((
        "pressure",
        match file.reference() {
            Reference::Gauge => "gauge".to_owned(),
            Reference::Absolute => "absolute; the pressure at rest is subtracted".to_owned(),
        },
    ));
    let kpa = |pressure: Option<crate::units::Pressure>| {
        pressure.map_or("not stated".to_owned(), |p| format!("{} kPa", p.kpa()))
    };
    facts.push((
        "range",
        format!("{} to {}", kpa(file.range_low()), kpa(file.range_high())),
    ));
    if let Some(top) = file.gauge_top() {
        facts.push(("serves", rating::serves(top, PressureUnit::Bar)));
    }
    facts.push(("resolution", kpa(file.resolution())));
    facts.push(("accuracy", file.accuracy_text()));
    facts.push((
        "rate",
        file.rate().map_or("not stated".to_owned(), |rate| {
            format!("{} samples a second", rate.hz())
        }),
    ));
    facts.push((
        "time",
        match file.tick_us() {
            Some(tick) => format!("the sensor's own clock, ticks of {tick} µs"),
            None => "when a packet arrives".to_owned(),
        },
    ));
    facts.push(("stream", stream(file)));
    facts.extend(ask(file).map(|text| ("asked", text)));
    let commands = spec.commands.as_ref().map(|commands| {
        let all = [
            ("start", &commands.start),
            ("stop", &commands.stop),
            ("zero", &commands.zero),
            ("set rate", &commands.set_rate),
        ];
        let known = all.into_iter().filter(|(_, text)| text.is_some());
        known.map(|(name, _)| name).collect::<Vec<_>>().join(", ")
    });
    facts.push(("commands", commands.unwrap_or("none".to_owned())));
    facts
}

/// Where pressures come from, and in what form.
fn stream(file: &ProtocolFile) -> String {
    let stream = &file.spec().stream;
    let mut parts = vec![format!("characteristic {}", stream.uuid)];
    if let Some(service) = stream.service {
        parts.push(format!("of service {service}"));
    }
    let checked = |check: Option<&Check>| match check {
        Some(check) => {
            let kind = match check.kind {
                CheckKind::Crc => "cyclic redundancy check",
                CheckKind::Sum => "sum",
                CheckKind::Xor => "exclusive-or",
            };
            format!("with a check ({kind} of {} bits)", check.width)
        }
        None => "without a check".to_owned(),
    };
    if let Some(lines) = &stream.text {
        let check = checked(lines.check.as_ref());
        parts.push(format!("in lines of text {check}: {}", lines.line));
    }
    if let Some(frame) = &stream.frame {
        let check = checked(frame.check.as_ref());
        parts.push(format!("in frames that begin with {} {check}", frame.start));
    }
    parts.join(" ")
}

/// How pressure is asked for, where it does not come by itself.
fn ask(file: &ProtocolFile) -> Option<String> {
    let ask = file.ask()?;
    let often = format!("{} times a second", ask.rate_hz);
    let question = match &ask.write {
        Some(bytes) => {
            let to = ask.uuid.unwrap_or(file.spec().stream.uuid);
            format!("{often}: {bytes} is written to characteristic {to}")
        }
        None => often,
    };
    Some(match ask.answer {
        Answer::Notify => format!("{question}, the answer is notified"),
        Answer::Read => format!("{question}, the answer is read"),
        Answer::NotifyOrRead => format!("where it does not notify, it is read {question}"),
    })
}

fn decode(path: &Path, hex: &[String], text: Option<&str>, as_json: bool) -> Outcome {
    let file = read(path)?;
    let stream = &file.spec().stream;
    let payload = match text {
        Some(_) if stream.text.is_none() => {
            return Err(Failure::new(Exit::Usage, "the sensor does not send text")
                .at("--text")
                .remedy("give the bytes in hexadecimal"));
        }
        Some(line) => line.as_bytes().to_vec(),
        None => payload(hex, stream.text.is_some() || stream.frame.is_some())?,
    };
    let shown = explain(&file, &payload);
    let mut out = out::stdout();
    if as_json {
        out.json(&format!("{:#}", json!(shown)))?;
    } else {
        table(&mut out, &shown)?;
    }
    Ok(if shown.usable { Exit::Done } else { Exit::Loss })
}

/// Bytes as they were typed. A stretch of a stream may be longer than a packet.
fn payload(hex: &[String], is_stretch: bool) -> Result<Vec<u8>, Failure> {
    let text = hex.join(" ").replace("0x", " ").replace("0X", " ");
    let digits: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, ':' | ',' | '-'))
        .collect();
    let wrong = |what: String| {
        Failure::new(Exit::Usage, what)
            .at("HEX")
            .remedy("write each byte as two hexadecimal digits, such as 02 76 0F 00")
    };
    let payload = ::hex::decode(&digits).map_err(|error| wrong(error.to_string()))?;
    if payload.len() > limits::PAYLOAD && !is_stretch {
        let what = format!(
            "the payload is {} bytes, Bluetooth carries 512",
            payload.len()
        );
        return Err(wrong(what));
    }
    Ok(payload)
}

fn table(out: &mut Out<impl Write>, shown: &Explained) -> std::io::Result<()> {
    let columns = ["byte", "bytes", "field", "type", "raw", "value"];
    let rows: Vec<[String; 6]> = shown.rows.iter().map(cells).collect();
    let mut widths = columns.map(str::len);
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut line = |cells: [&str; 6]| {
        let padded = cells
            .iter()
            .zip(widths)
            .map(|(cell, width)| format!("{cell:<width$}"));
        out.line(padded.collect::<Vec<_>>().join("  ").trim_end())
    };
    line(columns)?;
    for row in &rows {
        line(row.each_ref().map(String::as_str))?;
    }
    for note in &shown.notes {
        out.line(format!("note: {note}"))?;
    }
    Ok(())
}

fn cells(row: &Row) -> [String; 6] {
    let field = row
        .name
        .clone()
        .unwrap_or_else(|| row.role.name().to_owned());
    let sample = row
        .sample
        .map_or(String::new(), |sample| format!(" {sample}"));
    let number = row.value.map(|value| {
        let unit = row.unit.map_or(String::new(), |unit| format!(" {unit}"));
        format!("{value}{unit}")
    });
    let value = match (number, &row.meaning) {
        (Some(number), Some(meaning)) => format!("{number} ({meaning})"),
        (Some(number), None) => number,
        (None, Some(meaning)) => meaning.clone(),
        (None, None) => String::new(),
    };
    [
        row.at.to_string(),
        row.bytes.clone(),
        format!("{field}{sample}"),
        row.kind.to_owned(),
        row.raw.clone(),
        value,
    ]
}
