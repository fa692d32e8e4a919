//! Nothing that stands in a file, a name or an argument steers the terminal. Every string of every
//! format is replaced by one that would, and goes through every command, on a real
//! pseudo-terminal.

use crate::pty::on_a_terminal;
use crate::tape::{REFERENCE, Tape, settled_run};
use crate::tool::put;
use needlerest::engine::Condition;
use needlerest::recording::Event;
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};
use tempfile::tempdir;

/// What an attacker would write: clear the screen, name the window, eight-bit sequences, back over
/// what was said, turned directions, and a line that looks like ours.
const EVIL: &str = "x\u{1b}[2J\u{1b}]0;y\u{7}\u{9b}31m\u{8}\u{b}\u{7f}\u{85}\u{202e}\u{2067}\u{200f}\u{61c}\u{2028}\tz\r\nFORGED: the seal holds";

const CARD: &str = r#"
format = "needlerest-card"
version = 1
[engine]
label = "Dipper"
cycle = "four-stroke"
bore_mm = 70.0
stroke_mm = 60.0
compression_ratio = 8.5
start = "electric"
[limits]
service_limit = "100 psi"
[costs]
currency = "EUR"
top_end = 500.0
[display]
unit = "bar"
also = "psi"
[[cylinder]]
name = "left"
neighbours = ["right"]
[[cylinder]]
name = "right"
neighbours = ["left"]
"#;

fn harmless(text: &str, of: &str) {
    let steers = |c: char| {
        let bidi = matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
        (c < ' ' && c != '\n') || ('\u{7f}'..='\u{9f}').contains(&c) || bidi
    };
    assert!(!text.contains(steers), "{of}: {text:?}");
    let forged = text.lines().any(|line| line.starts_with("FORGED"));
    assert!(!forged, "{of}: {text}");
}

/// Runs the program on a terminal. With colours, as without them the library that makes them takes
/// away every sequence; they are taken away here. Where a line is drawn over and over, the terminal
/// is one that knows no such thing.
fn check(folder: &Path, arguments: &[&str], of: &str) {
    let redraws = ["overview", "record"].contains(&arguments[0]);
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlerest"));
    command
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env("TERM", if redraws { "dumb" } else { "xterm" })
        .env("XDG_CONFIG_HOME", folder.join("settings"))
        // Where there is a bus, there may be a radio: nothing here is to wait for one.
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent");
    let (said, status) = on_a_terminal(command);
    assert!(status.code().is_some(), "{of}: {arguments:?}: {status}");
    assert!(!said.is_empty(), "{of}: {arguments:?} says nothing");
    let said = String::from_utf8(said).unwrap_or_else(|error| panic!("{of}: {error}"));
    harmless(&without_colours(&said), &format!("{of}: {arguments:?}"));
}

/// Without the sequences for bold, a colour, and neither (ECMA-48, 8.3.117); `EVIL` has none.
fn without_colours(text: &str) -> String {
    let mut text = text.replace("\u{1b}[0m", "").replace("\u{1b}[1m", "");
    text = text.replace("\u{1b}[4m", "");
    for colour in 30..38 {
        text = text.replace(&format!("\u{1b}[{colour}m"), "");
    }
    text
}

/// The lines of a recording, without numbers and check values.
fn lines(recording: &[u8]) -> Vec<Value> {
    let text = std::str::from_utf8(recording).unwrap();
    let line = |line: &str| {
        let mut value: Value = serde_json::from_str(line).unwrap();
        let object = value.as_object_mut().unwrap();
        object.remove("n");
        object.remove("crc");
        value
    };
    text.lines().map(line).collect()
}

/// A recording of these lines, each with number and check value, the seal over all of them; by
/// the format's specification alone.
fn recording(lines: &[Value]) -> Vec<u8> {
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
    let mut all = Vec::new();
    for (n, line) in lines.iter().enumerate() {
        let mut line = line.clone();
        if line["type"] == "seal" && line["sha256"].as_str().is_some_and(|seal| seal.len() == 64) {
            line["sha256"] = hex::encode(Sha256::digest(&all)).into();
        }
        // The member `type` comes first.
        let kind = line.as_object_mut().unwrap().remove("type").unwrap();
        let mut text = format!("{{\"type\":{kind}");
        for (key, value) in line.as_object().unwrap() {
            let _ = write!(text, ",{}:{value}", Value::from(key.as_str()));
        }
        let _ = write!(text, ",\"n\":{}", n + 1);
        let check = crc.checksum(text.as_bytes());
        let _ = writeln!(text, ",\"crc\":\"{check:08x}\"}}");
        all.extend_from_slice(text.as_bytes());
    }
    all
}

/// Every way to spoil one string of a value, or to add an entry of that name to one of its
/// objects; where it was done, and the spoilt value.
fn spoilt(value: &Value) -> Vec<(String, Value)> {
    let mut all = Vec::new();
    walk(value, "", &mut all, &|whole| whole);
    all
}

fn walk<'a>(
    value: &'a Value,
    at: &str,
    all: &mut Vec<(String, Value)>,
    rebuilt: &dyn Fn(Value) -> Value,
) {
    let _: &'a Value = value;
    match value {
        Value::String(_) => all.push((at.to_owned(), rebuilt(EVIL.into()))),
        Value::Array(items) => {
            for (n, item) in items.iter().enumerate() {
                walk(item, &format!("{at}/{n}"), all, &|new| {
                    let mut items = items.clone();
                    items[n] = new;
                    rebuilt(items.into())
                });
            }
        }
        Value::Object(entries) => {
            let mut more = entries.clone();
            more.insert(EVIL.to_owned(), 1.into());
            all.push((format!("{at}/+"), rebuilt(more.into())));
            for (key, item) in entries {
                walk(item, &format!("{at}/{key}"), all, &|new| {
                    let mut entries: Map<String, Value> = entries.clone();
                    entries.insert(key.clone(), new);
                    rebuilt(entries.into())
                });
            }
        }
        _ => {}
    }
}

/// Every way to spoil a TOML file.
fn spoilt_toml(text: &str) -> Vec<(String, String)> {
    let value: Value = toml::from_str(text).unwrap();
    let written = |(at, value): (String, Value)| (at, toml::to_string(&value).unwrap());
    spoilt(&value).into_iter().map(written).collect()
}

/// A recording with an event of each kind, one run settled, one taken back.
fn visit() -> Vec<Value> {
    let tape = settled_run(Tape::new(Some(CARD)).run("left", Condition::ColdDry), 900.0);
    let tape = settled_run(tape.run("right", Condition::ColdDry), 600.0);
    let tape = settled_run(tape.run("right", Condition::ColdDry), 650.0);
    let tape = tape
        .event(Event::Void {
            run: Some(1),
            reason: "the hose slipped".to_owned(),
        })
        .event(Event::Name {
            run: 2,
            cylinder: "right".to_owned(),
            condition: Condition::WarmDry,
        })
        .event(Event::Mark {
            text: "here".to_owned(),
        })
        .event(Event::Note {
            text: "cold day".to_owned(),
        });
    let mut lines = lines(&tape.seal());
    lines[0]["sensor"]["details"] = serde_json::json!({"serial number": "17"});
    lines
}

/// Recordings in which one string steers: each string of the header, of its documents, of one line
/// of each kind.
fn spoilt_recordings() -> Vec<(String, Vec<u8>)> {
    let lines = visit();
    let mut all = Vec::new();
    let mut seen = Vec::new();
    for (n, line) in lines.iter().enumerate() {
        let kind = format!("{}/{}", line["type"], line["event"]);
        if seen.contains(&kind) {
            continue;
        }
        seen.push(kind.clone());
        for (at, value) in spoilt(line) {
            let mut lines = lines.clone();
            lines[n] = value;
            // A line needs its type to be written at all.
            if lines[n].get("type").is_some() {
                all.push((format!("{kind}{at}"), recording(&lines)));
            }
        }
    }
    for (document, text) in [("protocol", REFERENCE), ("card", CARD)] {
        for (at, text) in spoilt_toml(text) {
            let mut lines = lines.clone();
            lines[0][document] = text.into();
            all.push((format!("{document}{at}"), recording(&lines)));
        }
    }
    all
}

/// Calls the function with every item, on as many threads as there are processors.
fn on_all<T: Sync>(items: &[T], work: impl Fn(usize, &T) + Sync) {
    let next = AtomicUsize::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(n) else { break };
                    work(n, item);
                }
            });
        }
    });
}

#[test]
fn no_string_of_a_recording_steers() {
    let recordings = spoilt_recordings();
    assert!(recordings.len() > 80, "{}", recordings.len());
    let whole = recording(&visit());
    on_all(&recordings, |_, (at, bytes)| {
        let folder = tempdir().unwrap();
        let here = folder.path();
        put(here, "bad.jsonl", bytes);
        put(here, "whole.jsonl", &whole);
        for arguments in [
            &["inspect", "bad.jsonl"][..],
            &["inspect", "bad.jsonl", "--json"],
            &["replay", "bad.jsonl"],
            &["replay", "bad.jsonl", "--json"],
            &["replay", "bad.jsonl", "--speed", "10000", "--report", "r"],
            &["compare", "whole.jsonl", "bad.jsonl"],
            &["compare", "whole.jsonl", "bad.jsonl", "--json"],
            &["overview", "."],
            &["overview", ".", "--json"],
            &[
                "visit",
                "--plain",
                "--replay",
                "bad.jsonl",
                "--speed",
                "10000",
            ],
            &[
                "record",
                "copy.jsonl",
                "--replay",
                "bad.jsonl",
                "--assess",
                "--speed",
                "0",
            ],
            &["verify", "r", "bad.jsonl"],
        ] {
            check(here, arguments, at);
        }
    });
}

#[test]
fn no_string_of_a_card_a_protocol_file_a_rule_set_or_a_recipe_steers() {
    let files = |name: &'static str, text: &str| {
        let all = spoilt_toml(text).into_iter();
        all.map(|(at, text)| (name, at, text)).collect::<Vec<_>>()
    };
    let rules = needlerest::assess::RuleSet::SHIPPED;
    let (head, rest) = rules.split_once("[[rule]]").unwrap();
    let first = rest.split("[[rule]]").next().unwrap();
    let recipe = include_str!("../../demo/otter.recipe.toml");
    let mut all = files("card.toml", CARD);
    all.extend(files("sensor.toml", REFERENCE));
    all.extend(files("rules.toml", &format!("{head}[[rule]]{first}")));
    all.extend(files("recipe.toml", recipe));
    let syntax = format!("a = \"{}\n", EVIL.replace('\n', ""));
    for name in ["card.toml", "sensor.toml", "rules.toml", "recipe.toml"] {
        all.push((name, "syntax".to_owned(), syntax.clone()));
    }
    assert!(all.len() > 100, "{}", all.len());
    let whole = recording(&visit());
    on_all(&all, |_, (name, at, text)| {
        let folder = tempdir().unwrap();
        let here = folder.path();
        put(here, "whole.jsonl", &whole);
        put(here, name, text.as_bytes());
        let commands: &[&[&str]] = match *name {
            "card.toml" => &[
                &[
                    "replay",
                    "whole.jsonl",
                    "--card",
                    "card.toml",
                    "--report",
                    "r",
                ],
                &["verify", "r", "whole.jsonl"],
                &["visit", "v.jsonl", "--card", "card.toml"],
                &[
                    "compare",
                    "whole.jsonl",
                    "whole.jsonl",
                    "--card",
                    "card.toml",
                ],
            ],
            "sensor.toml" => &[
                &["protocol", "check", "sensor.toml"],
                &["protocol", "check", "sensor.toml", "--json"],
                &["protocol", "decode", "sensor.toml", "00112233445566778899"],
                &["scan", "--protocol", "sensor.toml", "--for", "1"],
            ],
            "rules.toml" => &[
                &[
                    "replay",
                    "whole.jsonl",
                    "--rules",
                    "rules.toml",
                    "--report",
                    "r",
                ],
                &["verify", "r", "whole.jsonl"],
            ],
            _ => &[&["simulate", "recipe.toml", "--out", "made"]],
        };
        for arguments in commands {
            check(here, arguments, at);
        }
    });
}

#[test]
fn no_string_of_a_report_a_signature_or_the_settings_steers() {
    let folder = tempdir().unwrap();
    let here = folder.path();
    put(here, "whole.jsonl", &recording(&visit()));
    check(here, &["replay", "whole.jsonl", "--report", "r"], "report");
    assert!(here.join("r").is_dir(), "no report was made");
    let findings = std::fs::read(here.join("r/findings.json")).unwrap();
    let findings: Value = serde_json::from_slice(&findings).unwrap();
    let spoilt_findings = spoilt(&findings);
    assert!(spoilt_findings.len() > 200, "{}", spoilt_findings.len());
    for (n, (at, value)) in spoilt_findings.iter().enumerate() {
        // Every string of the head, and a draw from the rest, which is compared all alike.
        if n % 8 == 0 || !at.starts_with("/assessment") && !at.starts_with("/runs") {
            let text = serde_json::to_string_pretty(value).unwrap();
            put(here, "findings.json", text.as_bytes());
            check(here, &["verify", "findings.json", "whole.jsonl"], at);
            check(
                here,
                &["verify", "findings.json", "whole.jsonl", "--json"],
                at,
            );
        }
    }
    std::fs::write(here.join("r").join(EVIL.replace('/', "")), "x").unwrap();
    check(here, &["verify", "r", "whole.jsonl"], "an added file");

    check(here, &["key", "my.key"], "a key");
    check(
        here,
        &["sign", "whole.jsonl", "--key", "my.key"],
        "a signature",
    );
    let signature = std::fs::read_to_string(here.join("whole.jsonl.signature")).unwrap();
    let signature: Value = serde_json::from_str(&signature).unwrap();
    for (at, value) in spoilt(&signature) {
        put(here, "bad.signature", value.to_string().as_bytes());
        let with = ["verify", "r", "whole.jsonl", "--signature", "bad.signature"];
        check(here, &with, &at);
    }

    let own = here.join("settings/needlerest");
    std::fs::create_dir_all(&own).unwrap();
    for (at, text) in spoilt_toml("unit = \"bar\"\nsensor = \"shed\"\n") {
        put(&own, "settings.toml", text.as_bytes());
        check(here, &["settings"], &at);
        check(here, &["replay", "--help"], &at);
        check(here, &["visit", "x.jsonl"], &at);
    }
    std::fs::remove_file(own.join("settings.toml")).unwrap();
    let known = "[shed]\naddress = \"00:11\"\nadvertised = \"Needle\"\nprotocol = \"p.toml\"\n";
    for (at, text) in spoilt_toml(known) {
        put(&own, "sensors.toml", text.as_bytes());
        check(here, &["sensors"], &at);
        check(here, &["record", "x.jsonl", "--sensor", "nothing"], &at);
    }
}

#[test]
fn no_argument_and_no_name_of_a_file_steers() {
    let folder = tempdir().unwrap();
    let here = folder.path();
    let name = EVIL.replace('/', "");
    put(here, "whole.jsonl", &recording(&visit()));
    put(here, &format!("{name}.jsonl"), &recording(&visit()));
    let evil = format!("{name}.jsonl");
    for arguments in [
        &[EVIL][..],
        &["replay", EVIL],
        &["replay", &evil],
        &["replay", &evil, "--report", EVIL],
        &["replay", "whole.jsonl", "--rig", EVIL],
        &["replay", "whole.jsonl", "--unit", EVIL],
        &["replay", "whole.jsonl", "--runs", EVIL],
        &["inspect", &evil, "--recover", EVIL],
        &["compare", &evil, &evil],
        &["overview", "."],
        &["verify", EVIL, &evil],
        &["sign", &evil, "--key", EVIL],
        &["key", EVIL],
        &["protocol", "check", EVIL],
        &["protocol", "decode", "whole.jsonl", EVIL],
        &["card", EVIL, "--label", EVIL, "--no-questions"],
        &["simulate", EVIL, "--out", "o"],
        &["settings", "set", EVIL, EVIL],
        &["settings", "set", "sensor", EVIL],
        &["sensors", "forget", EVIL],
        &["visit", EVIL, "--card", EVIL],
        &["visit", EVIL, "--resume"],
        &["record", EVIL, "--replay", &evil, "--speed", "0"],
        &["guide", EVIL],
        &["manpages", EVIL],
        &["self-check", "--sensor", EVIL],
        &["scan", "--adapter", EVIL, "--for", "1"],
    ] {
        check(here, arguments, "an argument");
    }
}

/// The gauge steers the terminal, as it must: but only by sequences of its own.
#[test]
fn names_on_the_gauge_do_not_steer() {
    let mut lines = visit();
    lines[0]["sensor"]["name"] = EVIL.into();
    let mut card: Value = toml::from_str(CARD).unwrap();
    card["engine"]["label"] = EVIL.into();
    card["cylinder"][0]["name"] = EVIL.into();
    card["cylinder"][1]["neighbours"][0] = EVIL.into();
    lines[0]["card"] = toml::to_string(&card).unwrap().into();
    let folder = tempdir().unwrap();
    put(folder.path(), "bad.jsonl", &recording(&lines));
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlerest"));
    command
        .args([
            "visit",
            "--replay",
            "bad.jsonl",
            "--speed",
            "100",
            "--quiet",
        ])
        .current_dir(folder.path())
        .env("TERM", "xterm")
        .env("XDG_CONFIG_HOME", folder.path().join("settings"));
    let (said, _) = on_a_terminal(command);
    let text = String::from_utf8(said).expect("UTF-8");
    assert!(text.contains("\u{1b}[?1049h"), "the gauge was not shown");
    let (gauge, after) = text.split_once("\u{1b}[?1049l").expect("it was closed");
    for sequence in ["\u{1b}]", "\u{7}", "\u{8}", "\u{b}", "\r\n", "\t"] {
        assert!(!gauge.contains(sequence), "{sequence:?}");
    }
    let hidden = |c: char| {
        ('\u{7f}'..='\u{9f}').contains(&c)
            || ('\u{202a}'..='\u{202e}').contains(&c)
            || matches!(
                c,
                '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}'
            )
    };
    assert!(!gauge.contains(hidden));
    assert!(!after.contains("\u{1b}]") && !after.contains(hidden));
}
