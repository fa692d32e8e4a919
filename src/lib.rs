//! needlerest reads a pressure sensor while an engine is cranked, finds each stroke's peak and
//! when the needle stops climbing, compares the cylinders, and reports what the readings support.
//!
//! # A tour
//!
//! Data flows one way. Follow a packet:
//!
//! 1. A `transport::Source` hands it on: a radio link, a recording, a virtual sensor.
//! 2. A [`recording::Writer`] keeps it as it came, before anything else is done with it.
//! 3. A [`protocol::Decoder`] makes samples of it, as the sensor's [`protocol::ProtocolFile`] says.
//! 4. A [`signal::Analyser`] finds strokes, their build-up, and when the reading has settled.
//! 5. [`assess::assess`] compares the cylinders, by the [`engine::JobCard`] and a
//!    [`assess::RuleSet`], ranks causes, and gives a score: all of it data in SI, that
//!    [`assess::say`] puts into words.
//! 6. `report::outputs` makes text, plots, page and tables of the findings.
//!
//! [`pipeline`] joins 3 to 5; [`session`] is the guided visit that goes on beside it;
//! [`leakdown`] is what a test with air comes to, [`correction`] what a sensor's check against a gauge
//! does; [`simulate`] makes engines, testers and sensors with known truth; [`units`] is what all of them
//! speak; `cli` is the program. The whole way, on a recording that comes along:
//!
//! ```
//! use needlerest::pipeline::{self, Options};
//! use needlerest::units::PressureUnit;
//!
//! let recording = std::fs::File::open("demo/finch.jsonl")?;
//! let analysis = pipeline::analyse(std::io::BufReader::new(recording), Options::default())?;
//! for run in &analysis.findings.runs {
//!     if let Some(reading) = &run.result.reading {
//!         println!("{}: {}", run.cylinder, reading.value.show(PressureUnit::Bar));
//!     }
//! }
//! # assert!(!analysis.findings.runs.is_empty());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! By hand, for a program of your own: a protocol file and the bytes as they arrive give samples,
//! samples give strokes and, once the needle rests, a reading.
//!
//! ```
//! use needlerest::protocol::{Decoder, ProtocolFile};
//! use needlerest::recording::{Record, open};
//! use needlerest::signal::{Analyser, Event, Sample, Settings};
//! use needlerest::units::{PressureUnit, Time};
//!
//! let recording = open("demo/finch.jsonl".as_ref())?;
//! let protocol = ProtocolFile::parse(&recording.header().protocol)?;
//! let mut decoder = Decoder::new(&protocol);
//! let mut analyser = Analyser::new(Settings::default());
//! let (mut samples, mut events) = (Vec::new(), Vec::new());
//! for line in recording {
//!     let Ok(Record::Packet(packet)) = line?.outcome else { continue };
//!     let arrived = Time::from_s(packet.t_us as f64 * 1e-6);
//!     decoder.accept(&packet.from, arrived, &packet.hex, &mut samples);
//!     for raw in samples.drain(..) {
//!         let (time, pressure, gap_before) = (raw.time, raw.pressure, raw.gap_before);
//!         let clipped = raw.out_of_range;
//!         analyser.push(Sample { time, pressure, clipped, gap_before }, &mut events);
//!     }
//! }
//! let settled = events.iter().find_map(|event| match event {
//!     Event::Settled { reading, .. } => Some(reading.value),
//!     _ => None,
//! });
//! println!("{}", settled.expect("a reading").show(PressureUnit::Bar));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Features
//!
//! All on by default. Without any, what is left is analysis alone: units, protocol, correction,
//! signal, engine, leakdown, assess, session, simulate, recording and pipeline, which builds for
//! WebAssembly too.
//!
//! | feature | adds |
//! | --- | --- |
//! | `radio` | `transport`: Bluetooth, virtual sensors, recordings at their own pace |
//! | `plots` | `report`: text, plots, page, tables |
//! | `terminal` | `cli`: the program; needs both |
//! | `pdf`, `parquet` | off by default: the report as PDF, tables as Parquet |
//!
//! # Rules of the house
//!
//! The core (`units`, `protocol`, `correction`, `signal`, `engine`, `leakdown`, `assess`, `session`) is pure: no clock, no
//! I/O, no randomness, and elementary functions from `libm`, so that a recording replays to the
//! same results, bit for bit, on every machine. Inside everything is SI; pressures are gauge unless
//! a name says `absolute`. `DEVELOPERS.md` has the picture of which room imports which; a test
//! holds it against the source.

pub mod assess;
#[cfg(feature = "terminal")]
pub mod cli;
pub mod correction;
pub mod engine;
pub mod leakdown;
pub mod pipeline;
pub mod protocol;
pub mod recording;
#[cfg(feature = "plots")]
pub mod report;
pub mod session;
pub mod signal;
pub mod simulate;
#[cfg(feature = "radio")]
pub mod transport;
pub mod units;
