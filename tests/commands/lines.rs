//! `record --lines`: what comes, as it comes, for other programs.

use crate::tool::{code, complaint, printed, run_in};
use needlerest::protocol::{Decoder, ProtocolFile, RawSample};
use needlerest::recording::{Event, Record, open};
use needlerest::units::Time;
use serde_json::Value;
use std::path::Path;
use tempfile::tempdir;

/// Standard output is the samples and events of the recording, all of them, in order, and nothing
/// else.
#[test]
fn the_lines_are_the_recordings_samples_and_events() {
    let folder = tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/finch.jsonl");
    let arguments = [
        "record",
        "copy.jsonl",
        "--replay",
        demo.to_str().unwrap(),
        "--speed",
        "0",
        "--lines",
    ];
    let recorded = run_in(folder.path(), &arguments);
    assert!(
        [0, 3].contains(&code(&recorded)),
        "{}",
        complaint(&recorded)
    );
    assert!(complaint(&recorded).contains("Sealed"));
    let text = printed(&recorded);
    let mut lines = text
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap());
    let first = lines.next().unwrap();
    assert_eq!(
        (&first["type"], &first["format"], &first["version"]),
        (&"begin".into(), &"needlerest-lines".into(), &1.into())
    );
    let lines: Vec<Value> = lines.collect();

    let mut reader = open(&folder.path().join("copy.jsonl")).unwrap();
    let mut decoder = Decoder::new(&ProtocolFile::parse(&reader.header().protocol).unwrap());
    let (mut samples, mut events): (Vec<RawSample>, Vec<Value>) = (Vec::new(), Vec::new());
    for line in reader.by_ref() {
        match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => {
                let at = Time::from_us(packet.t_us);
                decoder.accept(&packet.from, at, &packet.hex, &mut samples);
            }
            Record::Event(event) => {
                if event.event == Event::LinkLost {
                    decoder.link_lost(&mut samples);
                }
                events.push(serde_json::to_value(&event).unwrap());
            }
            Record::Header(_) | Record::Seal(_) => {}
        }
    }
    decoder.flush(&mut samples);
    let printed_samples: Vec<&Value> = lines
        .iter()
        .filter(|line| line["type"] == "sample")
        .collect();
    assert_eq!(printed_samples.len(), samples.len());
    assert!(samples.len() > 1000);
    for (line, sample) in printed_samples.iter().zip(&samples) {
        assert_eq!(line["time_s"].as_f64(), Some(sample.time.s()));
        assert_eq!(line["pressure_pa"].as_f64(), Some(sample.pressure.pa()));
        assert_eq!(line["out_of_range"].as_bool(), Some(sample.out_of_range));
        assert_eq!(line["gap_before"].as_bool(), Some(sample.gap_before));
    }
    let printed_events: Vec<Value> = lines
        .iter()
        .filter(|line| line["type"] == "event")
        .map(|line| {
            let mut line = line.clone();
            line.as_object_mut().unwrap().remove("type");
            line
        })
        .collect();
    assert_eq!(printed_events, events);
    assert!(!events.is_empty());
    assert_eq!(lines.len(), printed_samples.len() + printed_events.len());
}

#[test]
fn without_the_option_nothing_but_the_result_is_printed() {
    let folder = tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/finch.jsonl");
    let arguments = [
        "record",
        "copy.jsonl",
        "--replay",
        demo.to_str().unwrap(),
        "--speed",
        "0",
    ];
    let recorded = printed(&run_in(folder.path(), &arguments));
    assert!(
        recorded.starts_with("Recorded ") && recorded.contains("Sealed"),
        "{recorded}"
    );
    assert_eq!(recorded.lines().count(), 2);
}
