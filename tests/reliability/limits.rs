//! Whatever the input, memory is bounded: the program's peak is read from the system when it has
//! done its work and waits to be heard.

use super::support::{header, number, program, tape};
use needlerest::engine::Condition;
use needlerest::pipeline::{MOST_RUNS, MOST_TEXT, Options, Pipeline, Soundness};
use needlerest::recording::{Event, Record, TimedEvent, Writer};
use std::fs::OpenOptions;
use std::io::{PipeReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// No hostile input may cost more. The program itself, unoptimised, holds about 40 MB.
const MOST_KIB: u64 = 192 * 1024;

/// Starts a program whose every output waits, because nobody reads it yet.
fn unheard(mut command: Command) -> (Child, PipeReader) {
    let (ear, mut mouth) = std::io::pipe().expect("a pipe");
    // A pipe holds 64 KiB (pipe(7)); once full, the program stops at its first word.
    mouth
        .write_all(&vec![b'.'; 64 * 1024])
        .expect("the pipe takes it");
    command
        .stdout(mouth.try_clone().expect("a pipe"))
        .stderr(mouth)
        .stdin(Stdio::null());
    (command.spawn().expect("the program starts"), ear)
}

/// Waits until the program is at a word; gives its peak memory.
fn peak_kib(child: &Child) -> u64 {
    let of = |file: &str| std::fs::read_to_string(format!("/proc/{}/{file}", child.id()));
    // Either standard output or standard error: `write` is system call 1 on x86-64, 64 on Arm.
    let speaks = |call: &str| {
        ["1 0x1 ", "1 0x2 ", "64 0x1 ", "64 0x2 "]
            .iter()
            .any(|w| call.starts_with(w))
    };
    loop {
        match of("syscall") {
            Ok(call) if speaks(&call) => break,
            // Not allowed to look: time enough must do.
            Err(error) if error.kind() == std::io::ErrorKind::PermissionDenied => {
                std::thread::sleep(Duration::from_secs(5));
                break;
            }
            _ => std::thread::sleep(Duration::from_millis(2)),
        }
    }
    let status = of("status").expect("it still runs");
    let line = status
        .lines()
        .find(|line| line.starts_with("VmHWM:"))
        .expect("Linux tells it");
    line.split_whitespace()
        .nth(1)
        .and_then(|word| word.parse().ok())
        .expect("a number")
}

/// Lets it speak; gives what it said and its exit code.
fn hear(mut child: Child, mut ear: PipeReader) -> (String, Option<i32>) {
    let mut said = Vec::new();
    ear.read_to_end(&mut said).expect("it can be heard");
    let said = String::from_utf8_lossy(&said)
        .trim_start_matches('.')
        .to_owned();
    (said, child.wait().expect("it ends").code())
}

fn peak_of(args: &[&Path]) -> (u64, String, Option<i32>) {
    let mut command = program();
    command.args(args);
    let (child, ear) = unheard(command);
    let peak = peak_kib(&child);
    let (said, code) = hear(child, ear);
    println!("{args:?}: {peak} KiB");
    (peak, said, code)
}

#[test]
fn a_line_of_ten_gigabytes_costs_no_memory() {
    let megabytes = number("RELIABILITY_LINE_MB", 64);
    let folder = tempfile::tempdir().expect("a folder");
    let feed = folder.path().join("feed");
    assert!(super::support::tool(
        "mkfifo",
        &[feed.to_str().expect("UTF-8")]
    ));
    let mut command = program();
    command.arg("inspect").arg(&feed);
    let (child, ear) = unheard(command);
    let mut pipe = OpenOptions::new()
        .write(true)
        .open(&feed)
        .expect("the pipe");
    let (tape, _) = tape(10);
    pipe.write_all(&tape[..tape.len() - 1])
        .expect("the pipe takes it");
    let piece = vec![b'a'; 1024 * 1024];
    for _ in 0..megabytes {
        pipe.write_all(&piece).expect("the pipe takes it");
    }
    drop(pipe);
    let peak = peak_kib(&child);
    let (said, code) = hear(child, ear);
    println!("a line of {megabytes} MB: {peak} KiB");
    assert!(peak < MOST_KIB, "{peak} KiB");
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("12"), "{said}");
}

#[test]
fn documents_of_any_length_are_refused_in_little_memory() {
    let folder = tempfile::tempdir().expect("a folder");
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).expect("the folder takes it");
        path
    };
    let field = "[[stream.field]]\nrole = \"skip\"\ntype = \"u8\"\n\n";
    let protocol = format!("{}{}", super::support::PROTOCOL, field.repeat(1_000_000));
    let protocol = put("million.toml", protocol.as_bytes());
    let cylinder = "[[cylinder]]\nname = \"x\"\n";
    let card = include_str!("../../demo/wren.card.toml").to_owned() + &cylinder.repeat(1_000_000);
    let card = put("card.toml", card.as_bytes());
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/wren.jsonl");
    let p = Path::new;
    let hostile: [&[&Path]; 3] = [
        &[p("protocol"), p("check"), &protocol],
        &[p("replay"), &demo, p("--card"), &card],
        &[p("replay"), &demo, p("--rules"), &card],
    ];
    for args in hostile {
        let (peak, said, code) = peak_of(args);
        assert!(peak < MOST_KIB, "{peak} KiB");
        assert_eq!(code, Some(4), "{said}");
        assert!(said.contains("65536 bytes"), "{said}");
    }
}

/// A recording that names a hundred thousand runs, and one with as many long notes.
#[test]
fn a_recording_of_endless_runs_and_notes_is_bounded_and_says_so() {
    let mut pipeline = Pipeline::new(header(), Options::default()).expect("a sound header");
    let mut news = Vec::new();
    for t_us in 0..5_000 {
        let run = Event::Run {
            cylinder: format!("{t_us}"),
            condition: Condition::ColdDry,
        };
        let note = Event::Note {
            text: "x".repeat(1000),
        };
        for event in [run, note] {
            pipeline.take(&Record::Event(TimedEvent { t_us, event }), &mut news);
        }
        news.clear();
    }
    let findings = pipeline.finish(Soundness::default()).findings;
    assert_eq!(findings.runs.len(), MOST_RUNS);
    let notes = &findings.recording.notes;
    // A thousand bytes each.
    let kept = MOST_TEXT / 1000;
    assert_eq!(notes.len(), kept + 2);
    let (runs, others) = (&notes[kept], &notes[kept + 1]);
    assert!(runs.contains("came after run 400 is left out"), "{runs}");
    let left_out = format!("after the first {kept}, {} are left out", 5000 - kept);
    assert!(others.contains(&left_out), "{others}");
}

/// The bounds that `protocol/session-file.md` states are the bounds that are kept.
#[test]
fn what_is_longer_than_stated_is_refused_by_the_writer() {
    use needlerest::recording::{Packet, limits};
    let mut writer = Writer::begin(Vec::new(), &header()).expect("memory");
    let packet = |from: usize, payload: usize| Packet {
        t_us: 0,
        from: "x".repeat(from),
        hex: vec![0; payload],
    };
    assert!(
        writer
            .packet(&packet(limits::NAME, limits::PAYLOAD))
            .is_ok()
    );
    assert!(writer.packet(&packet(limits::NAME + 1, 1)).is_err());
    assert!(writer.packet(&packet(1, limits::PAYLOAD + 1)).is_err());
    let note = |length: usize| TimedEvent {
        t_us: 0,
        event: Event::Note {
            text: "x".repeat(length),
        },
    };
    assert!(writer.event(&note(limits::TEXT)).is_ok());
    assert!(writer.event(&note(limits::TEXT + 1)).is_err());
    let mut long = header();
    long.protocol = "x".repeat(limits::DOCUMENT + 1);
    assert!(Writer::begin(Vec::new(), &long).is_err());
    // Every record within its bounds fits a line, however it must be escaped.
    let mut widest = header();
    widest.protocol = "\u{1}".repeat(limits::DOCUMENT);
    widest.card = Some("\u{1}".repeat(limits::DOCUMENT));
    let bytes = Writer::begin(Vec::new(), &widest)
        .and_then(Writer::seal)
        .expect("it fits")
        .0;
    assert!(needlerest::recording::Reader::new(bytes.as_slice()).is_ok());
}
