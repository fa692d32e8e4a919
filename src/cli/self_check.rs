//! `self-check`: step by step, what works between here and the sensor, and what to do.

use super::live::choice::Choice;
use super::live::runtime;
use super::{Exit, Failure, Outcome, out};
use crate::protocol::{Decoder, ProtocolFile};
use crate::report::words;
use crate::transport::ble::{Facts, Found, Scanner, Sensor, hide_known_race};
use crate::transport::{Arrival, LinkMeter, Source, TransportError};
use crate::units::Time;
use anstyle::{AnsiColor, Style};
use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

/// Check step by step what works between here and the sensor, and say what to do
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  needlerest self-check\n  needlerest self-check --sensor shed")]
pub(super) struct Args {
    #[command(flatten)]
    choice: Choice,
}

/// How long notifications are listened to.
const LISTEN: Duration = Duration::from_secs(3);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    runtime::run(check(args))
}

async fn check(args: &Args) -> Outcome {
    let protocols = args.choice.protocols()?;
    let mut scanner = match Scanner::open(args.choice.adapter.as_deref()).await {
        Ok(scanner) => {
            passed(
                "message bus, Bluetooth service, adapter",
                scanner.adapter_name(),
            )?;
            scanner
        }
        Err(error) => return failed(host_step(&error), error.into()),
    };
    let (found, protocol) = match args.choice.find(&mut scanner, &protocols).await {
        Ok(found) => found,
        Err(failure) => return failed("a sensor in reach", failure),
    };
    passed("a sensor in reach", &heard(&found))?;
    passed("its protocol file", protocol.name())?;
    let protocol = Arc::new(protocol);
    let mut sensor = match found.connect(scanner, Arc::clone(&protocol)).await {
        Ok(sensor) => sensor,
        Err(error @ TransportError::Mismatch { .. }) => {
            return failed("services as the protocol file says", error.into());
        }
        Err(error) => return failed("connection", error.into()),
    };
    passed("connection, services as the protocol file says", "")?;
    facts(&sensor.facts().await)?;
    match listen(sensor, &protocol).await {
        Ok(Some(heard)) => {
            passed("notifications", &heard.text)?;
            if heard.samples == 0 {
                let what = "what comes holds no pressure as the protocol file describes it";
                let failure = Failure::new(Exit::Failed, what).remedy(
                    "hold the bytes that the sensor sends against the file: needlerest protocol \
                     decode FILE HEX",
                );
                return failed("pressures", failure);
            }
        }
        Ok(None) => {
            let silent = format!("nothing came in {} s", LISTEN.as_secs());
            let failure = Failure::new(Exit::Failed, silent).remedy(
                "switch the sensor off and on; if it needs a start command, its protocol file \
                 must have it",
            );
            return failed("notifications", failure);
        }
        Err(error) => return failed("notifications", error.into()),
    }
    writeln!(
        out::stdout(),
        "\nAll is well: needlerest record will work with this sensor."
    )?;
    Ok(Exit::Done)
}

/// Which step on the way to the adapter an error stands for.
fn host_step(error: &TransportError) -> &'static str {
    match error {
        TransportError::NoBus { .. } => "message bus",
        TransportError::NoService { .. } => "Bluetooth service",
        TransportError::NotPermitted { .. } => "permission to use Bluetooth",
        TransportError::AdapterOff { .. } => "adapter switched on",
        _ => "Bluetooth adapter",
    }
}

fn heard(found: &Found) -> String {
    match found.rssi_dbm {
        Some(dbm) => format!("{}, {dbm} dBm", found.label()),
        None => found.label(),
    }
}

fn facts(facts: &Facts) -> Result<(), Failure> {
    for (name, text) in &facts.details {
        passed(name, text)?;
    }
    if let Some(percent) = facts.battery_percent {
        passed("battery", &format!("{percent} %"))?;
    }
    passed("longest notification", &format!("{} bytes", facts.carries))?;
    for what in &facts.agreeing {
        passed("the sensor's own description agrees", what)?;
    }
    for warning in &facts.warnings {
        let yellow = Style::new().fg_color(Some(AnsiColor::Yellow.into()));
        marked(yellow, "note", warning)?;
    }
    Ok(())
}

/// What came.
struct Heard {
    text: String,
    samples: u64,
}

/// Listens for a while and lets go.
async fn listen(sensor: Sensor, protocol: &ProtocolFile) -> Result<Option<Heard>, TransportError> {
    let mut stream = sensor.stream().await?;
    let mut decoder = Decoder::new(protocol);
    let mut meter = LinkMeter::new();
    let mut samples = Vec::new();
    let end = tokio::time::sleep(LISTEN);
    tokio::pin!(end);
    loop {
        let arrival = tokio::select! {
            () = &mut end => break,
            arrival = stream.next() => arrival?,
        };
        match arrival {
            Some(Arrival::Packet(packet)) => {
                let arrived = Time::from_s(packet.t_us as f64 * 1e-6);
                decoder.accept(&packet.from, arrived, &packet.hex, &mut samples);
                if packet.from == crate::protocol::STREAM {
                    meter.packet(packet.t_us, None);
                }
            }
            Some(_) => {}
            None => break,
        }
    }
    stream.stop().await?;
    let counts = decoder.counts();
    if counts.received == 0 {
        return Ok(None);
    }
    let seconds = LISTEN.as_secs_f64();
    let mut parts = vec![
        format!("{:.0} a second", counts.received as f64 / seconds),
        format!("{:.0} samples a second", counts.samples as f64 / seconds),
        format!("{} lost", counts.lost),
    ];
    let longest = meter
        .report()
        .spacing_us
        .map(|spacing| spacing.max as f64 * 1e-3);
    parts.extend(longest.map(|wait_ms| format!("longest wait {wait_ms:.0} ms")));
    let last = samples.last().map(|sample| sample.pressure.kpa());
    parts.extend(last.map(|kpa| format!("last reading {kpa:.1} kPa")));
    for (count, what) in [
        (counts.spoilt, "failed their check"),
        (counts.unread, "lines do not fit the pattern"),
        (counts.short, "too short"),
        (counts.other_kind, "of another kind"),
    ] {
        if count > 0 {
            parts.push(format!("{count} {what}"));
        }
    }
    Ok(Some(Heard {
        text: parts.join(", "),
        samples: counts.samples,
    }))
}

fn passed(step: &str, told: &str) -> Result<(), Failure> {
    let green = Style::new().fg_color(Some(AnsiColor::Green.into()));
    let colon = if told.is_empty() { "" } else { ": " };
    marked(green, "ok", &format!("{step}{colon}{told}"))
}

/// A line with a word in a colour before it.
fn marked(style: Style, word: &str, text: &str) -> Result<(), Failure> {
    let mut out = out::stdout();
    out.styled(style, word)?;
    let gap = 8_usize.saturating_sub(word.len());
    writeln!(out, "{:gap$}{}", "", words::clean(text))?;
    Ok(())
}

fn failed<T>(step: &str, failure: Failure) -> Result<T, Failure> {
    let red = Style::new().bold().fg_color(Some(AnsiColor::Red.into()));
    marked(red, "failed", step)?;
    Err(failure)
}
