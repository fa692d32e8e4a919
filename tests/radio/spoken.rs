//! Sensors that speak otherwise: lines of text, frames, asked for, read; as the examples in
//! protocol/examples describe them.

use crate::bus::Bus;
use crate::daemon::{Daemon, Setup, until};
use crate::peripheral::{Characteristic, Firmware, OnConnect, Peripheral, Service, short};
use crate::reference::ADDRESS;
use crate::stage::Stage;
use crate::tool::Tool;
use needlerest::protocol::{Decoder, Encoder, ProtocolFile, Reference, SensorSample};
use needlerest::units::{Pressure, Temperature, Time};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::Duration;

const HOME: &str = "6b1d0099-52c7-4a0e-9f3b-d04c8a17e5b2";

/// How pressure is had.
#[derive(Clone, Copy, PartialEq)]
enum How {
    Streams,
    Answers,
    IsRead,
}

/// The sensor of a protocol file: its pressure climbs and falls slowly.
struct Example {
    encoder: Encoder,
    absolute: bool,
    how: How,
    sample: u64,
    /// Messages until one is damaged on its way.
    good: Option<u32>,
    packets: VecDeque<Vec<u8>>,
}

impl Example {
    fn new(file: &ProtocolFile, how: How) -> Self {
        Self {
            encoder: Encoder::new(file).with_samples_per_packet(5),
            absolute: file.reference() == Reference::Absolute,
            how,
            sample: 0,
            good: None,
            packets: VecDeque::new(),
        }
    }

    fn packet(&mut self) -> Vec<u8> {
        loop {
            if let Some(packet) = self.packets.pop_front() {
                return packet;
            }
            let kpa = 500.0 + 400.0 * libm::sin(self.sample as f64 / 20.0);
            let sample = SensorSample {
                tick: self.sample * self.encoder.interval(),
                pressure: Pressure::from_kpa(kpa + if self.absolute { 101.325 } else { 0.0 }),
                temperature: Some(Temperature::from_celsius(24.0)),
                battery: None,
                status: 0,
            };
            self.sample += 1;
            if let Some(mut message) = self.encoder.push(&sample) {
                if self.good == Some(0) {
                    message[8] ^= 1;
                }
                self.good = self.good.and_then(|good| good.checked_sub(1));
                self.packets = self.encoder.packets(message).into();
            }
        }
    }
}

impl Firmware for Example {
    fn command(&mut self, bytes: &[u8]) -> Result<(), String> {
        match bytes {
            [0x52, 0x0D] if self.how == How::Answers => Ok(()),
            other => Err(format!("unknown command {other:02x?}")),
        }
    }

    fn streaming(&self) -> bool {
        self.how == How::Streams
    }

    fn disconnected(&mut self) {
        self.packets.clear();
    }

    fn next(&mut self) -> Vec<u8> {
        self.packet()
    }

    fn read(&mut self) -> Option<Vec<u8>> {
        (self.how == How::IsRead).then(|| self.packet())
    }

    fn answer(&mut self) -> Vec<Vec<u8>> {
        vec![self.packet()]
    }

    fn period(&self) -> Duration {
        Duration::from_millis(10)
    }
}

fn path_of(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("protocol")
        .join(name)
}

fn file_of(name: &str) -> ProtocolFile {
    let text = std::fs::read_to_string(path_of(name)).expect("ships with the program");
    ProtocolFile::parse(&text).expect("is sound")
}

/// The characteristic of the stream as `flags` have it, and the one that takes questions.
fn peripheral(file: &ProtocolFile, name: &str, flags: &[&'static str]) -> Peripheral {
    let stream = &file.spec().stream;
    let one = |uuid: String, flags: &[&'static str]| Characteristic {
        uuid,
        flags: flags.to_vec(),
        value: Vec::new(),
        descriptors: Vec::new(),
        mtu: 23,
    };
    let mut characteristics = vec![one(stream.uuid.uuid().to_string(), flags)];
    let asked = file.ask().and_then(|ask| ask.uuid);
    characteristics.extend(asked.map(|to| one(to.uuid().to_string(), &["write-without-response"])));
    let known = file.spec().recognise.service;
    let home = stream
        .service
        .or(known)
        .map_or(HOME.to_owned(), |uuid| uuid.uuid().to_string());
    Peripheral {
        address: ADDRESS.to_owned(),
        name: name.to_owned(),
        advertises: vec![home.clone()],
        rssi: -60,
        services: vec![Service {
            uuid: home,
            characteristics,
        }],
        on_connect: OnConnect::Accept,
        present: true,
    }
}

impl Stage {
    /// With the sensor of a protocol file that ships.
    async fn speaking(name: &str, called: &str, how: How, flags: &[&'static str]) -> Option<Self> {
        let bus = Bus::start("")?;
        let file = file_of(name);
        let asked = file.ask().and_then(|ask| ask.uuid);
        let setup = Setup {
            adapters: vec![("hci0", true)],
            peripherals: vec![peripheral(&file, called, flags)],
            stream_uuid: file.spec().stream.uuid.uuid().to_string(),
            command_uuid: asked.map_or(short(0xFFF0), |uuid| uuid.uuid().to_string()),
            firmware: Box::new(Example::new(&file, how)),
        };
        let daemon = Daemon::start(&bus.address, setup).await;
        let tool = Tool::new(&bus.address);
        Some(Self {
            bus,
            daemon: Some(daemon),
            tool,
        })
    }
}

/// Records until so many payloads went out, and gives how it ended, and the samples in the file.
async fn recorded(stage: &Stage, name: &str, packets: usize, code: i32) -> (String, usize) {
    let path = path_of(name);
    let more = ["--protocol", path.to_str().expect("UTF-8")];
    let running = stage.recording(&more, packets).await;
    running.signal("INT");
    let ended = running.end().await;
    ended.expect(code);
    let recorded = stage.compare().await;
    recorded.sealed();
    let file = file_of(name);
    let (mut decoder, mut samples) = (Decoder::new(&file), Vec::new());
    for packet in &recorded.packets {
        decoder.accept(
            &packet.from,
            Time::from_us(packet.t_us),
            &packet.hex,
            &mut samples,
        );
    }
    decoder.flush(&mut samples);
    assert!(
        samples
            .iter()
            .all(|sample| sample.pressure > Pressure::from_kpa(99.0))
    );
    let subscribed = stage.daemon().state.lock().await.notifying.clone();
    assert_eq!(subscribed, None, "a subscription is left behind");
    (ended.out, samples.len())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn lines_of_text_are_recorded_and_read() {
    let name = "examples/text-lines.toml";
    let Some(stage) = Stage::speaking(name, "lines", How::Streams, &["notify"]).await else {
        return;
    };
    let (_, samples) = recorded(&stage, name, 60, 0).await;
    // A line takes two notifications.
    assert!(samples >= 29, "{samples}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_damaged_frame_is_told() {
    let name = "examples/frames.toml";
    let Some(stage) = Stage::speaking(name, "FRAMED-1", How::Streams, &["notify"]).await else {
        return;
    };
    let path = path_of(name);
    let more = ["--protocol", path.to_str().expect("UTF-8")];
    let mut sensor = Example::new(&file_of(name), How::Streams);
    sensor.good = Some(15);
    stage.daemon().state.lock().await.firmware = Box::new(sensor);
    let running = stage.recording(&more, 40).await;
    stage.until_sent(40).await;
    running.signal("INT");
    let ended = running.end().await;
    // What was lost is told by the exit code too.
    assert_ne!(ended.code, 0);
    ended.says(&[
        "failed its check",
        "1 frame(s) or line(s) failed their check",
        "Sealed",
    ]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sensor_that_must_be_asked_is_asked() {
    let name = "examples/asked.toml";
    let Some(stage) = Stage::speaking(name, "ASK-7", How::Answers, &["notify"]).await else {
        return;
    };
    let (_, samples) = recorded(&stage, name, 12, 0).await;
    assert!(samples >= 12, "{samples}");
    let state = stage.daemon().state.lock().await;
    let asked = state
        .journal
        .iter()
        .filter(|line| *line == "written [52, 0d]")
        .count();
    assert!(
        (samples..=samples + 2).contains(&asked),
        "{asked} questions, {samples} samples"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_question_without_an_answer_is_put_again() {
    let name = "examples/asked.toml";
    let Some(stage) = Stage::speaking(name, "ASK-7", How::Answers, &["notify"]).await else {
        return;
    };
    stage.daemon().state.lock().await.silent = true;
    let path = path_of(name);
    let file = stage.file();
    let args = [
        "record",
        file.to_str().expect("UTF-8"),
        "--protocol",
        path.to_str().expect("UTF-8"),
    ];
    let running = stage.tool.start(&args);
    let again = |state: &crate::daemon::State| {
        state
            .journal
            .iter()
            .filter(|line| line.starts_with("written"))
            .count()
            >= 2
    };
    until(stage.daemon(), "the question is put again", again).await;
    stage.daemon().state.lock().await.silent = false;
    stage.until_sent(5).await;
    running.signal("INT");
    running.end().await.expect(0);
    stage.compare().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sensor_that_cannot_notify_is_read() {
    let name = "examples/table.toml";
    let Some(stage) = Stage::speaking(name, "read me", How::IsRead, &["read"]).await else {
        return;
    };
    let (_, samples) = recorded(&stage, name, 12, 0).await;
    assert!(samples >= 12, "{samples}");
    let state = stage.daemon().state.lock().await;
    assert!(
        state
            .journal
            .iter()
            .all(|line| !line.contains("StartNotify"))
    );
}

/// The Environmental Sensing Service leaves it to the sensor whether it notifies.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn environmental_sensing_is_listened_to_or_read() {
    let name = "environmental-sensing.toml";
    for (how, flags) in [
        (How::IsRead, &["read"][..]),
        (How::Streams, &["read", "notify"]),
    ] {
        let Some(stage) = Stage::speaking(name, "air", how, flags).await else {
            return;
        };
        let (_, samples) = recorded(&stage, name, 8, 0).await;
        assert!(samples >= 8, "{samples}");
        let state = stage.daemon().state.lock().await;
        let listened = state
            .journal
            .iter()
            .any(|line| line.contains("StartNotify"));
        assert_eq!(listened, how == How::Streams);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_an_asked_sensor_lacks_is_named() {
    let name = "examples/asked.toml";
    let Some(bus) = Bus::start("") else { return };
    let file = file_of(name);
    let mut mute = peripheral(&file, "ASK-7", &["notify"]);
    mute.services[0].characteristics.truncate(1);
    let setup = Setup {
        adapters: vec![("hci0", true)],
        peripherals: vec![mute],
        stream_uuid: file.spec().stream.uuid.uuid().to_string(),
        command_uuid: short(0xFFF0),
        firmware: Box::new(Example::new(&file, How::Answers)),
    };
    let _daemon = Daemon::start(&bus.address, setup).await;
    let path = path_of(name);
    let args = ["self-check", "--protocol", path.to_str().expect("UTF-8")];
    let ended = Tool::new(&bus.address).run(&args).await;
    assert_ne!(ended.code, 0);
    ended.says(&["6b1d0021-52c7-4a0e-9f3b-d04c8a17e5b2 (question) is missing"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_self_check_says_when_nothing_fits() {
    let name = "examples/text-lines.toml";
    // It speaks frames where lines are expected.
    let Some(stage) = Stage::speaking(name, "lines", How::Streams, &["notify"]).await else {
        return;
    };
    stage.daemon().state.lock().await.firmware =
        Box::new(Example::new(&file_of("examples/frames.toml"), How::Streams));
    let path = path_of(name);
    let args = ["self-check", "--protocol", path.to_str().expect("UTF-8")];
    let ended = stage.tool.run(&args).await;
    assert_ne!(ended.code, 0);
    ended.says(&["holds no pressure", "protocol decode"]);
}
