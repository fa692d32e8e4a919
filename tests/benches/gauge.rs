//! How soon the gauge shows what the sensor told, from the outside: a stand-in for the Bluetooth
//! daemon sends the reference sensor's notifications at 1 kHz over a real message bus; the real
//! program runs `visit` in a pseudo-terminal; what it writes there is timed.
//!
//! - *Stairs*: the pressure stays, then steps up. From the sending of the first notification with
//!   the new level to the first block letter that changes on the terminal.
//! - *Runs*: runs that settle. From the sending of the notification that decides (the same analysis
//!   says which) to the terminal's bell, which is rung after the picture is drawn.
//!
//! `cargo bench --bench gauge`; needs dbus-daemon and script (util-linux). Takes four minutes.
#![cfg(target_os = "linux")]
#![allow(dead_code, reason = "the stand-in can do more than is needed here")]

#[path = "../radio/answers.rs"]
mod answers;
#[path = "../support/skip.rs"]
mod skip;

#[path = "../radio/bus.rs"]
mod bus;
#[path = "../radio/daemon.rs"]
mod daemon;
#[path = "../radio/faults.rs"]
mod faults;
#[path = "../radio/peripheral.rs"]
mod peripheral;
#[path = "../radio/reference.rs"]
mod reference;
#[path = "../radio/script.rs"]
mod script;
#[path = "../radio/tree.rs"]
mod tree;

use bus::Bus;
use daemon::{Daemon, Setup};
use hdrhistogram::Histogram;
use needlerest::pipeline::{News, Options, Pipeline};
use needlerest::protocol::{Encoder, ProtocolFile, STREAM, SensorSample};
use needlerest::recording::{
    Event, FORMAT, Header, Packet, Record, SensorIdentity, TimedEvent, VERSION,
};
use needlerest::signal;
use needlerest::units::{Pressure, Rate, Temperature};
use peripheral::Firmware;
use std::io::Read;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

const RATE_HZ: f64 = 1000.0;
const AT_REST_S: f64 = 3.0;
/// Off the rhythm of the packets and of the pictures.
const STEP_S: f64 = 0.137;
const STEPS: f64 = 720.0;
const CYCLE_S: f64 = 15.0;
const CYCLES: f64 = 9.0;

/// What the sensor plays.
#[derive(Clone, Copy, PartialEq)]
enum Play {
    Stairs,
    Runs,
}

impl Play {
    fn seconds(self) -> f64 {
        match self {
            Self::Stairs => AT_REST_S + STEP_S * STEPS,
            Self::Runs => CYCLE_S * CYCLES,
        }
    }

    /// Gauge pressure in kPa.
    fn pressure(self, time: f64) -> f64 {
        match self {
            Self::Stairs => 3.0 * ((time - AT_REST_S) / STEP_S).floor().clamp(0.0, STEPS),
            Self::Runs => {
                let t = time % CYCLE_S - AT_REST_S;
                if !(0.0..=10.0).contains(&t) {
                    return 0.0;
                }
                let stroke = (t / 0.3).min(14.0);
                let climbed = stroke.floor() + (stroke.fract() * 4.0).min(1.0);
                1000.0 * (1.0 - libm::pow(0.5, climbed))
            }
        }
    }
}

/// Notifications with the time at which they were handed to the bus.
type Sent = Arc<Mutex<Vec<(Instant, Vec<u8>)>>>;

struct Player {
    play: Play,
    encoder: Encoder,
    sample: u64,
    streaming: bool,
    sent: Sent,
}

impl Firmware for Player {
    fn command(&mut self, bytes: &[u8]) -> Result<(), String> {
        match bytes {
            [1] => self.streaming = true,
            [2] => self.streaming = false,
            _ => {}
        }
        Ok(())
    }

    fn streaming(&self) -> bool {
        self.streaming
    }

    fn disconnected(&mut self) {
        self.streaming = false;
    }

    fn next(&mut self) -> Vec<u8> {
        loop {
            let time = self.sample as f64 / RATE_HZ;
            let sample = SensorSample {
                tick: self.sample * self.encoder.interval(),
                pressure: Pressure::from_kpa(self.play.pressure(time)),
                temperature: Some(Temperature::from_celsius(24.0)),
                battery: Some(87.0),
                status: 0,
            };
            self.sample += 1;
            if let Some(payload) = self.encoder.push(&sample) {
                let mut sent = self.sent.lock().expect("no panic");
                sent.push((Instant::now(), payload.clone()));
                return payload;
            }
        }
    }

    fn period(&self) -> Duration {
        Duration::from_secs_f64(self.encoder.samples_per_packet() as f64 / RATE_HZ)
    }
}

/// What the program wrote to its terminal, and when.
type Written = Arc<Mutex<Vec<(Instant, Vec<u8>)>>>;

/// The program in a pseudo-terminal of `script`.
fn start(bus: &str, folder: &std::path::Path) -> (Child, Written) {
    let program = env!("CARGO_BIN_EXE_needlerest");
    let recording = folder.join("bench.jsonl");
    let line = format!(
        "stty rows 24 cols 80; exec {program} visit {} --cautions-read --rate 1000 --unit kPa",
        recording.display()
    );
    let mut child = Command::new("script")
        .args([
            "--quiet",
            "--flush",
            "--return",
            "--command",
            &line,
            "/dev/null",
        ])
        .env("DBUS_SYSTEM_BUS_ADDRESS", bus)
        .env("HOME", folder)
        .env("TERM", "xterm-256color")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("script runs");
    let mut out = child.stdout.take().expect("piped");
    let written = Written::default();
    let keep = written.clone();
    std::thread::spawn(move || {
        let mut buffer = vec![0; 1 << 16];
        while let Ok(length @ 1..) = out.read(&mut buffer) {
            let chunk = buffer.get(..length).unwrap_or_default().to_vec();
            keep.lock().expect("no panic").push((Instant::now(), chunk));
        }
    });
    (child, written)
}

/// The program's own process, below `script`.
fn program_of(script: &Child) -> String {
    let list = Command::new("pgrep")
        .args(["-P", &script.id().to_string()])
        .output()
        .expect("pgrep runs");
    String::from_utf8_lossy(&list.stdout).trim().to_owned()
}

/// Processor time of a process in ticks of 10 ms (proc(5)).
fn processor_ticks(process: &str) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    let fields: Vec<&str> = stat
        .rsplit(')')
        .next()
        .unwrap_or("")
        .split_whitespace()
        .collect();
    let at = |n: usize| {
        fields
            .get(n)
            .and_then(|f| f.parse::<f64>().ok())
            .unwrap_or(0.0)
    };
    at(11) + at(12)
}

struct Played {
    sent: Vec<(Instant, Vec<u8>)>,
    written: Vec<(Instant, Vec<u8>)>,
    /// Share of one core.
    load: f64,
}

async fn play(play: Play) -> Option<Played> {
    let bus = Bus::start("")?;
    let file = ProtocolFile::parse(reference::FILE).expect("ships with the program");
    let mut encoder = Encoder::new(&file);
    encoder.set_rate(Rate::from_hz(RATE_HZ));
    let sent = Sent::default();
    let setup = Setup {
        adapters: vec![("hci0", true)],
        peripherals: vec![reference::peripheral()],
        firmware: Box::new(Player {
            play,
            encoder,
            sample: 0,
            streaming: false,
            sent: sent.clone(),
        }),
        stream_uuid: reference::STREAM.to_owned(),
        command_uuid: reference::COMMAND.to_owned(),
    };
    let _daemon = Daemon::start(&bus.address, setup).await;
    let folder = tempfile::tempdir().expect("a folder");
    let (mut child, written) = start(&bus.address, folder.path());
    while sent.lock().expect("no panic").is_empty() {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    tokio::time::sleep(Duration::from_secs(1)).await;
    let process = program_of(&child);
    let (from, begun) = (processor_ticks(&process), Instant::now());
    tokio::time::sleep(Duration::from_secs_f64(play.seconds() - 2.0)).await;
    let load = (processor_ticks(&process) - from) / 100.0 / begun.elapsed().as_secs_f64();
    let _ = Command::new("kill").args(["-s", "TERM", &process]).status();
    let _ = child.wait();
    let sent = sent.lock().expect("no panic").clone();
    let written = written.lock().expect("no panic").clone();
    Some(Played {
        sent,
        written,
        load,
    })
}

fn histogram() -> Histogram<u64> {
    Histogram::new_with_bounds(1, 10_000_000, 3).expect("sound bounds")
}

fn microseconds(from: Instant, to: Instant) -> u64 {
    u64::try_from((to - from).as_micros()).unwrap_or(u64::MAX)
}

/// A letter of the large number or the needle changed: block elements, U+2580 to U+259F.
fn draws_blocks(chunk: &[u8]) -> bool {
    chunk.windows(2).any(|two| two == [0xE2, 0x96])
}

fn stairs(played: &Played) -> Histogram<u64> {
    let mut times = histogram();
    let per_packet = 10.0;
    for step in 1..STEPS as u64 {
        // The first packet whose last sample (the one shown) has the new level.
        let sample = ((AT_REST_S + step as f64 * STEP_S) * RATE_HZ).ceil();
        let packet = (sample / per_packet).floor() as usize;
        let Some((at, _)) = played.sent.get(packet) else {
            continue;
        };
        let shown = played
            .written
            .iter()
            .find(|(when, chunk)| when >= at && draws_blocks(chunk));
        if let Some((when, _)) = shown {
            let _ = times.record(microseconds(*at, *when));
        }
    }
    times
}

fn settled(played: &Played) -> Histogram<u64> {
    let mut times = histogram();
    let mut pipeline = Pipeline::new(header(), Options::default()).expect("sound");
    let mut news = Vec::new();
    for (number, (at, payload)) in played.sent.iter().enumerate() {
        let t_us = number as u64 * 10_000;
        let packet = Packet {
            t_us,
            from: STREAM.to_owned(),
            hex: payload.clone(),
        };
        news.clear();
        pipeline.take(&Record::Packet(packet), &mut news);
        // The session announces the next run when it knows the zero, and when a run has ended.
        let zeroed = |item: &News| matches!(item, News::Signal(signal::Event::Zeroed(_)));
        let settled = |item: &News| matches!(item, News::Signal(signal::Event::Settled { .. }));
        let ended = |item: &News| matches!(item, News::RunEnded { .. });
        let begins = news.iter().any(|item| zeroed(item) || ended(item));
        let settles = news.iter().any(settled);
        if begins {
            let event = Event::Run {
                cylinder: number.to_string(),
                condition: needlerest::engine::Condition::ColdDry,
            };
            let record = Record::Event(TimedEvent { t_us, event });
            pipeline.take(&record, &mut Vec::new());
        }
        if settles {
            let bell = played
                .written
                .iter()
                .find(|(when, chunk)| when >= at && chunk.contains(&7));
            if let Some((when, _)) = bell {
                let _ = times.record(microseconds(*at, *when));
            }
        }
    }
    times
}

fn header() -> Header {
    Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: "bench".to_owned(),
        started: "2026-05-09T08:30:00Z".to_owned(),
        protocol: reference::FILE.to_owned(),
        sensor: SensorIdentity::default(),
        card: None,
    }
}

fn print(what: &str, times: &Histogram<u64>, load: f64) {
    let ms = |us: u64| us as f64 / 1e3;
    println!(
        "{what:<40} {:>5} times  50 %: {:6.1} ms  99 %: {:6.1} ms  most: {:6.1} ms  processor: {:4.1} % of a core",
        times.len(),
        ms(times.value_at_quantile(0.5)),
        ms(times.value_at_quantile(0.99)),
        ms(times.max()),
        load * 100.0
    );
}

fn main() {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let Some(played) = play(Play::Stairs).await else {
            println!("skipped: dbus-daemon is not installed");
            return;
        };
        print(
            "notification to screen, 1 kHz",
            &stairs(&played),
            played.load,
        );
        if let Some(played) = play(Play::Runs).await {
            print(
                "deciding notification to bell, 1 kHz",
                &settled(&played),
                played.load,
            );
        }
    });
}
