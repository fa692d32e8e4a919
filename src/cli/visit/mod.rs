//! `visit`: the guided session, from a live sensor or a replay.

mod alert;
mod course;
mod hands;
pub(super) mod offer;
pub(in crate::cli) mod open;
mod plain;
pub(super) mod practise;
mod screen;
#[cfg(test)]
mod tests;
mod the_end;
mod view;

use super::live::choice::Choice;
use super::live::connect::{Target as Sensor, connect};
use super::live::corrected;
use super::live::desk::Desk;
use super::live::runtime::{self, Ending};
use super::live::told::Told;
use super::live::view::Frame;
use super::share::{self, Share, Sharing};
use super::{Exit, Failure, Outcome, document};
use crate::cli::out;
use crate::leakdown::Restrictor;
use crate::session::Session;
use crate::transport::ble::hide_known_race;
use crate::transport::{Origin, Pace, Source, replay};
use crate::units::PressureUnit;
use alert::Alert;
use course::{Course, Front, Practice};
use hands::Hands;
use open::Wanted;
use screen::Screen;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Go through all cylinders, hands-free: says what to do next and when to stop cranking
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Without a job card, runs are made one after another and named afterwards.
--resume continues a visit that was stopped; finished runs are kept.

Examples:
  needlerest visit heron.jsonl --card heron.toml
  needlerest visit heron.jsonl --resume
  needlerest visit --replay heron.jsonl --speed 4
  needlerest visit heron.jsonl --announce 'spd-say \"$NEEDLEREST_TEXT\"'"
)]
pub(super) struct Args {
    /// The recording to write; must not exist yet, unless it is resumed
    #[arg(required_unless_present = "replay", conflicts_with = "replay")]
    file: Option<PathBuf>,
    /// The job card: what the engine is and should have
    #[arg(long, value_name = "FILE", conflicts_with = "resume")]
    card: Option<PathBuf>,
    /// Resume this recording; finished runs are kept
    #[arg(long)]
    resume: bool,
    /// Play this recording through the gauge instead of a live sensor
    #[arg(long, value_name = "FILE", conflicts_with = "resume")]
    replay: Option<PathBuf>,
    /// With --replay: so many times as fast as it was; 0: as fast as it goes
    #[arg(long, value_name = "TIMES", requires = "replay", default_value = "1")]
    speed: Pace,
    /// Samples a second to set the sensor to
    #[arg(long, value_name = "HZ", conflicts_with = "replay")]
    rate: Option<f64>,
    /// Correct the readings by the check kept under this name; a live sensor's own is used where
    /// `sensors correct NAME on` says so
    #[arg(long, value_name = "NAME", conflicts_with_all = ["replay", "resume"])]
    corrected: Option<String>,
    #[command(flatten)]
    manner: Manner,
    #[command(flatten)]
    choice: Choice,
}

/// How a visit is shown and what is made of it
#[derive(Debug, clap::Args)]
pub(super) struct Manner {
    /// The engine is warm: the first round is a warm one
    #[arg(long)]
    warm: bool,
    /// The cautions have been read (`needlerest cautions`); for scripts
    #[arg(long)]
    cautions_read: bool,
    /// One line an event instead of the gauge, and words on standard input instead of keys; always
    /// so when the output is no terminal
    #[arg(long)]
    plain: bool,
    /// No bell
    #[arg(long)]
    quiet: bool,
    /// A command for the shell that speaks or sounds what must not be missed; it finds the text
    /// in `$NEEDLEREST_TEXT`, and in `$NEEDLEREST_EVENT` what it is
    #[arg(long, value_name = "COMMAND")]
    announce: Option<String>,
    #[command(flatten)]
    share: Sharing,
    /// With --share: the page has buttons (bled, again, next, …); otherwise it only shows
    #[arg(long, requires = "share")]
    share_control: bool,
    /// First measure how tight the tester is: fill it, shut it off, watch it for 20 s
    #[arg(long)]
    check_tester: bool,
    /// Diameter of the restrictor for leak-down tests; otherwise as the card says, or 1.0 mm
    #[arg(long, value_name = "SIZE")]
    restrictor: Option<Restrictor>,
    /// Show pressures in this unit: psi, bar, kPa, kgf/cm2, …
    #[arg(long)]
    unit: Option<PressureUnit>,
    /// The folder for the report; otherwise beside the recording
    #[arg(long, value_name = "FOLDER")]
    report: Option<PathBuf>,
}

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    runtime::run(Box::pin(visit(args)))
}

async fn visit(args: &Args) -> Outcome {
    let card = document::card(args.card.as_deref())?;
    let share = share::open(&args.manner.share, args.manner.share_control)?;
    let mut ending = Ending::listen()?;
    let (source, sensor): (Box<dyn Source>, String) = if let Some(path) = &args.replay {
        let source =
            replay(path, args.speed).map_err(|error| Failure::from(error).at(path.display()))?;
        (Box::new(source), "replay".to_owned())
    } else {
        let wanted = Sensor {
            choice: &args.choice,
            rate_hz: args.rate,
            zero: false,
        };
        let Some(source) = connect(&wanted, &mut ending, &say).await? else {
            return Ok(Exit::Interrupted);
        };
        let name = source.origin().sensor.name.clone();
        (source, name)
    };
    let wanted = Wanted {
        file: args.file.as_deref(),
        card,
        resume: args.resume,
        warm: args.manner.warm,
        cautions_read: args.manner.cautions_read,
        unit: args.manner.unit,
        restrictor: args.manner.restrictor,
        check_tester: args.manner.check_tester,
    };
    let recording = args.file.as_deref().or(args.replay.as_deref());
    let visit = Visit {
        source,
        sensor,
        practice: None,
        corrected: args.corrected.clone(),
        live: args.replay.is_none(),
        share,
    };
    Box::pin(go_through(
        visit,
        &wanted,
        &args.manner,
        recording,
        &mut ending,
    ))
    .await
}

/// A source, what it is called, the practice engine behind it, if there is one, and who else sees it.
struct Visit {
    source: Box<dyn Source>,
    sensor: String,
    practice: Option<Box<dyn Practice>>,
    /// The name under which the check is kept by which readings are corrected.
    corrected: Option<String>,
    /// A real sensor is at the other end.
    live: bool,
    share: Option<Share>,
}

/// The visit itself, and its end.
async fn go_through(
    visit: Visit,
    wanted: &Wanted<'_>,
    manner: &Manner,
    recording: Option<&Path>,
    ending: &mut Ending,
) -> Outcome {
    let command = match (&visit.practice, wanted.file) {
        (_, None) => None,
        (None, _) => Some("visit"),
        (Some(_), _) => Some("practice"),
    };
    let (mut source, begun) = course(visit, wanted, manner);
    let mut course = match begun {
        Ok(course) => course,
        Err(failure) => {
            // Nothing is left behind, and the failure matters more.
            let _ = source.stop().await;
            return Err(failure);
        }
    };
    let ended = course.run(&mut source, ending).await;
    let trouble = course.desk.keeping_trouble().map(str::to_owned);
    // The terminal is given back before anything is printed.
    let (share, words) = course.over();
    let mut exit = ended?;
    if let Some(trouble) = trouble {
        say(&Told::Warning(trouble));
        exit = Exit::Failed;
    }
    let Some(recording) = recording else {
        return Ok(exit);
    };
    let told = the_end::report(recording, manner, command, exit)?;
    if let (Some(share), Some(report)) = (share, &told.report) {
        offer::until_ended(share, report, recording, words, ending).await?;
    }
    Ok(told.exit)
}

/// Where the packets come from, and how they are corrected. A recording that goes on is corrected
/// as it was begun.
fn origin(
    source: &dyn Source,
    named: Option<&str>,
    live: bool,
    wanted: &Wanted<'_>,
) -> Result<Origin, Failure> {
    let mut origin = source.origin().clone();
    if !wanted.resume {
        let unit = wanted.unit.unwrap_or_default();
        let told = corrected::apply(&mut origin.sensor, named, live, unit)?;
        told.iter().for_each(say);
    }
    Ok(origin)
}

/// The source, and the course of the visit to it.
fn course(
    visit: Visit,
    wanted: &Wanted<'_>,
    manner: &Manner,
) -> (Box<dyn Source>, Result<Course, Failure>) {
    let named = visit.corrected.as_deref();
    let origin = origin(visit.source.as_ref(), named, visit.live, wanted);
    let desk = origin.and_then(|origin| open::desk(wanted, origin));
    let seen = (visit.sensor, visit.practice, visit.share);
    (visit.source, desk.and_then(|desk| at(desk, seen, manner)))
}

/// The course of a visit at this desk.
fn at(
    desk: Desk<Session>,
    (sensor, practice, share): (String, Option<Box<dyn Practice>>, Option<Share>),
    manner: &Manner,
) -> Result<Course, Failure> {
    let sensor = match desk.pipeline.correction() {
        Some(_) => format!("{sensor} (corrected)"),
        None => sensor,
    };
    let card = desk.pipeline.card();
    let replayed = desk.replayed();
    if let Some(share) = &share {
        let mut cautions = desk.guide.cautions();
        let known = |about: &str| cautions.iter().any(|(known, _)| *known == about);
        let air = desk.guide.air_cautions().into_iter();
        let air: Vec<_> = air.filter(|(about, _)| !known(about)).collect();
        cautions.extend(air);
        share.caution(cautions);
    }
    let frame = Frame::new(card, sensor, open::unit(manner.unit, card));
    let front = if manner.plain || !std::io::stdout().is_terminal() {
        Front::Plain(plain::words())
    } else {
        let (screen, events) = Screen::open(!manner.quiet)?;
        Front::Gauge(screen, events)
    };
    Ok(Course {
        desk,
        frame,
        hands: Hands::new(practice.is_some(), replayed).shared(share.is_some()),
        front,
        alert: Alert::new(manner.announce.clone()),
        practice,
        share,
        unshared: true,
        stale: true,
        drawn: Instant::now(),
    })
}

fn say(told: &Told) {
    let text = match told {
        Told::Note(text) => format!("note: {text}"),
        Told::Warning(text) => format!("warning: {text}"),
    };
    // Nothing is left to tell the user with if standard error itself is gone.
    let _ = out::stderr().line(text);
}
