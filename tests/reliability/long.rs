//! Recordings that hold far more than any visit: what is listed is bounded and said so, what is
//! written can be verified, and it is the same whether or not anybody heard the news.

use super::support::header;
use needlerest::engine::Condition;
use needlerest::pipeline::{
    Findings, MOST_RUNS, MOST_STROKES, MOST_TEXT, Options, Player, analyse,
};
use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{Event, Packet, TimedEvent, Writer};
use needlerest::report::verify::{Agreement, Examined, Submitted, compare};
use needlerest::report::{Units, outputs};
use needlerest::units::Pressure;

/// What a page may have at most, in bytes.
const PAGE: usize = 20_000_000;

/// A recording in the making: a hundred samples a second, a stroke every tenth of one.
struct Tape {
    writer: Writer<Vec<u8>>,
    encoder: Encoder,
    t_us: u64,
}

impl Tape {
    fn new() -> Self {
        let file = ProtocolFile::parse(super::support::PROTOCOL).expect("a shipped file is sound");
        let mut encoder = Encoder::new(&file);
        encoder.set_rate(needlerest::units::Rate::from_hz(100.0));
        Self {
            writer: Writer::begin(Vec::new(), &header()).expect("memory"),
            encoder,
            t_us: 0,
        }
    }

    fn event(&mut self, event: Event) {
        let t_us = self.t_us;
        let timed = TimedEvent { t_us, event };
        self.writer.event(&timed).expect("memory");
    }

    fn packet(&mut self, level_pa: f64) {
        for n in 0..10 {
            let rise = libm::sin(std::f64::consts::PI * f64::from(n) / 9.0);
            let sample = SensorSample {
                tick: self.t_us,
                pressure: Pressure::from_pa(level_pa * rise * rise),
                temperature: None,
                battery: None,
                status: 0,
            };
            if let Some(hex) = self.encoder.push(&sample) {
                let from = "stream".to_owned();
                let t_us = self.t_us;
                let packet = Packet { t_us, from, hex };
                self.writer.packet(&packet).expect("memory");
            }
            self.t_us += 10_000;
        }
    }

    /// Two seconds of rest, then so many strokes without a check valve.
    fn run(&mut self, cylinder: &str, strokes: u32) {
        self.event(Event::Run {
            cylinder: cylinder.to_owned(),
            condition: Condition::ColdDry,
        });
        for _ in 0..20 {
            self.packet(0.0);
        }
        for n in 0..strokes {
            let wobble = 1.0 + 0.004 * f64::from(n * 7 % 5);
            self.packet(900e3 * wobble);
        }
    }

    fn seal(self) -> Vec<u8> {
        self.writer.seal().expect("memory").0
    }
}

/// The findings; the same when every piece of news is heard. Their report is within its bound and
/// agrees with itself.
fn findings(bytes: &[u8]) -> Findings {
    let analysis = analyse(bytes, Options::default()).expect("sound");
    let mut heard = Player::open(bytes, Options::default()).expect("sound");
    while heard.step().expect("memory").is_some() {}
    let heard = heard.finish().expect("memory");
    assert_eq!(heard.findings, analysis.findings);

    let findings = analysis.findings;
    let made = outputs(&findings, &analysis.traces, Units::of(&findings)).expect("a report");
    let files = made.into_iter().map(|output| Examined {
        name: output.name.to_owned(),
        bytes: output.bytes,
    });
    let report = Submitted::folder(files.collect(), Vec::new());
    let page = report.files[0].bytes.len();
    assert!(page < PAGE, "a page of {page} bytes");
    let found = compare(&report, &findings, &analysis.traces).expect("a report");
    assert_eq!(found.agreement, Agreement::EveryByte);
    findings
}

fn listed(findings: &Findings) -> u64 {
    let runs = findings.runs.iter();
    runs.map(|run| run.result.strokes.len() as u64).sum()
}

fn says(findings: &Findings, what: &str) {
    let notes = &findings.recording.notes;
    assert!(notes.iter().any(|note| note.contains(what)), "{what}");
}

#[test]
fn many_strokes_in_many_runs() {
    let mut tape = Tape::new();
    for n in 0..30 {
        tape.run(&format!("{n}"), 1000);
    }
    let findings = findings(&tape.seal());
    assert_eq!(findings.runs.len() as u64, MOST_STROKES / 1000);
    assert!(listed(&findings) <= MOST_STROKES);
    says(&findings, "came after run 20 is left out");
}

#[test]
fn many_strokes_in_one_run() {
    let mut tape = Tape::new();
    tape.run("only", MOST_STROKES as u32 + 2000);
    tape.run("after", 20);
    let findings = findings(&tape.seal());
    assert_eq!(findings.runs.len(), 1);
    assert_eq!(listed(&findings), 1000);
    says(&findings, "came after run 1 is left out");
}

#[test]
fn many_runs_with_long_names_reasons_and_notes() {
    let mut tape = Tape::new();
    for n in 0..MOST_RUNS + 20 {
        tape.run(&format!("{n:0>256}"), 8);
        if n % 2 == 1 {
            let reason = "x".repeat(16_000);
            tape.event(Event::Void { run: None, reason });
        }
        let text = "y".repeat(16_000);
        tape.event(Event::Note { text });
    }
    let findings = findings(&tape.seal());
    assert_eq!(findings.runs.len(), MOST_RUNS);
    says(&findings, "came after run 400 is left out");
    says(&findings, "more notes and marks than are kept");
    let reasons = findings
        .runs
        .iter()
        .filter_map(|run| run.void_reason.as_ref());
    let texts = reasons.chain(&findings.recording.notes);
    let kept = texts.filter(|text| text.len() == 16_000).count();
    assert!(kept <= MOST_TEXT / 16_000 && kept > 10, "{kept}");
}

/// Nothing is said of a recording that is long, but not too long.
#[test]
fn what_is_within_the_bounds_is_all_there() {
    let mut tape = Tape::new();
    for n in 0..MOST_RUNS {
        tape.run(&format!("{}", n % 8), 6);
    }
    let findings = findings(&tape.seal());
    assert_eq!(findings.runs.len(), MOST_RUNS);
    assert!(findings.recording.notes.is_empty());
}
