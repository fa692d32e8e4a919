//! A second reader of the format, written from `protocol/session-file.md` alone and sharing no
//! code with the first: what the writer writes must satisfy it to the byte.

use super::made::{event, every_event, header, packet, small, small_header};
use needlerest::recording::Writer;
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};

/// CRC-32/ISO-HDLC, bit by bit: reflected, polynomial 0x04C11DB7, all ones before and after
/// (ISO/IEC 13239). Its check value, over "123456789", is CBF43926.
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                crc >> 1 ^ 0xEDB8_8320
            } else {
                crc >> 1
            };
        }
    }
    !crc
}

/// The check value of CRC-32/ISO-HDLC in the public catalogue of parametrised CRC algorithms.
#[test]
fn the_second_readers_own_check_value_is_right() {
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
}

/// Members of each kind of line, in order; those with `?` may be left out.
fn members(kind: &str, event: Option<&str>) -> &'static [&'static str] {
    match (kind, event) {
        ("header", _) => &[
            "type", "format", "version", "tool", "started", "protocol", "sensor", "card?",
        ],
        ("packet", _) => &["type", "t_us", "from", "hex"],
        ("seal", _) => &["type", "sha256", "lines"],
        ("event", Some("run")) => &["type", "t_us", "event", "cylinder", "condition"],
        ("event", Some("end" | "link-lost" | "link-back")) => &["type", "t_us", "event"],
        ("event", Some("void")) => &["type", "t_us", "event", "run?", "reason"],
        ("event", Some("name")) => &["type", "t_us", "event", "run", "cylinder", "condition"],
        ("event", Some("leak-down")) => &[
            "type",
            "t_us",
            "event",
            "cylinder",
            "condition",
            "restrictor",
        ],
        ("event", Some("decay")) => &[
            "type",
            "t_us",
            "event",
            "filled",
            "cylinder?",
            "volume_cm3?",
        ],
        ("event", Some("air")) => &["type", "t_us", "event", "stage"],
        ("event", Some("heard")) => &["type", "t_us", "event", "places"],
        ("event", Some("resumed")) => &["type", "t_us", "event", "at"],
        ("event", Some("mark" | "note")) => &["type", "t_us", "event", "text"],
        ("event", Some("link")) => &[
            "type",
            "t_us",
            "event",
            "packets",
            "lost",
            "link_losses",
            "rssi_dbm",
            "spacing_us",
            "latency_us",
            "drift_ppm",
        ],
        other => panic!("a line of unknown kind {other:?}"),
    }
}

/// The names of an object's members, in the order in which they stand in the text.
fn names_in_order(text: &str, object: &Map<String, Value>) -> Vec<String> {
    let mut names: Vec<(usize, String)> = object
        .keys()
        .map(|name| (text.find(&format!("\"{name}\":")).unwrap(), name.clone()))
        .collect();
    names.sort();
    names.into_iter().map(|(_, name)| name).collect()
}

fn check_members(text: &str, object: &Map<String, Value>) {
    let kind = object["type"].as_str().unwrap();
    let event = object.get("event").and_then(Value::as_str);
    let found = names_in_order(text, object);
    let mut found = found.iter().map(String::as_str);
    let mut next = found.next();
    for member in members(kind, event).iter().chain(&["n", "crc"]) {
        if next == Some(member.trim_end_matches('?')) {
            next = found.next();
        } else {
            assert!(member.ends_with('?'), "{member} is missing: {text}");
        }
    }
    assert_eq!(next, None, "{text}");
}

fn check(bytes: &[u8]) {
    let text = std::str::from_utf8(bytes).unwrap();
    assert!(text.ends_with('\n') && !text.contains('\r'));
    let mut before = 0;
    let mut number = 0u64;
    let mut sealed = false;
    for line in text.lines() {
        number += 1;
        let (covered, tail) = line.split_at(line.len() - 18);
        let crc = tail
            .strip_prefix(",\"crc\":\"")
            .unwrap()
            .strip_suffix("\"}")
            .unwrap();
        assert_eq!(crc, format!("{:08x}", crc32(covered.as_bytes())));
        assert!(covered.ends_with(&format!(",\"n\":{number}")));
        let Value::Object(object) = serde_json::from_str(line).unwrap() else {
            panic!("not an object: {line}")
        };
        check_members(line, &object);
        let kind = object["type"].as_str().unwrap();
        assert_eq!(kind == "header", number == 1);
        sealed = kind == "seal";
        match kind {
            "header" => {
                assert_eq!(object["format"], "needlerest-session");
                assert_eq!(object["version"], 1);
            }
            "packet" => {
                assert!(object["t_us"].is_u64());
                let hex = object["hex"].as_str().unwrap();
                assert!(hex.len() % 2 == 0 && hex.len() <= 1024);
                assert!(hex.bytes().all(|b| b"0123456789abcdef".contains(&b)));
            }
            "seal" => {
                let digest = Sha256::digest(&bytes[..before]);
                assert_eq!(object["sha256"].as_str().unwrap(), hex::encode(digest));
                assert_eq!(object["lines"].as_u64().unwrap(), number - 1);
            }
            _ => {}
        }
        before += line.len() + 1;
    }
    assert!(sealed, "the last line is the seal");
    assert_eq!(before, bytes.len());
}

#[test]
fn what_the_writer_writes_satisfies_a_second_reader() {
    check(&small());
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    for (i, one) in every_event().into_iter().enumerate() {
        writer.event(&event(i as u64, one)).unwrap();
        writer.packet(&packet(u64::MAX - 1, i as u32)).unwrap();
    }
    check(&writer.seal().unwrap().0);
    check(
        &Writer::begin(Vec::new(), &small_header())
            .unwrap()
            .seal()
            .unwrap()
            .0,
    );
}
