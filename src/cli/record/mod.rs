//! `record`: from a live sensor or a recording into a recording, every packet before anything
//! else is done with it.

mod lines;
mod played;

use super::live::choice::{self, Choice};
use super::live::connect::{Wanted, connect};
use super::live::recorder::{Now, Recorder, Told};
use super::live::rest::Rest;
use super::live::runtime::{self, Ending};
use super::live::screen::Screen;
use super::{Exit, Failure, Outcome, document, live, replay};
use crate::cli::out;
use crate::engine::{Condition, JobCard};
use crate::protocol::ProtocolFile;
use crate::recording::{BackgroundSink, Event, TimedEvent, WriteError, Writer};
use crate::transport::ble::hide_known_race;
use crate::transport::{Arrival, Pace, Source, TransportError};
use crate::units::PressureUnit;
use lines::Lines;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::time::{MissedTickBehavior, interval};

/// Record a live sensor (or a virtual one, or a recording, through the same path)
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Ctrl-C ends the recording: the sensor is stopped and the file sealed.

Examples:
  needlerest record heron.jsonl --card heron.toml
  needlerest record heron.jsonl --card heron.toml --report heron-report
  needlerest record heron.jsonl --sensor shed --cylinder 1 --condition cold-dry
  needlerest record heron.jsonl --lines | my-program
  needlerest record copy.jsonl --replay heron.jsonl --for 10"
)]
pub(super) struct Args {
    /// The recording to write; must not exist yet
    file: PathBuf,
    /// The job card: what the engine is and should have
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// Ends by itself after so many seconds
    #[arg(long = "for", value_name = "SECONDS", value_parser = choice::seconds)]
    duration: Option<Duration>,
    /// The cylinder under test
    #[arg(long, value_name = "NAME", requires = "condition")]
    cylinder: Option<String>,
    /// The engine's condition: cold-dry, warm-dry or wet
    #[arg(long, value_name = "CONDITION", requires = "cylinder", value_parser = condition)]
    condition: Option<Condition>,
    /// Samples a second to set the sensor to
    #[arg(long, value_name = "HZ", conflicts_with_all = ["replay", "recipe"])]
    rate: Option<f64>,
    /// Tell the sensor that the pressure now is zero
    #[arg(long, conflicts_with_all = ["replay", "recipe"])]
    zero: bool,
    /// Analyse the recording when it is done
    #[arg(long)]
    assess: bool,
    /// Analyse the recording when it is done, and write the report into this folder
    #[arg(long, value_name = "FOLDER")]
    report: Option<PathBuf>,
    /// Play this recording instead of a live sensor, in its own time
    #[arg(long, value_name = "FILE")]
    replay: Option<PathBuf>,
    /// Play a virtual sensor on the simulated engine of this recipe, in its own time
    #[arg(long = "virtual", value_name = "RECIPE", conflicts_with = "replay")]
    recipe: Option<PathBuf>,
    /// With --replay or --virtual: as fast as it goes
    #[arg(long)]
    fast: bool,
    /// Print each sample and event as a line of JSON on standard output, as it comes
    #[arg(long, conflicts_with_all = ["assess", "report"])]
    lines: bool,
    #[command(flatten)]
    choice: Choice,
}

pub(super) fn condition(text: &str) -> Result<Condition, String> {
    serde_json::from_value(serde_json::Value::from(text))
        .map_err(|_| "the conditions are cold-dry, warm-dry and wet".to_owned())
}

/// From one note on the link to the next.
const LINK_EVERY: Duration = Duration::from_secs(10);
/// From one look at the screen and the disk to the next.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// Longest wait for the sensor to be let go.
const LET_GO: Duration = Duration::from_secs(20);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    let recorded = runtime::run(record(args))?;
    if recorded == Exit::Interrupted || !(args.assess || args.report.is_some()) {
        return Ok(recorded);
    }
    writeln!(out::stdout())?;
    let assessed = replay::analysed(&args.file, args.report.clone())?;
    // What the recording lacks weighs more than what the analysis made of the rest.
    Ok(if recorded == Exit::Done {
        assessed
    } else {
        recorded
    })
}

async fn record(args: &Args) -> Outcome {
    if args.file.exists() {
        return Err(written(&args.file, &WriteError::Exists));
    }
    let card = document::card(args.card.as_deref())?;
    let screen = Screen::new();
    let mut ending = Ending::listen()?;
    let pace = if args.fast { Pace::Fast } else { Pace::OwnTime };
    let opened = if let Some(path) = &args.replay {
        Some(played::recording(path, pace)?)
    } else if let Some(path) = &args.recipe {
        Some(played::recipe(path, pace)?)
    } else {
        let wanted = Wanted {
            choice: &args.choice,
            rate_hz: args.rate,
            zero: args.zero,
        };
        connect(&wanted, &mut ending, &|told| screen.say(told)).await?
    };
    let Some(mut source) = opened else {
        return Ok(Exit::Interrupted);
    };
    let result = into_file(args, card, &mut source, &mut ending, &screen).await;
    screen.clear();
    // Also when the file could not be written: nothing is left behind.
    let _ = tokio::time::timeout(LET_GO, source.stop()).await;
    result
}

async fn into_file(
    args: &Args,
    card: Option<String>,
    source: &mut Box<dyn Source>,
    ending: &mut Ending,
    screen: &Screen,
) -> Outcome {
    let origin = source.origin().clone();
    let protocol = ProtocolFile::parse(&origin.protocol)
        .map_err(|error| Failure::new(Exit::BadInput, error).at("the recording's protocol file"))?;
    let replayed = args.replay.is_some() || args.recipe.is_some();
    let sensor = origin.sensor.name.clone();
    let header = live::header(origin, card);
    if !replayed {
        before_cranking(header.card.as_deref(), &protocol, screen)?;
    }
    let failed = |error: WriteError| written(&args.file, &error);
    let writer = Writer::create(&args.file, &header)
        .and_then(Writer::into_background)
        .map_err(failed)?;
    let mut job = Job {
        recorder: Recorder::new(writer, protocol.clone()),
        protocol,
        rest: Rest::default(),
        screen,
        replayed,
        lines: Lines::new(args.lines),
    };
    let lost = job.lines.begin(&job.protocol, &sensor);
    job.warn(lost);
    if let (Some(cylinder), Some(condition)) = (&args.cylinder, args.condition) {
        let run = Event::Run {
            cylinder: cylinder.clone(),
            condition,
        };
        job.event(source.now_us(), run);
    }
    let ended = job.run(source, ending, args.duration).await;
    let now = job.recorder.now();
    if !job.replayed {
        job.link(source.now_us());
    }
    let seal = job.recorder.seal().map_err(failed)?;
    screen.clear();
    let lost = now.link.lost.unwrap_or(0);
    let (file, count, digest) = (args.file.display(), seal.lines, seal.sha256);
    let sealed = format!("Sealed: {file} ({count} lines, SHA-256 {digest})");
    for line in [told_at_the_end(&now), sealed] {
        // Standard output belongs to the lines, if those are asked for.
        if args.lines {
            out::stderr().line(line)?;
        } else {
            out::stdout().line(line)?;
        }
    }
    ended?;
    Ok(if lost > 0 || now.spoilt > 0 || now.link.link_losses > 0 {
        Exit::Loss
    } else {
        Exit::Done
    })
}

/// Points to the cautions, and warns of a sensor that is too weak for the engine, or refuses it.
fn before_cranking(
    card: Option<&str>,
    protocol: &ProtocolFile,
    screen: &Screen,
) -> Result<(), Failure> {
    let card = card.and_then(|text| JobCard::parse(text).ok());
    let unit = card
        .as_ref()
        .map_or_else(PressureUnit::default, |card| card.display.unit);
    let rating = live::rated(card.as_ref(), protocol, unit)?;
    if let Some(warning) = rating.warning(unit) {
        screen.say(&Told::Warning(warning));
    }
    let cautions = "before anything is cranked, read `needlerest cautions`";
    screen.say(&Told::Note(cautions.to_owned()));
    Ok(())
}

/// What was received, and what was not.
fn told_at_the_end(now: &Now) -> String {
    let link = &now.link;
    let received = format!(
        "Recorded {} packets with {} samples",
        link.packets, now.samples
    );
    let lost = match link.lost {
        None => "the sensor does not number its packets, so what was lost is not known".into(),
        Some(lost) if link.link_losses == 0 => format!("{lost} lost"),
        Some(lost) => format!("{lost} lost while linked"),
    };
    let lost = match now.spoilt {
        0 => lost,
        spoilt => format!("{lost}; {spoilt} frame(s) or line(s) failed their check"),
    };
    match link.link_losses {
        0 => format!("{received}, {lost}."),
        times => format!(
            "{received}, {lost}; the link lost {times} time(s), away for {:.1} s in all: what was \
             cranked then is not in the recording.",
            now.away_us as f64 * 1e-6
        ),
    }
}

/// A recording under way.
struct Job<'a> {
    recorder: Recorder<BackgroundSink>,
    protocol: ProtocolFile,
    rest: Rest,
    screen: &'a Screen,
    replayed: bool,
    lines: Lines,
}

impl Job<'_> {
    /// Records until the user ends it, the time is up or the source ends; then lets go of the
    /// sensor and records what had already arrived. When nothing can be kept any more the gauge
    /// goes on; without one there is nothing to go on for.
    async fn run(
        &mut self,
        source: &mut Box<dyn Source>,
        ending: &mut Ending,
        duration: Option<Duration>,
    ) -> Result<(), TransportError> {
        let limit = tokio::time::sleep(duration.unwrap_or(Duration::MAX));
        tokio::pin!(limit);
        let mut look = interval(LOOK_EVERY);
        look.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut link = interval(LINK_EVERY);
        link.set_missed_tick_behavior(MissedTickBehavior::Delay);
        link.reset();
        while self.screen.is_gauge() || !self.recorder.has_failed() {
            tokio::select! {
                () = ending.asked() => break,
                () = &mut limit => break,
                arrival = source.next() => match arrival {
                    Ok(Some(arrival)) => self.take(&arrival, source.now_us()),
                    Ok(None) => break,
                    Err(error) => return Err(error),
                },
                _ = look.tick() => {
                    let told = self.recorder.sync(source.now_us());
                    self.tell(told);
                    self.screen.show(&self.recorder.now());
                }
                _ = link.tick(), if !self.replayed => self.link(source.now_us()),
            }
        }
        // A second request ends the wait for the sensor, not the recording.
        let stopped = tokio::select! {
            stopped = tokio::time::timeout(LET_GO, source.stop()) => stopped.unwrap_or(Ok(())),
            () = ending.asked() => Ok(()),
        };
        if !self.replayed {
            while let Ok(Ok(Some(arrival))) = tokio::time::timeout(LOOK_EVERY, source.next()).await
            {
                self.take(&arrival, source.now_us());
            }
        }
        let lost = self.lines.samples(self.recorder.rest());
        self.warn(lost);
        if let Err(error) = stopped {
            let text = format!("the sensor may not have been stopped: {error}");
            self.screen.say(&Told::Warning(text));
        }
        Ok(())
    }

    fn tell(&self, told: impl IntoIterator<Item = Told>) {
        for told in told {
            self.screen.say(&told);
        }
    }

    fn warn(&self, text: Option<String>) {
        self.tell(text.map(Told::Warning));
    }

    /// Records what the user or this program does.
    fn event(&mut self, t_us: u64, event: Event) {
        let lost = self.lines.event(&TimedEvent {
            t_us,
            event: event.clone(),
        });
        self.warn(lost);
        let told = self.recorder.event(t_us, event);
        self.tell(told);
    }

    /// Records how the link has done so far.
    fn link(&mut self, t_us: u64) {
        let quality = self.recorder.now().link;
        self.event(t_us, Event::Link(Box::new(quality)));
    }

    fn take(&mut self, arrival: &Arrival, now_us: u64) {
        let told = self.recorder.take(arrival);
        self.tell(told);
        let lost = match arrival {
            Arrival::Packet(_) => self.lines.samples(self.recorder.samples()),
            Arrival::Event(event) => {
                let held_back = match event.event {
                    Event::LinkLost => self.recorder.samples(),
                    _ => &[],
                };
                let lost = self.lines.samples(held_back);
                lost.or_else(|| self.lines.event(event))
            }
            Arrival::Notice(_) => None,
        };
        self.warn(lost);
        if self.replayed {
            return;
        }
        match self.rest.take(self.recorder.samples(), &self.protocol) {
            Some(Ok(reading)) => {
                self.screen.say(&Told::Note(reading.clone()));
                self.event(now_us, Event::Note { text: reading });
            }
            Some(Err(why)) => self.screen.say(&Told::Warning(why)),
            None => {}
        }
    }
}

fn written(path: &Path, error: &WriteError) -> Failure {
    let failure = Failure::new(Exit::Failed, error).at(path.display());
    match error {
        WriteError::Exists => failure.remedy("choose another name"),
        WriteError::Io(_) => failure.remedy(
            "see that the disk has room and may be written; what was recorded before is in the file",
        ),
        _ => failure,
    }
}
