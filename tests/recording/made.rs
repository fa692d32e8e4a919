//! Recordings for the tests.

use needlerest::engine::Condition;
use needlerest::leakdown::{Filled, Place, Stage};
use needlerest::recording::{
    Event, FORMAT, Header, Line, LinkQuality, Packet, Reader, Record, SensorIdentity, Spread,
    TimedEvent, VERSION, Writer,
};

pub const PROTOCOL: &str = include_str!("../../protocol/environmental-sensing.toml");

/// A header with every entry, and characters that JSON has to escape.
pub fn header() -> Header {
    Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: "0.1.0".to_owned(),
        started: "2026-05-09T08:30:00Z".to_owned(),
        protocol: PROTOCOL.to_owned(),
        sensor: SensorIdentity {
            name: "Gauge \"é\"".to_owned(),
            address: "simulated".to_owned(),
            details: [("serial number".to_owned(), "17\n".to_owned())].into(),
            correction: None,
        },
        card: Some("format = \"needlerest-card\"".to_owned()),
    }
}

/// A header as short as may be, for tests that go through every position.
pub fn small_header() -> Header {
    Header {
        protocol: "format = \"needlerest-protocol\"".to_owned(),
        sensor: SensorIdentity::default(),
        card: None,
        ..header()
    }
}

pub fn packet(t_us: u64, pascal: u32) -> Packet {
    Packet {
        t_us,
        from: "stream".to_owned(),
        hex: (pascal * 10).to_le_bytes().to_vec(),
    }
}

pub fn event(t_us: u64, event: Event) -> TimedEvent {
    TimedEvent { t_us, event }
}

/// One of every kind of event.
pub fn every_event() -> Vec<Event> {
    let text = || "half throttle, \"cold\" \\ oil 10 ml ✓".to_owned();
    let (cylinder, condition) = ("left".to_owned(), Condition::WarmDry);
    vec![
        Event::Run {
            cylinder: cylinder.clone(),
            condition,
        },
        Event::End,
        Event::Void {
            run: None,
            reason: text(),
        },
        Event::Void {
            run: Some(3),
            reason: String::new(),
        },
        Event::Name {
            run: 2,
            cylinder,
            condition: Condition::Wet,
        },
        Event::Resumed {
            at: "2026-05-09T09:00:00Z".to_owned(),
        },
        Event::LinkLost,
        Event::LinkBack,
        Event::Link(Box::default()),
        Event::Link(Box::new(LinkQuality {
            packets: 9,
            lost: Some(1),
            link_losses: 1,
            rssi_dbm: Some(-71),
            spacing_us: Some(Spread {
                p50: 1,
                p99: 2,
                max: 3,
            }),
            latency_us: Some(Spread::default()),
            drift_ppm: Some(-12.5),
        })),
        Event::LeakDown {
            cylinder: text(),
            condition: Condition::WarmDry,
            restrictor: "0.040 in".parse().unwrap(),
        },
        Event::Decay {
            filled: Filled::Tester,
            cylinder: None,
            volume_cm3: Some(41.5),
        },
        Event::Air { stage: Stage::Top },
        Event::Heard {
            places: vec![Place::NextHole, Place::Coolant],
        },
        Event::Mark { text: text() },
        Event::Note { text: text() },
    ]
}

/// A small sealed recording.
pub fn small() -> Vec<u8> {
    let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
    writer.event(&event(5, every_event().remove(0))).unwrap();
    for i in 0..4 {
        writer.packet(&packet(10 * u64::from(i), 1000 * i)).unwrap();
    }
    writer
        .event(&event(
            50,
            Event::Note {
                text: "done".to_owned(),
            },
        ))
        .unwrap();
    writer.seal().unwrap().0
}

/// Every line of a recording.
pub fn lines(bytes: &[u8]) -> Vec<Line> {
    Reader::new(bytes).unwrap().map(Result::unwrap).collect()
}

/// The sound records of a recording.
pub fn records(bytes: &[u8]) -> Vec<Record> {
    lines(bytes)
        .into_iter()
        .filter_map(|line| line.outcome.ok())
        .collect()
}
