//! `leak-down`: air into a cylinder that stands still, step by step; or into the tester alone.

use super::live::air::{cylinder_cm3, restrictor, tester_cm3};
use super::live::choice::Choice;
use super::live::connect::{Target, connect};
use super::live::desk::{Desk, Keeper, News, Unguided, event_of};
use super::live::lines::lines;
use super::live::runtime::{self, Ending};
use super::live::screen::Screen;
use super::live::told::Told;
use super::simulate::REFERENCE;
use super::terminal::width;
use super::visit::open;
use super::{Exit, Failure, Outcome, document, live, news, out, replay};
use crate::engine::cautions::{FIRST, before_air};
use crate::engine::{Condition, EngineKind, JobCard};
use crate::leakdown::{AirFlag, Filled, Restrictor, Told as AirTold};
use crate::pipeline::{Options, Pipeline};
use crate::protocol::ProtocolFile;
use crate::recording::{WriteError, Writer};
use crate::report::words;
use crate::session::{AirAnswer, AirEngine, AirSteps, AirTask, Entry};
use crate::simulate::Recipe;
use crate::transport::ble::hide_known_race;
use crate::transport::{Pace, PracticeHand, Source, practice};
use crate::units::{PressureUnit, Time};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::{MissedTickBehavior, interval};

/// Test with air: how much a cylinder leaks and where, or whether the tester is tight
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Air goes through a regulator and a small bore (the restrictor) into the cylinder, the
sensor sits between restrictor and cylinder. It turns the crank: read the cautions first.
The recording may be one of a visit that was cranked: the test is added to it, and the
report holds the two against each other.

Examples:
  needlerest leak-down visit.jsonl --restrictor \"1.0 mm\" --cylinder 2
  needlerest leak-down new.jsonl --card heron.toml --restrictor \"0.040 in\" --warm
  needlerest leak-down visit.jsonl --tester
  needlerest leak-down visit.jsonl --decay --cylinder 2 --volume 90
  needlerest leak-down try.jsonl --virtual heron.recipe.toml --cylinder 2"
)]
pub(super) struct Args {
    /// The recording: a new one, or one that goes on
    file: PathBuf,
    /// The job card, for a new recording
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// Diameter of the restrictor; otherwise as the card says, or 1.0 mm
    #[arg(long, value_name = "SIZE")]
    restrictor: Option<Restrictor>,
    /// The cylinder to test; every one of the card otherwise. May be given several times
    #[arg(long, value_name = "NAME")]
    cylinder: Vec<String>,
    /// The engine is warm
    #[arg(long)]
    warm: bool,
    /// The tester alone: fill it, shut it off, watch it for 20 s
    #[arg(long, conflicts_with_all = ["decay", "cylinder"])]
    tester: bool,
    /// A cylinder without a restrictor: fill it, shut it off, watch it fall
    #[arg(long, requires = "cylinder")]
    decay: bool,
    /// What is filled, in cm³: worked out from the card otherwise, where it says enough
    #[arg(long, value_name = "CM3", value_parser = volume)]
    volume: Option<f64>,
    /// The cautions have been read
    #[arg(long)]
    cautions_read: bool,
    /// A virtual sensor on the simulated engine of this recipe: no air, no danger
    #[arg(long = "virtual", value_name = "RECIPE")]
    recipe: Option<PathBuf>,
    /// With --virtual: so many times as fast as it would be; 0: as fast as it goes
    #[arg(long, value_name = "TIMES", requires = "recipe", default_value = "1")]
    speed: Pace,
    #[command(flatten)]
    choice: Choice,
}

fn volume(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(cm3) if (0.5..=10_000.0).contains(&cm3) => Ok(cm3),
        _ => Err("a volume in cm³, from 0.5 to 10000".to_owned()),
    }
}

/// Longest wait for the sensor to be let go.
const LET_GO: Duration = Duration::from_secs(20);
/// From one look at the disk to the next.
const LOOK_EVERY: Duration = Duration::from_millis(50);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    let done = runtime::run(Box::pin(test(args)))?;
    if done == Exit::Interrupted {
        return Ok(done);
    }
    writeln!(out::stdout())?;
    // A test of the tester alone reads no cylinder: that is no failure.
    match replay::analysed(&args.file, None)? {
        Exit::NoReading => Ok(done),
        other => Ok(other),
    }
}

async fn test(args: &Args) -> Outcome {
    let text = document::card(args.card.as_deref())?;
    let going_on = args.file.exists();
    if going_on && text.is_some() {
        return Err(
            Failure::new(Exit::Usage, "the recording has its own job card")
                .at(args.file.display())
                .remedy("leave --card out, or choose another name"),
        );
    }
    let screen = Screen::new();
    let mut ending = Ending::listen()?;
    let mut hand = None;
    let mut source: Box<dyn Source> = if let Some(path) = &args.recipe {
        let (source, given) = simulated(path, args)?;
        hand = Some(given);
        source
    } else {
        let wanted = Target {
            choice: &args.choice,
            rate_hz: None,
            zero: false,
        };
        match connect(&wanted, &mut ending, &|told| screen.say(told)).await? {
            Some(source) => source,
            None => return Ok(Exit::Interrupted),
        }
    };
    let at_work = at_the_desk(args, text, &mut source, hand, &mut ending, &screen);
    let ended = Box::pin(at_work).await;
    screen.clear();
    let _ = tokio::time::timeout(LET_GO, source.stop()).await;
    ended
}

/// The virtual sensor, and the hand that does with the air as the recording says.
fn simulated(path: &Path, args: &Args) -> Result<(Box<dyn Source>, PracticeHand), Failure> {
    let refused = |error: &dyn std::fmt::Display| {
        Failure::new(Exit::BadInput, error.to_string())
            .at(path.display())
            .remedy("correct the recipe")
    };
    let recipe = Recipe::parse(&document::text(path)?).map_err(|error| refused(&error))?;
    let protocol = ProtocolFile::parse(REFERENCE).map_err(|error| refused(&error))?;
    let (sensor, hand) = practice(recipe, &protocol).map_err(|error| refused(&error))?;
    Ok((Box::new(sensor.at_pace(args.speed)), hand))
}

async fn at_the_desk(
    args: &Args,
    card: Option<String>,
    source: &mut Box<dyn Source>,
    hand: Option<PracticeHand>,
    ending: &mut Ending,
    screen: &Screen,
) -> Outcome {
    let desk = desk(args, card, &**source)?;
    let card = desk.pipeline.card();
    let unit = open::unit(None, card);
    let kind = EngineKind::of(card);
    let task = task(args, card)?;
    let engine = AirEngine::of(card);
    if !args.cautions_read {
        cautions(&kind)?;
    }
    let mut job = Job {
        screen,
        steps: AirSteps::new(task, engine),
        words: lines(),
        desk,
        hand,
        unit,
    };
    job.ask()?;
    let interrupted = job.run(source, ending).await?;
    job.desk.tick(source.now_us());
    job.desk.source_ended();
    job.tell()?;
    let seal = job
        .desk
        .close()
        .map_err(|error| written(&args.file, error))?;
    if let Some(seal) = seal {
        let (file, lines) = (args.file.display(), seal.lines);
        out::stdout().line(format!(
            "Sealed: {file} ({lines} lines, SHA-256 {})",
            seal.sha256
        ))?;
    }
    Ok(if interrupted {
        Exit::Interrupted
    } else {
        Exit::Done
    })
}

/// A new recording, or one that goes on.
fn desk(args: &Args, card: Option<String>, source: &dyn Source) -> Result<Desk<Unguided>, Failure> {
    let origin = source.origin().clone();
    if args.file.exists() {
        let (pipeline, writer, last_us) = open::behind(&args.file, &origin)?;
        return Ok(Desk::live(Unguided, pipeline, Keeper::file(writer)).behind(last_us));
    }
    let header = live::header(origin, card);
    let pipeline = Pipeline::new(header.clone(), Options::default())
        .map_err(|error| Failure::new(Exit::BadInput, error))?;
    let writer = Writer::create(&args.file, &header).and_then(Writer::into_background);
    let writer = writer.map_err(|error| written(&args.file, &error))?;
    Ok(Desk::live(Unguided, pipeline, Keeper::file(writer)))
}

fn written(path: &Path, error: &WriteError) -> Failure {
    Failure::new(Exit::Failed, error)
        .at(path.display())
        .remedy("see that the disk has room and may be written")
}

/// What is tested: as asked for, with the card's cylinders and volumes.
fn task(args: &Args, card: Option<&JobCard>) -> Result<AirTask, Failure> {
    let known: Vec<String> = card.map_or_else(Vec::new, |card| {
        card.cylinders.iter().map(|c| c.name.clone()).collect()
    });
    if let Some(odd) = args
        .cylinder
        .iter()
        .find(|name| card.is_some() && !known.contains(name))
    {
        return Err(
            Failure::new(Exit::Usage, format!("the card has no cylinder \"{odd}\""))
                .remedy(format!("its cylinders are {}", known.join(", "))),
        );
    }
    if args.tester {
        return Ok(AirTask::Decay {
            filled: Filled::Tester,
            cylinder: None,
            volume_cm3: args.volume.or_else(|| tester_cm3(card)),
        });
    }
    if args.decay {
        return Ok(AirTask::Decay {
            filled: Filled::Cylinder,
            cylinder: args.cylinder.first().cloned(),
            volume_cm3: args.volume.or_else(|| cylinder_cm3(card)),
        });
    }
    let cylinders = match (args.cylinder.is_empty(), known.is_empty()) {
        (false, _) => args.cylinder.clone(),
        (true, false) => known,
        (true, true) => vec!["1".to_owned()],
    };
    Ok(AirTask::LeakDown {
        cylinders,
        condition: if args.warm {
            Condition::WarmDry
        } else {
            Condition::ColdDry
        },
        restrictor: restrictor(args.restrictor, card),
    })
}

/// Every caution that is for a test with air.
fn cautions(kind: &EngineKind) -> std::io::Result<()> {
    let mut out = out::stdout();
    writeln!(out, "{}", words::fill(FIRST, width()))?;
    for caution in before_air(kind) {
        let layout = textwrap::Options::new(width())
            .initial_indent("- ")
            .subsequent_indent("  ");
        writeln!(out, "{}", words::fill(&caution.said(), layout))?;
    }
    out.line("")?;
    out.flush()
}

/// A test under way.
struct Job<'a> {
    screen: &'a Screen,
    steps: AirSteps,
    words: UnboundedReceiver<String>,
    desk: Desk<Unguided>,
    /// What a person would do at a real air line is done here, where it is simulated.
    hand: Option<PracticeHand>,
    unit: PressureUnit,
}

impl Job<'_> {
    /// Goes through the steps; gives whether it was interrupted.
    async fn run(
        &mut self,
        source: &mut Box<dyn Source>,
        ending: &mut Ending,
    ) -> Result<bool, Failure> {
        let mut look = interval(LOOK_EVERY);
        look.set_missed_tick_behavior(MissedTickBehavior::Delay);
        while !self.steps.is_over() && self.desk.failure().is_none() {
            tokio::select! {
                () = ending.asked() => return Ok(true),
                word = self.words.recv() => match word {
                    Some(word) => self.answer(&word)?,
                    None => return Ok(true),
                },
                arrival = source.next() => match arrival {
                    Ok(Some(arrival)) => {
                        self.desk.take(arrival);
                        self.tell()?;
                    }
                    Ok(None) => return Ok(true),
                    Err(error) => return Err(error.into()),
                },
                _ = look.tick() => {
                    self.desk.tick(source.now_us());
                    self.tell()?;
                    self.pass()?;
                    self.screen.show(&self.desk.now());
                }
            }
        }
        self.screen.clear();
        Ok(false)
    }

    fn answer(&mut self, word: &str) -> Result<(), Failure> {
        let answered = AirAnswer::parse(word, self.steps.places())
            .and_then(|answer| self.steps.answer(answer));
        match answered {
            Ok(entries) => self.goes_on(entries),
            Err(why) => self.line(&why),
        }
    }

    /// Time passes: what was waited for may be over.
    fn pass(&mut self) -> Result<(), Failure> {
        let before = self.steps.prompt();
        let entries = self.steps.tick(Time::from_us(self.desk.now_us()));
        if self.steps.prompt() == before {
            return Ok(());
        }
        self.goes_on(entries)
    }

    fn goes_on(&mut self, entries: Vec<Entry>) -> Result<(), Failure> {
        for entry in entries {
            let event = event_of(entry);
            if let Some(hand) = &self.hand {
                hand.air(&event);
            }
            self.desk.record(event);
        }
        self.tell()?;
        self.ask()
    }

    fn ask(&self) -> Result<(), Failure> {
        self.line(&format!("> {}", self.steps.prompt()))
    }

    fn line(&self, text: &str) -> Result<(), Failure> {
        let mut out = out::stdout();
        let when = format!("{:8.2} s  ", self.desk.now_us() as f64 / 1e6);
        let layout = textwrap::Options::new(width())
            .initial_indent(&when)
            .subsequent_indent("            ");
        let said = words::fill(&words::clean(text), layout);
        self.screen.aside(|| writeln!(out, "{said}"))?;
        Ok(out.flush()?)
    }

    /// Hands on what is new.
    fn tell(&mut self) -> Result<(), Failure> {
        for item in self.desk.news() {
            match item {
                News::Told(told @ (Told::Note(_) | Told::Warning(_))) => self.screen.say(&told),
                News::Air(told) => self.told(told)?,
                _ => {}
            }
        }
        Ok(())
    }

    /// The analysis has something to say.
    fn told(&mut self, told: AirTold) -> Result<(), Failure> {
        if let Some(text) = news::air(told, self.unit) {
            let loud = matches!(told, AirTold::Flag(AirFlag::FellAway { .. }));
            self.line(&if loud { format!("! {text}") } else { text })?;
        }
        let entries = self.steps.told(&told);
        if entries.is_empty() {
            return Ok(());
        }
        self.goes_on(entries)
    }
}
