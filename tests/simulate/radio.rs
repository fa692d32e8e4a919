//! Packets on their way: what was asked for happens, and is what a decoder finds.

use needlerest::protocol::{Decoder, ProtocolFile};
use needlerest::recording::{Event, Reader, Record};
use needlerest::simulate::{Outage, Recipe, Simulated, session};
use needlerest::units::Time;

const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");
const ENVIRONMENTAL: &str = include_str!("../../protocol/environmental-sensing.toml");

fn recipe() -> Recipe {
    let text = include_str!("../../demo/wren.recipe.toml");
    Recipe::parse(text).expect("a recipe")
}

fn made(change: impl Fn(&mut Recipe)) -> Simulated {
    let mut recipe = recipe();
    recipe.runs.truncate(2);
    change(&mut recipe);
    session(&recipe, PROTOCOL, None).expect("a visit")
}

fn records(recording: &[u8]) -> Vec<Record> {
    Reader::new(recording)
        .expect("a recording")
        .map(|line| line.expect("memory does not fail").outcome)
        .collect::<Result<_, _>>()
        .expect("undamaged")
}

#[test]
fn losses_repeats_and_late_packets_are_those_of_the_truth() {
    let made = made(|recipe| {
        recipe.radio.loss = 0.03;
        recipe.radio.repeated = 0.02;
        recipe.radio.reordered = 0.02;
        recipe.radio.loss_bursts_per_min = 10.0;
        recipe.radio.loss_burst_s = 0.2;
    });
    let truth = made.truth.packets;
    assert!(truth.lost > 10 && truth.repeated > 3 && truth.reordered > 3);
    let file = ProtocolFile::parse(PROTOCOL).expect("sound");
    let mut decoder = Decoder::new(&file);
    let mut samples = Vec::new();
    let mut arrived = 0;
    for record in records(&made.recording) {
        if let Record::Packet(packet) = record {
            arrived += 1;
            let at = Time::from_s(packet.t_us as f64 * 1e-6);
            decoder.accept(&packet.from, at, &packet.hex, &mut samples);
        }
    }
    decoder.flush(&mut samples);
    assert_eq!(arrived, truth.sent - truth.lost + truth.repeated);
    let counts = decoder.counts();
    assert_eq!(counts.repeated, truth.repeated);
    // What is lost at the very end leaves no gap.
    assert!(
        counts.lost.abs_diff(truth.lost) <= 2,
        "{counts:?} {truth:?}"
    );
}

#[test]
fn a_lost_link_is_in_the_events_and_its_packets_are_gone() {
    let made = made(|recipe| {
        recipe.radio.outages = vec![Outage {
            at_s: 4.0,
            for_s: 2.0,
        }];
    });
    let mut lost = None;
    let mut back = None;
    for record in records(&made.recording) {
        match record {
            Record::Event(event) if event.event == Event::LinkLost => lost = Some(event.t_us),
            Record::Event(event) if event.event == Event::LinkBack => back = Some(event.t_us),
            Record::Packet(packet) => {
                assert!(
                    !(4_100_000..5_999_000).contains(&packet.t_us),
                    "{}",
                    packet.t_us
                );
            }
            _ => {}
        }
    }
    assert!(lost < back && back == Some(6_000_000));
    assert!(made.truth.packets.lost > 40);
}

/// Any protocol file packs the samples: a sensor of the Environmental Sensing Service sends
/// absolute pressure, one value a notification.
#[test]
fn another_protocol_file_packs_the_same_samples() {
    let mut recipe = recipe();
    recipe.runs.truncate(1);
    recipe.sensor.rate_hz = 20.0;
    let made = session(&recipe, ENVIRONMENTAL, None).expect("a visit");
    let packets: Vec<_> = records(&made.recording)
        .into_iter()
        .filter_map(|record| match record {
            Record::Packet(packet) => Some(packet.hex),
            _ => None,
        })
        .collect();
    // Pressure, characteristic 0x2A6D: uint32 in 0.1 Pa. Ambient is 100.4 kPa, zero 3.1 kPa off.
    let first = u32::from_le_bytes(packets[0].clone().try_into().expect("four bytes"));
    assert!(
        (f64::from(first) / 10.0 - 103_500.0).abs() < 1500.0,
        "{first}"
    );
    let seconds = made.truth.runs[0].ends.s();
    assert!((packets.len() as f64 - 20.0 * seconds).abs() < 3.0);
}

/// Packets arrive at the ticks of the connection, never before they were sent, in order.
#[test]
fn packets_wait_for_the_connection() {
    let made = made(|recipe| {
        recipe.radio.interval_ms = 50.0;
        recipe.radio.jitter_ms = 0.0;
    });
    let mut last = 0;
    for record in records(&made.recording) {
        if let Record::Packet(packet) = record {
            assert_eq!(packet.t_us % 50_000, 0);
            assert!(packet.t_us >= last);
            last = packet.t_us;
        }
    }
    assert!(last > 5_000_000);
}
