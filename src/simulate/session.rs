//! A whole visit as a recording, as if a sensor had sent it.

use super::SimulateError;
use super::air_test::AirTruth;
use super::machine::Moment;
use super::radio::Air;
use super::random::Draws;
use super::recipe::Recipe;
use super::run::perform;
use super::sensor::{Sample, Sampler};
use super::shape::clearance;
use super::truth::{RunTruth, Truth};
use crate::protocol::{Encoder, ProtocolFile, Reference, SensorSample};
use crate::recording::{self, Event, Header, Packet, SensorIdentity, TimedEvent, Writer};
use crate::units::{Pressure, Rate, Temperature};

/// After this long without a packet the host says that the link is lost, in s.
const SUPERVISION: f64 = 0.5;

/// A recording and what was true.
#[derive(Clone, Debug, PartialEq)]
pub struct Simulated {
    /// The session file.
    pub recording: Vec<u8>,
    /// What was true.
    pub truth: Truth,
    /// What the sensor sent, before the radio; `lost` is not filled in.
    pub samples: Vec<Sample>,
}

/// Simulates a whole visit. `protocol` and `card` are the texts of the protocol file and the job
/// card (TOML).
///
/// # Errors
/// When the recipe is impossible, the protocol file is not sound, an engine does not turn over,
/// or the integration goes astray.
pub fn session(
    recipe: &Recipe,
    protocol: &str,
    card: Option<&str>,
) -> Result<Simulated, SimulateError> {
    session_watched(recipe, protocol, card, |_, _, _| ())
}

/// As [`session`], and shows every step of the machine to `watch`: the run's number (from 0), when
/// it began on the recording's clock (s), and the moment, whose time counts from there.
///
/// # Errors
/// As [`session`].
pub fn session_watched(
    recipe: &Recipe,
    protocol: &str,
    card: Option<&str>,
    mut watch: impl FnMut(usize, f64, &Moment),
) -> Result<Simulated, SimulateError> {
    let file = ProtocolFile::parse(protocol)
        .map_err(|error| SimulateError::impossible("protocol", error.to_string()))?;
    let mut sampler = Sampler::new(recipe.sensor, Draws::new(recipe.seed, 2));
    let mut samples = Vec::new();
    let mut runs = Vec::new();
    let mut now = 0.0;
    let mut air = Vec::new();
    let mut air_made =
        |after: usize, now: &mut f64, sampler: &mut Sampler, samples: &mut Vec<Sample>| {
            let due = recipe.air_tests.iter().enumerate();
            let due = due.filter(|(_, test)| test.after_run.unwrap_or(recipe.runs.len()) == after);
            for (number, test) in due {
                let made = test.make(recipe, number, *now, sampler, samples)?;
                *now = made.truth.ends.s();
                air.push(made);
            }
            Ok::<(), SimulateError>(())
        };
    for (i, spec) in recipe.run_specs().iter().enumerate() {
        air_made(i, &mut now, &mut sampler, &mut samples)?;
        let seen = |moment: &Moment| watch(i, now, moment);
        let truth = perform(spec, now, &mut sampler, &mut samples, seen)?;
        now = truth.ends.s();
        runs.push(truth);
    }
    air_made(recipe.runs.len(), &mut now, &mut sampler, &mut samples)?;
    let (air_truths, air_events): (Vec<_>, Vec<_>) = air
        .into_iter()
        .map(|made| (made.truth, made.events))
        .unzip();
    let mut packets = Vec::new();
    let mut air = Air::new(&recipe.radio, recipe.seed);
    pack(recipe, &file, &samples, &mut air, &mut packets);
    let packet_truth = air.close(&mut packets);
    let header = Header {
        format: recording::FORMAT.to_owned(),
        version: recording::VERSION,
        tool: env!("CARGO_PKG_VERSION").to_owned(),
        started: recipe.started.clone(),
        protocol: protocol.to_owned(),
        sensor: SensorIdentity {
            name: recipe.sensor_name.clone(),
            address: "simulated".to_owned(),
            details: [("model".to_owned(), "simulated, invented".to_owned())].into(),
            correction: None,
        },
        card: card.map(str::to_owned),
    };
    let recording = write(&header, &packets, &events(recipe, &runs, air_events))
        .map_err(|error| SimulateError::Packet(error.to_string()))?;
    Ok(Simulated {
        recording,
        truth: truth(recipe, runs, air_truths, packet_truth),
        samples,
    })
}

/// Packs samples as the sensor does and sends them off.
fn pack(
    recipe: &Recipe,
    file: &ProtocolFile,
    samples: &[Sample],
    air: &mut Air,
    packets: &mut Vec<Packet>,
) {
    let mut encoder =
        Encoder::new(file).with_samples_per_packet(recipe.radio.samples_per_packet as usize);
    encoder.set_rate(Rate::from_hz(recipe.sensor.rate_hz));
    let mut last = 0.0;
    for sample in samples {
        let sent = encode(recipe, file, &mut encoder, sample);
        last = sample.time.s();
        send(air, &encoder, sent, last, packets);
    }
    let rest = encoder.finish();
    send(air, &encoder, rest, last, packets);
}

fn send(
    air: &mut Air,
    encoder: &Encoder,
    message: Option<Vec<u8>>,
    at_s: f64,
    packets: &mut Vec<Packet>,
) {
    for payload in message.into_iter().flat_map(|whole| encoder.packets(whole)) {
        air.send(at_s, payload, packets);
    }
}

fn encode(
    recipe: &Recipe,
    file: &ProtocolFile,
    encoder: &mut Encoder,
    sample: &Sample,
) -> Option<Vec<u8>> {
    let number = (sample.sensor_time.s() * recipe.sensor.rate_hz).round() as u64;
    let ambient = match file.reference() {
        Reference::Absolute => Pressure::from_pa(recipe.surroundings.ambient_kpa * 1e3),
        Reference::Gauge => Pressure::ZERO,
    };
    // At the end of its range a sensor says so by a code beyond it, if it has one.
    let beyond = match (sample.out_of_range, sample.pressure > Pressure::ZERO) {
        (false, _) => Pressure::ZERO,
        (true, true) => Pressure::from_pa(1.0),
        (true, false) => Pressure::from_pa(-1.0),
    };
    encoder.push(&SensorSample {
        tick: number * encoder.interval(),
        pressure: sample.pressure + beyond + ambient,
        temperature: Some(Temperature::from_celsius(recipe.surroundings.air_celsius)),
        battery: Some(87.0),
        status: 0,
    })
}

/// What the user and the host did, in order of time.
fn events(recipe: &Recipe, runs: &[RunTruth], air: Vec<Vec<TimedEvent>>) -> Vec<TimedEvent> {
    let mut events: Vec<TimedEvent> = air.into_iter().flatten().collect();
    let mut add = |seconds: f64, event| {
        events.push(TimedEvent {
            t_us: (seconds * 1e6).round() as u64,
            event,
        });
    };
    for (planned, truth) in recipe.runs.iter().zip(runs) {
        let begins = truth.begins.s();
        if let Some(text) = &planned.note {
            add(begins, Event::Note { text: text.clone() });
        }
        let run = Event::Run {
            cylinder: truth.cylinder.clone(),
            condition: truth.condition,
        };
        add(begins, run);
        if let Some(reason) = &planned.void {
            let reason = reason.clone();
            add(truth.ends.s() - 1e-3, Event::Void { run: None, reason });
        }
    }
    for outage in &recipe.radio.outages {
        if outage.for_s > SUPERVISION {
            add(outage.at_s + SUPERVISION, Event::LinkLost);
            add(outage.at_s + outage.for_s, Event::LinkBack);
        }
    }
    events.sort_by_key(|event| event.t_us);
    events
}

fn write(
    header: &Header,
    packets: &[Packet],
    events: &[TimedEvent],
) -> Result<Vec<u8>, recording::WriteError> {
    let mut writer = Writer::begin(Vec::new(), header)?;
    let mut events = events.iter().peekable();
    for packet in packets {
        while let Some(event) = events.next_if(|event| event.t_us <= packet.t_us) {
            writer.event(event)?;
        }
        writer.packet(packet)?;
    }
    for event in events {
        writer.event(event)?;
    }
    Ok(writer.seal()?.0)
}

fn truth(
    recipe: &Recipe,
    runs: Vec<RunTruth>,
    air_tests: Vec<AirTruth>,
    packets: super::PacketTruth,
) -> Truth {
    let engine = &recipe.engine;
    Truth {
        format: "needlerest-truth",
        version: 1,
        about: recipe.about.clone(),
        seed: recipe.seed,
        runs,
        air_tests,
        cylinders: engine.cylinders.clone(),
        gaskets: engine.gaskets.clone(),
        clearance_cm3: engine
            .cylinders
            .first()
            .map_or(0.0, |cylinder| clearance(engine, cylinder) * 1e6),
        tester: recipe.tester,
        sensor: recipe.sensor,
        radio: recipe.radio.clone(),
        packets,
    }
}
