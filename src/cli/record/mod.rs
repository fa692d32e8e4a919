//! `record`: from a live sensor or a recording into a recording, every packet before anything
//! else is done with it.

mod lines;
mod played;
mod view;

use super::live::choice::{self, Choice};
use super::live::connect::{Target, connect};
use super::live::corrected;
use super::live::desk::{Desk, Keeper, News, Now, Unguided};
use super::live::rest::Rest;
use super::live::runtime::{self, Ending};
use super::live::screen::Screen;
use super::live::told::Told;
use super::{Exit, Failure, Outcome, document, live, replay};
use crate::cli::out;
use crate::cli::share::{self, Share, Sharing};
use crate::cli::visit::offer;
use crate::engine::{Condition, JobCard};
use crate::pipeline::{Options, Pipeline};
use crate::protocol::ProtocolFile;
use crate::recording::{Event, Header, WriteError, Writer};
use crate::report::words;
use crate::transport::ble::hide_known_race;
use crate::transport::{Arrival, Pace, Source, TransportError};
use crate::units::PressureUnit;
use lines::Lines;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::time::{MissedTickBehavior, interval};
use view::Shared;

/// Record a live sensor (or a virtual one, or a recording, through the same path)
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Ctrl-C ends the recording: the sensor is stopped and the file sealed.

Examples:
  needlerest record heron.jsonl --card heron.toml
  needlerest record heron.jsonl --card heron.toml --report heron-report
  needlerest record heron.jsonl --sensor shed --cylinder 1 --condition cold
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
    /// The engine's condition: cold, warm (both dry) or wet
    #[arg(long, value_name = "CONDITION", requires = "cylinder")]
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
    #[arg(long, value_name = "FILE", conflicts_with_all = ["sensor", "protocol", "adapter"])]
    replay: Option<PathBuf>,
    /// Play a virtual sensor on the simulated engine of this recipe, in its own time; it talks as
    /// --protocol says, if that is given
    #[arg(long = "virtual", value_name = "RECIPE", conflicts_with_all = ["replay", "sensor", "adapter"])]
    recipe: Option<PathBuf>,
    /// With --replay or --virtual: so many times as fast as it was; 0: as fast as it goes
    #[arg(long, value_name = "TIMES", default_value = "1")]
    speed: Pace,
    /// Print each sample and event as a line of JSON on standard output, as it comes
    #[arg(long, conflicts_with_all = ["assess", "report"])]
    lines: bool,
    /// Correct the readings by the check kept under this name; a live sensor's own is used where
    /// `sensors correct NAME on` says so
    #[arg(long, value_name = "NAME")]
    corrected: Option<String>,
    #[command(flatten)]
    share: Sharing,
    #[command(flatten)]
    choice: Choice,
}

/// From one look at the screen and the disk to the next.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// Longest wait for the sensor to be let go.
const LET_GO: Duration = Duration::from_secs(20);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    let mut share = share::open(&args.share, false)?;
    let recorded = runtime::run(record(args, &mut share))?;
    if recorded == Exit::Interrupted || !(args.assess || args.report.is_some()) {
        return Ok(recorded);
    }
    writeln!(out::stdout())?;
    let assessed = replay::analysed(&args.file, args.report.clone())?;
    if let (Some(share), Some(report)) = (share, &args.report) {
        runtime::run(async {
            let mut ending = Ending::listen()?;
            offer::until_ended(share, report, &args.file, None, &mut ending).await
        })?;
    }
    // What the recording lacks weighs more than what the analysis made of the rest.
    Ok(if recorded == Exit::Done {
        assessed
    } else {
        recorded
    })
}

async fn record(args: &Args, share: &mut Option<Share>) -> Outcome {
    if args.file.exists() {
        return Err(written(&args.file, &WriteError::Exists));
    }
    let card = document::card(args.card.as_deref())?;
    let screen = Screen::new();
    let mut ending = Ending::listen()?;
    let opened = if let Some(path) = &args.replay {
        Some(played::recording(path, args.speed)?)
    } else if let Some(path) = &args.recipe {
        Some(played::recipe(path, &args.choice.protocol, args.speed)?)
    } else {
        let wanted = Target {
            choice: &args.choice,
            rate_hz: args.rate,
            zero: args.zero,
        };
        connect(&wanted, &mut ending, &|told| screen.say(told)).await?
    };
    let Some(mut source) = opened else {
        return Ok(Exit::Interrupted);
    };
    let recording = into_file(args, card, &mut source, &mut ending, &screen, share);
    let result = Box::pin(recording).await;
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
    share: &mut Option<Share>,
) -> Outcome {
    let replayed = args.replay.is_some() || args.recipe.is_some();
    let mut origin = source.origin().clone();
    let unit = PressureUnit::default();
    let told = corrected::apply(
        &mut origin.sensor,
        args.corrected.as_deref(),
        !replayed,
        unit,
    )?;
    for told in &told {
        screen.say(told);
    }
    let sensor = origin.sensor.name.clone();
    let header = live::header(origin, card);
    let pipeline = pipeline(&header)?;
    if !replayed {
        before_cranking(header.card.as_deref(), pipeline.protocol(), screen)?;
    }
    let failed = |error: &WriteError| written(&args.file, error);
    let writer = Writer::create(&args.file, &header).and_then(Writer::into_background);
    let keeper = Keeper::file(writer.map_err(|error| failed(&error))?);
    let shared = share.as_mut();
    let shared = shared.map(|share| Shared::new(share, &pipeline, sensor.clone()));
    let mut job = Job {
        desk: if replayed {
            Desk::played(Unguided, pipeline, keeper)
        } else {
            Desk::live(Unguided, pipeline, keeper)
        },
        rest: Rest::default(),
        screen,
        lines: Lines::new(args.lines),
        shared,
    };
    let lost = job.lines.begin(job.desk.pipeline.protocol(), &sensor);
    job.warn(lost);
    if let (Some(cylinder), Some(condition)) = (&args.cylinder, args.condition) {
        job.desk.tick(source.now_us());
        job.desk.record(Event::Run {
            cylinder: cylinder.clone(),
            condition,
        });
        job.tell();
    }
    let ended = job.run(source, ending, args.duration).await;
    let now = job.desk.now();
    job.desk.tick(source.now_us());
    let seal = job.desk.close().map_err(failed)?;
    job.tell();
    screen.clear();
    let lost = now.link.lost.unwrap_or(0);
    let sealed = seal.map(|seal| {
        let (file, count, digest) = (args.file.display(), seal.lines, seal.sha256);
        let lines = words::many(count, "line");
        format!("Sealed: {file} ({lines}, SHA-256 {digest})")
    });
    for line in [Some(told_at_the_end(&now)), sealed].into_iter().flatten() {
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

/// The analysis of what comes. A job card that is not sound is kept with the recording, but nothing
/// that is said while recording rests on it.
fn pipeline(header: &Header) -> Result<Pipeline, Failure> {
    let sound = |card: &String| JobCard::parse(card).is_ok();
    let header = Header {
        card: header.card.clone().filter(sound),
        ..header.clone()
    };
    Pipeline::new(header, Options::default()).map_err(|error| Failure::new(Exit::BadInput, error))
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
        "Recorded {} with {}",
        words::many(link.packets, "packet"),
        words::many(now.samples, "sample")
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
    desk: Desk<Unguided>,
    rest: Rest,
    screen: &'a Screen,
    lines: Lines,
    shared: Option<Shared<'a>>,
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
        while self.screen.is_gauge() || self.desk.failure().is_none() {
            tokio::select! {
                () = ending.asked() => break,
                () = &mut limit => break,
                arrival = source.next() => match arrival {
                    Ok(Some(arrival)) => self.take(arrival),
                    Ok(None) => break,
                    Err(error) => return Err(error),
                },
                _ = look.tick() => {
                    self.desk.tick(source.now_us());
                    self.tell();
                    self.screen.show(&self.desk.now());
                    self.show_phones();
                }
            }
        }
        // A second request ends the wait for the sensor, not the recording.
        let stopped = tokio::select! {
            stopped = tokio::time::timeout(LET_GO, source.stop()) => stopped.unwrap_or(Ok(())),
            () = ending.asked() => Ok(()),
        };
        if !self.desk.replayed() {
            while let Ok(Ok(Some(arrival))) = tokio::time::timeout(LOOK_EVERY, source.next()).await
            {
                self.take(arrival);
            }
        }
        // What was held back until now.
        self.desk.source_ended();
        self.print_samples();
        self.tell();
        if let Err(error) = stopped {
            let text = format!("the sensor may not have been stopped: {error}");
            self.screen.say(&Told::Warning(text));
        }
        Ok(())
    }

    /// Hands on what is new. Nobody guides: there is nothing but what the desk tells.
    fn tell(&mut self) {
        for news in self.desk.news() {
            match news {
                News::Told(told) => self.screen.say(&told),
                News::Written(event) => {
                    if let Some(shared) = &mut self.shared {
                        shared.happened(&event.event, self.desk.pipeline.runs().len());
                    }
                    let lost = self.lines.event(&event);
                    self.warn(lost);
                }
                News::Line(_)
                | News::Announce(_)
                | News::Asked(..)
                | News::Air(_)
                | News::AirTested(_) => {}
            }
        }
    }

    fn show_phones(&mut self) {
        if let Some(shared) = &mut self.shared {
            shared.show(&self.desk);
        }
    }

    fn warn(&self, text: Option<String>) {
        if let Some(text) = text {
            self.screen.say(&Told::Warning(text));
        }
    }

    fn print_samples(&mut self) {
        let lost = self.lines.samples(self.desk.pipeline.samples());
        self.warn(lost);
    }

    fn take(&mut self, arrival: Arrival) {
        let samples = matches!(arrival, Arrival::Packet(_));
        let notice = matches!(arrival, Arrival::Notice(_));
        self.desk.take(arrival);
        if !notice {
            self.print_samples();
        }
        self.tell();
        if samples && !self.desk.replayed() {
            self.mind_the_rest();
        }
    }

    /// The reading at rest is noted in the recording.
    fn mind_the_rest(&mut self) {
        let (samples, protocol) = (self.desk.pipeline.samples(), self.desk.pipeline.protocol());
        match self.rest.take(samples, protocol) {
            Some(Ok(reading)) => {
                self.screen.say(&Told::Note(reading.clone()));
                self.desk.record(Event::Note { text: reading });
                self.tell();
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
