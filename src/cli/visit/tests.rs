//! A visit at the desk, from the virtual sensor into a recording: what it tells of sensor, battery
//! and link, and what the recording knows of them afterwards.

use super::hands::Hands;
use super::open::{self, Wanted};
use super::view::scene;
use crate::cli::live::desk::{Desk, News};
use crate::cli::live::view::Frame;
use crate::engine::Condition;
use crate::pipeline::{Findings, Options, analyse};
use crate::protocol::ProtocolFile;
use crate::recording::{Event, LinkQuality, Record, TimedEvent, open as open_recording};
use crate::session::{Command, Session, Stage};
use crate::simulate::Recipe;
use crate::transport::{Arrival, Pace, PracticeHand, PracticeSensor, Source, practice};
use crate::units::PressureUnit;
use std::path::PathBuf;
use tempfile::TempDir;

const SENSOR: &str = include_str!("../../../protocol/reference-sensor.toml");
const ENVIRONMENTAL: &str = include_str!("../../../protocol/environmental-sensing.toml");
const FRAMES: &str = include_str!("../../../protocol/examples/frames.toml");
const LINES: &str = include_str!("../../../protocol/examples/text-lines.toml");
/// Recipe and card.
const TWIN: (&str, &str) = (
    include_str!("../../../demo/practice/starter-twin.recipe.toml"),
    include_str!("../../../demo/practice/starter-twin.card.toml"),
);
const FOUR: (&str, &str) = (
    include_str!("../../../demo/practice/starter-four.recipe.toml"),
    include_str!("../../../demo/practice/starter-four.card.toml"),
);
const KICKED: (&str, &str) = (
    include_str!("../../../demo/practice/kicked-twin.recipe.toml"),
    include_str!("../../../demo/practice/kicked-twin.card.toml"),
);

/// Bits of the reference sensor's status: "sensor too hot" and "sensing element failed its
/// self-test".
const TOO_HOT: u32 = 1 << 1;
const FAILED: u32 = 1 << 2;

struct Visit {
    desk: Desk<Session>,
    sensor: PracticeSensor,
    hand: PracticeHand,
    now_us: u64,
    /// Every line that the user was told.
    lines: Vec<String>,
    folder: TempDir,
}

impl Visit {
    fn begin() -> Self {
        Self::to(TWIN, SENSOR)
    }

    /// A visit to an engine, with a sensor that this protocol file describes.
    fn to((recipe, card): (&str, &str), protocol: &str) -> Self {
        let protocol = ProtocolFile::parse(protocol).expect("ships with the program");
        let recipe = Recipe::parse(recipe).expect("ships with the program");
        let (sensor, hand) = practice(recipe, &protocol).expect("a sensor");
        let folder = tempfile::tempdir().expect("a folder");
        let wanted = Wanted {
            file: Some(&folder.path().join("visit.jsonl")),
            card: Some(card.to_owned()),
            resume: false,
            warm: false,
            cautions_read: true,
            unit: None,
            restrictor: None,
            check_tester: false,
        };
        Self {
            desk: open::desk(&wanted, sensor.origin().clone()).expect("a desk"),
            sensor: sensor.at_pace(Pace::Fast),
            hand,
            now_us: 0,
            lines: Vec::new(),
            folder,
        }
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("visit.jsonl")
    }

    /// Takes what the desk has to say.
    fn listen(&mut self) {
        for news in self.desk.news() {
            match news {
                News::Line(text) => self.lines.push(text),
                News::Told(told) => self.lines.push(told.text().to_owned()),
                News::Asked(cylinder, condition) => self.hand.fit(&cylinder, condition),
                News::Announce(_) | News::Written(_) | News::Air(_) | News::AirTested(_) => {}
            }
        }
    }

    /// Lets time pass.
    async fn wait(&mut self, seconds: f64) {
        let until = self.now_us + (seconds * 1e6) as u64;
        while self.now_us < until {
            let Some(arrival) = self.sensor.next().await.expect("goes on") else {
                panic!("the sensor goes on");
            };
            if let Arrival::Packet(packet) = &arrival {
                self.now_us = packet.t_us;
            }
            self.desk.take(arrival);
            self.desk.tick(self.now_us);
            self.listen();
        }
    }

    /// Cranks the cylinder that is asked for until STOP, waits for the leak check, bleeds.
    async fn make_run(&mut self) {
        for _ in 0..20 {
            if self.desk.guide.stage() > Stage::Climbing {
                break;
            }
            self.hand.kick();
            self.wait(2.1).await;
        }
        self.wait(6.0).await;
        assert_eq!(self.desk.guide.stage(), Stage::Bleed, "{:#?}", self.lines);
        self.hand.bleed();
        self.wait(3.0).await;
    }

    fn happened(&mut self, event: Event) {
        let t_us = self.now_us;
        self.desk.take(Arrival::Event(TimedEvent { t_us, event }));
        self.listen();
    }

    fn told(&self, words: &str) -> usize {
        self.lines.iter().filter(|l| l.contains(words)).count()
    }

    /// What the gauge warns of now.
    fn trouble(&self) -> Option<String> {
        let frame = Frame::new(None, String::new(), PressureUnit::Psi);
        scene(&self.desk, &frame, &Hands::default()).trouble
    }

    fn end(&mut self) -> Findings {
        assert!(self.desk.close().expect("the disk holds").is_some());
        let file = std::fs::File::open(self.file()).expect("written");
        let input = std::io::BufReader::new(file);
        let analysis = analyse(input, Options::default()).expect("sound");
        analysis.findings
    }
}

#[tokio::test]
async fn a_fault_of_the_sensor_is_told_and_shown_while_it_lasts() {
    let mut visit = Visit::begin();
    visit.wait(2.0).await;
    assert_eq!(visit.trouble(), None);
    visit.hand.status(FAILED | TOO_HOT);
    visit.wait(1.0).await;
    assert_eq!(visit.told("self-test; do not trust its readings now"), 1);
    assert_eq!(visit.told("the sensor says: sensor too hot"), 1);
    visit.wait(30.0).await;
    let shown = visit.trouble().expect("it lasts");
    assert!(shown.contains("self-test; do not trust"), "{shown}");
    visit.hand.status(0);
    visit.wait(20.0).await;
    assert_eq!(visit.trouble(), None);
    // It is told each time anew, and once.
    visit.hand.status(FAILED);
    visit.wait(1.0).await;
    assert_eq!(visit.told("self-test; do not trust its readings now"), 2);
}

#[tokio::test]
async fn a_low_battery_is_told_once() {
    let mut visit = Visit::begin();
    visit.hand.charge(16.0);
    visit.wait(2.0).await;
    assert_eq!(visit.told("battery"), 0);
    for percent in [14.0, 13.0, 15.0, 12.0] {
        visit.hand.charge(percent);
        visit.wait(1.0).await;
    }
    assert_eq!(visit.told("battery is at 14 %: charge it soon"), 1);
    assert_eq!(visit.told("charge it soon"), 1);
    let frame = Frame::new(None, String::new(), PressureUnit::Psi);
    let scene = scene(&visit.desk, &frame, &Hands::default());
    assert_eq!(scene.sensor.battery, Some(12.0));
    assert!(scene.sensor.battery_low);
}

#[tokio::test]
async fn the_recording_knows_every_ten_seconds_how_the_link_did() {
    let mut visit = Visit::begin();
    visit.wait(45.0).await;
    let file = visit.file();
    let findings = visit.end();
    let reader = open_recording(&file).expect("a recording");
    let links: Vec<(u64, u64)> = reader
        .filter_map(|line| match line.expect("readable").outcome {
            Ok(Record::Event(TimedEvent {
                t_us,
                event: Event::Link(quality),
            })) => Some((t_us, quality.packets)),
            _ => None,
        })
        .collect();
    // Four on the way, one at the end.
    assert_eq!(links.len(), 5, "{links:?}");
    assert!(links.is_sorted_by(|a, b| a.0 <= b.0 && a.1 <= b.1));
    for (at, (t_us, _)) in links.iter().take(4).enumerate() {
        let due = (at as u64 + 1) * 10_000_000;
        // Between two packets no time passes here.
        assert!(t_us.abs_diff(due) < 500_000, "{links:?}");
    }
    let link = link_of(&findings);
    // The virtual sensor's clock is the host's, and nothing is late.
    let latency = link.latency_us.expect("the sensor has a clock");
    assert!(latency.p99 < 1000, "{latency:?}");
    let drift = link.drift_ppm.expect("long enough");
    assert!(drift.abs() < 5.0, "{drift}");
}

#[tokio::test]
async fn each_run_comes_with_its_own_index_though_others_do_not_count() {
    let mut visit = Visit::begin();
    visit.wait(2.0).await;
    // Left out before its first stroke, then twice the same reading nearly to the pascal.
    visit.desk.command(Command::Skip);
    visit.listen();
    visit.make_run().await;
    visit.desk.command(Command::Redo);
    visit.listen();
    visit.make_run().await;
    let made: Vec<(usize, String, bool)> = visit
        .desk
        .guide
        .made()
        .iter()
        .map(|made| (made.index, made.cylinder.clone(), made.reading.is_some()))
        .collect();
    let findings = visit.end();
    for (index, cylinder, read) in &made {
        let run = findings.runs.get(*index).expect("kept");
        assert_eq!(&run.cylinder, cylinder);
        assert_eq!(run.result.reading.is_some(), *read, "{made:?}");
    }
    let read = findings
        .runs
        .iter()
        .filter(|run| !run.result.strokes.is_empty());
    let void: Vec<bool> = read.map(|run| run.void).collect();
    assert_eq!(
        void,
        [true, false],
        "the second one takes the place of the first"
    );
}

#[tokio::test]
async fn a_lost_link_is_told_by_the_guide_alone() {
    let mut visit = Visit::begin();
    visit.wait(2.0).await;
    visit.happened(Event::LinkLost);
    visit.happened(Event::LinkBack);
    assert_eq!(
        visit.told("Link to the sensor lost"),
        1,
        "{:#?}",
        visit.lines
    );
    assert_eq!(visit.told("Link is back"), 1, "{:#?}", visit.lines);
    assert_eq!(visit.told("trying to get it back"), 0);
    let findings = visit.end();
    assert_eq!(link_of(&findings).link_losses, 1);
}

/// Whatever the sensor: the cylinder that is low is proposed wet once the round is made.
#[tokio::test]
async fn the_wet_run_is_proposed_with_any_protocol_file() {
    for (engine, cylinders, low) in [(TWIN, 2, "2"), (FOUR, 4, "3"), (KICKED, 2, "right")] {
        for protocol in [SENSOR, ENVIRONMENTAL, FRAMES, LINES] {
            let mut visit = Visit::to(engine, protocol);
            visit.wait(4.0).await;
            for _ in 0..cylinders {
                visit.make_run().await;
            }
            let asked = visit.desk.guide.current().cloned();
            let asked = asked.map(|planned| (planned.cylinder, planned.condition));
            let wet = (low.to_owned(), Condition::Wet);
            assert_eq!(asked, Some(wet), "{:#?}", visit.lines);
            let dose = visit.desk.guide.oil_to_pour();
            assert!(dose.is_some_and(|cm3| cm3 > 0.5), "{dose:?}");
        }
    }
}

#[tokio::test]
async fn nobody_finds_a_run_that_was_never_made() {
    let mut visit = Visit::begin();
    visit.wait(4.0).await;
    assert_eq!(visit.desk.guide.stage(), Stage::Ready);
    visit.desk.leave();
    assert_eq!(visit.end().runs, []);
}

fn link_of(findings: &Findings) -> LinkQuality {
    findings.sensor.link.clone().expect("told in the recording")
}
