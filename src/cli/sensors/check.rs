//! `sensors check`: leads through zero and up to five pressures against a gauge that is trusted.

use super::asked::Args;
use super::bench::{self, Bench};
use super::dialogue::{Dialogue, Plan};
use super::said;
use crate::cli::live::known::{self, AllKnown, Known};
use crate::cli::live::lines::lines;
use crate::cli::live::runtime::{self, Ending};
use crate::cli::terminal::width;
use crate::cli::{Exit, Failure, Outcome, out};
use crate::correction::{Check, Checked};
use crate::protocol::{Decoder, ProtocolFile, Reference};
use crate::recording::{Event, SensorIdentity};
use crate::transport::Arrival;
use crate::transport::ble::hide_known_race;
use crate::units::{Pressure, Time};
use std::io::{IsTerminal, Write};
use std::time::Duration;

/// Longest wait for the sensor to be let go.
const LET_GO: Duration = Duration::from_secs(20);
/// Without a wish, the check ends here, if the sensor's range allows: most tyre pumps reach it.
const USUAL_TOP: Pressure = Pressure::from_pa(8e5);
/// Of the sensor's range no more than this share is asked for without a wish.
const USUAL_SHARE: f64 = 0.75;
/// After so long without a pressure to ask about, in microseconds of the stream, the next word is
/// taken, whatever it is.
const PATIENCE_US: u64 = 60_000_000;

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    // What cannot be kept in the end is told before anyone pumps.
    let so_far = known::load(&known::path()?)?;
    is_worth_making(&check_of(args, Reference::Gauge))?;
    runtime::run(Box::pin(check(args, so_far)))
}

/// The check, its points still to come.
fn check_of(args: &Args, reference: Reference) -> Check {
    Check {
        date: jiff::Timestamp::now()
            .to_string()
            .chars()
            .take(10)
            .collect(),
        reference: args.reference.clone(),
        accuracy: args.accuracy,
        absolute: reference == Reference::Absolute,
        points: Vec::new(),
    }
}

/// Whether name and accuracy of the gauge make sense.
fn is_worth_making(check: &Check) -> Result<(), Failure> {
    match check.correction() {
        Err(error) if !error.field.starts_with("point") => {
            let option = match error.field.as_str() {
                "reference" => "--reference",
                _ => "--accuracy",
            };
            Err(Failure::new(Exit::Usage, error.what).at(option))
        }
        _ => Ok(()),
    }
}

async fn check(args: &Args, so_far: AllKnown) -> Outcome {
    let mut ending = Ending::listen()?;
    let Some(mut bench) = bench::open(args, &so_far, &mut ending).await? else {
        return Ok(Exit::Interrupted);
    };
    let origin = bench.source.origin().clone();
    let led = lead(args, &mut bench, &mut ending, &origin.sensor, &so_far).await;
    // Also when the check could not be made: nothing is left behind.
    let _ = tokio::time::timeout(LET_GO, bench.source.stop()).await;
    match led? {
        Some(check) => keep(args, so_far, &origin.sensor, check),
        None => Ok(Exit::Interrupted),
    }
}

/// Leads through the points; none if the user ended it.
async fn lead(
    args: &Args,
    bench: &mut Bench,
    ending: &mut Ending,
    sensor: &SensorIdentity,
    so_far: &AllKnown,
) -> Result<Option<Check>, Failure> {
    is_the_one(args, sensor, so_far)?;
    let origin = bench.source.origin();
    let protocol = ProtocolFile::parse(&origin.protocol)
        .map_err(|error| Failure::new(Exit::BadInput, error).at("the protocol file"))?;
    let plan = plan(args, &protocol)?;
    introduce(&plan)?;
    let mut decoder = Decoder::new(&protocol);
    let mut dialogue = Dialogue::new(plan);
    say(&[dialogue.instruction()])?;
    let mut answers = lines();
    let mut listening = true;
    // What is piped in answers question by question; a person may say a word at any time.
    let any_time = std::io::stdin().is_terminal();
    let mut pumped = None;
    // When the last question was put, and how late it is, on the stream's clock.
    let (mut asked_us, mut now_us) = (0, 0);
    let mut samples = Vec::new();
    while !dialogue.is_over() {
        if let Some(pump) = bench.pump.as_ref().filter(|_| !dialogue.is_asking()) {
            let wanted = dialogue.wanted();
            if pumped.replace(wanted) != Some(wanted) {
                pump.hold(wanted);
                if wanted > Pressure::ZERO {
                    let gauge = said::fine(wanted, args.unit);
                    say(&[format!(
                        "  (The virtual pump holds {gauge}; so its gauge reads.)"
                    )])?;
                }
            }
        }
        let asking = dialogue.is_asking();
        if asking {
            asked_us = now_us;
        }
        let in_vain = now_us - asked_us > PATIENCE_US;
        if !listening && (asking || in_vain) {
            dialogue.end();
            continue;
        }
        tokio::select! {
            () = ending.asked() => return Ok(None),
            answer = answers.recv(), if listening && (asking || any_time || in_vain) => match answer {
                Some(line) => say(&dialogue.answer(&line))?,
                None => listening = false,
            },
            arrival = bench.source.next(), if !(asking || in_vain && listening) || !bench.waits => {
                let Some(arrival) = arrival? else {
                    dialogue.end();
                    continue;
                };
                if let Arrival::Packet(packet) = &arrival {
                    now_us = now_us.max(packet.t_us);
                }
                take(arrival, &mut decoder, &mut samples);
                for sample in samples.drain(..) {
                    if sample.gap_before {
                        dialogue.gap();
                    }
                    say(&dialogue.sample(sample.time, sample.pressure, sample.out_of_range))?;
                }
            }
        }
    }
    Ok(Some(dialogue.check()))
}

fn take(arrival: Arrival, decoder: &mut Decoder, samples: &mut Vec<crate::protocol::RawSample>) {
    match arrival {
        Arrival::Packet(packet) => {
            let arrived = Time::from_us(packet.t_us);
            decoder.accept(&packet.from, arrived, &packet.hex, samples);
        }
        Arrival::Event(timed) if timed.event == Event::LinkLost => decoder.link_lost(samples),
        Arrival::Event(_) | Arrival::Notice(_) => {}
    }
}

/// A check is kept beside the sensor that it is of, and no other.
fn is_the_one(args: &Args, sensor: &SensorIdentity, so_far: &AllKnown) -> Result<(), Failure> {
    let of_another = so_far
        .get(&args.name)
        .is_some_and(|known| known.address != sensor.address);
    if !of_another {
        return Ok(());
    }
    Err(Failure::new(
        Exit::Mismatch,
        format!("\"{}\" is the name of another sensor", args.name),
    )
    .at(&sensor.address)
    .remedy("choose another name; needlerest sensors lists those that are taken"))
}

fn plan(args: &Args, protocol: &ProtocolFile) -> Result<Plan, Failure> {
    let range = protocol.gauge_top();
    let usual = range.map_or(USUAL_TOP, |range| (range * USUAL_SHARE).min(USUAL_TOP));
    let highest = args.up_to.unwrap_or(usual);
    if highest <= Pressure::ZERO {
        return Err(Failure::new(Exit::Usage, "more than 0 is wanted").at("--up-to"));
    }
    if let Some(range) = range.filter(|range| highest > *range) {
        let what = format!("the sensor's range ends at {}", range.show(args.unit));
        return Err(Failure::new(Exit::Usage, what)
            .at("--up-to")
            .remedy("stay within its range: more may burst it"));
    }
    Ok(Plan {
        check: check_of(args, protocol.reference()),
        loaded: usize::from(args.points),
        highest,
        range,
        resolution: protocol.resolution().unwrap_or(Pressure::ZERO),
        unit: args.unit,
    })
}

fn introduce(plan: &Plan) -> Result<(), Failure> {
    let range = plan.range.map_or_else(
        || "its range, which its protocol file does not tell".to_owned(),
        |range| format!("its range, {}", range.show(plan.unit)),
    );
    say(&[
        format!(
            "CAUTION. Air under pressure throws what breaks. Never more than the sensor may have: \
             {range}, and its proof pressure (see its data sheet). Nor more than pump, hose and \
             fittings may have. Sensor and hose are screwed tight before you pump, eyes protected, \
             nobody in line with the fittings. A hand pump, no compressor: it stops when you do. \
             Let all pressure off before you undo anything."
        ),
        String::new(),
        "Join sensor and gauge so that both see the same pressure. Type what the gauge reads when \
         you are asked. At any time: back (takes the last point back), skip, done, stop."
            .to_owned(),
        String::new(),
    ])
}

fn say(lines: &[String]) -> Result<(), Failure> {
    let mut out = out::stdout();
    for line in lines {
        let indent = if line.starts_with("  ") { "  " } else { "" };
        let options = textwrap::Options::new(width().min(100)).subsequent_indent(indent);
        writeln!(out, "{}", textwrap::fill(line, options))?;
    }
    out.flush()?;
    Ok(())
}

/// Works out the correction, and keeps it beside the sensor's name.
fn keep(args: &Args, mut all: AllKnown, sensor: &SensorIdentity, check: Check) -> Outcome {
    if check.points.is_empty() {
        return Ok(Exit::Interrupted);
    }
    let correction = check.correction().map_err(|error| {
        Failure::new(Exit::NoReading, error.what)
            .at("the points of the check")
            .remedy("check it again; at least zero and one pressure are needed")
    })?;
    let unit = args.unit;
    say(&[String::new()])?;
    let mut out = out::stdout();
    for line in said::table(&check, &correction, unit) {
        out.line(line)?;
    }
    drop(out);
    say(&[String::new()])?;
    say(&said::result(&check, &correction, unit))?;
    let known = all.entry(args.name.clone()).or_insert_with(|| Known {
        address: sensor.address.clone(),
        advertised: sensor.name.clone(),
        ..Known::default()
    });
    let checked = Checked::anew(check, known.check.take());
    say(&said::warnings(&checked, unit))?;
    known.check = Some(checked);
    // A correction that has changed is applied when the user says so again.
    known.corrected = false;
    let path = known::path()?;
    known::save(&path, &all)?;
    let name = &args.name;
    say(&[
        String::new(),
        format!(
            "Kept beside \"{name}\" in {}. Readings are not corrected yet: needlerest sensors \
             correct {name} on",
            path.display()
        ),
    ])?;
    Ok(Exit::Done)
}
