//! `practice`: a visit to a simulated engine, where pressing a key is a kick.

use super::course::Practice;
use super::open::Wanted;
use super::{Manner, Visit, go_through};
use crate::cli::live::choice::{read as read_protocol, shipped};
use crate::cli::live::runtime::{self, Ending};
use crate::cli::{Exit, Failure, Outcome, document, share};
use crate::engine::Condition;
use crate::recording::Event;
use crate::simulate::Recipe;
use crate::transport::{PracticeHand, practice};
use std::path::PathBuf;

/// An engine to practise on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
enum Engine {
    /// A twin with a starter, one cylinder worn
    #[default]
    StarterTwin,
    /// A four with a starter, one valve leaks
    StarterFour,
    /// A twin with a kick lever, one cylinder worn
    KickedTwin,
    /// A single with a pull cord, sound
    PulledSingle,
}

impl Engine {
    /// Its recipe and its card.
    const fn texts(self) -> (&'static str, &'static str) {
        match self {
            Self::StarterTwin => (
                include_str!("../../../demo/practice/starter-twin.recipe.toml"),
                include_str!("../../../demo/practice/starter-twin.card.toml"),
            ),
            Self::StarterFour => (
                include_str!("../../../demo/practice/starter-four.recipe.toml"),
                include_str!("../../../demo/practice/starter-four.card.toml"),
            ),
            Self::KickedTwin => (
                include_str!("../../../demo/practice/kicked-twin.recipe.toml"),
                include_str!("../../../demo/practice/kicked-twin.card.toml"),
            ),
            Self::PulledSingle => (
                include_str!("../../../demo/practice/pulled-single.recipe.toml"),
                include_str!("../../../demo/practice/pulled-single.card.toml"),
            ),
        }
    }
}

/// Learn the guided visit on a simulated engine: no sensor, no danger
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Space turns the engine over, b lets the pressure go; the sensor moves by
itself to the cylinder that is asked for.

Examples:
  needlerest practice
  needlerest practice --engine kicked-twin
  needlerest practice --engine pulled-single --no-check-valve
  needlerest practice try.jsonl --recipe my-engine.toml --card my-card.toml
  needlerest practice try.jsonl --protocol my-sensor.toml
  printf 'go\\nkick\\n' | needlerest practice --plain"
)]
pub(in crate::cli) struct Args {
    /// The recording to write; must not exist yet, unless it is resumed. Without a name:
    /// practice.jsonl, practice-2.jsonl and so on
    file: Option<PathBuf>,
    /// The engine to practise on
    #[arg(long, value_enum, default_value_t, conflicts_with = "recipe")]
    engine: Engine,
    /// The tester has no check valve: the reading rises and falls with each stroke
    #[arg(long)]
    no_check_valve: bool,
    /// An engine of your own, as a recipe for the simulator
    #[arg(long, value_name = "FILE", requires = "card")]
    recipe: Option<PathBuf>,
    /// That engine's job card
    #[arg(long, value_name = "FILE", requires = "recipe")]
    card: Option<PathBuf>,
    /// The virtual sensor talks as this protocol file says, instead of as the reference sensor
    #[arg(long, value_name = "FILE")]
    protocol: Option<PathBuf>,
    /// No job card: unnamed runs in sequence, named afterwards
    #[arg(long, conflicts_with = "card")]
    no_card: bool,
    /// Resume this recording; finished runs are kept
    #[arg(long)]
    resume: bool,
    /// Correct the readings by the check kept under this name
    #[arg(long, value_name = "NAME", conflicts_with = "resume")]
    corrected: Option<String>,
    #[command(flatten)]
    manner: Manner,
}

pub(in crate::cli) fn run(args: &Args) -> Outcome {
    runtime::run(Box::pin(visit(args)))
}

/// The recording of this practice: a name that is free, unless one was given.
fn recording(args: &Args) -> PathBuf {
    let first = || PathBuf::from("practice.jsonl");
    let numbered = (2..1000).map(|number| PathBuf::from(format!("practice-{number}.jsonl")));
    match &args.file {
        Some(file) => file.clone(),
        None if args.resume => first(),
        None => std::iter::once(first())
            .chain(numbered)
            .find(|path| !path.exists())
            .unwrap_or_else(first),
    }
}

/// The card of a tester whose sensor sits right on the adapter.
fn without_hose(card: &str) -> String {
    let kept = card
        .lines()
        .filter(|line| !line.starts_with("hose_volume_cm3"));
    kept.flat_map(|line| [line, "\n"]).collect()
}

async fn visit(args: &Args) -> Outcome {
    let file = recording(args);
    let share = share::open(&args.manner.share, args.manner.share_control)?;
    let mut ending = Ending::listen()?;
    let text = args.recipe.as_deref().map(document::text).transpose()?;
    let (usual, usual_card) = args.engine.texts();
    let mut recipe = Recipe::parse(text.as_deref().unwrap_or(usual)).map_err(|error| {
        let failure = Failure::new(Exit::BadInput, error);
        match &args.recipe {
            Some(path) => failure.at(path.display()),
            None => failure,
        }
    })?;
    let card = match &args.card {
        _ if args.no_card => None,
        Some(path) => document::card(Some(path))?,
        None if args.no_check_valve => Some(without_hose(usual_card)),
        None => Some(usual_card.to_owned()),
    };
    if args.no_check_valve {
        recipe.tester = recipe.tester.without_check_valve();
        // Nothing holds the tops: they must be sampled closely.
        recipe.sensor.rate_hz = 500.0;
    }
    let protocol = match &args.protocol {
        Some(path) => Some(read_protocol(path)?),
        None => shipped().into_iter().next(),
    };
    let protocol = protocol
        .ok_or_else(|| Failure::new(Exit::Failed, "no protocol file comes with this program"))?;
    let (source, hand) = practice(recipe, &protocol)?;
    let wanted = Wanted {
        file: Some(&file),
        card,
        resume: args.resume,
        warm: args.manner.warm,
        cautions_read: args.manner.cautions_read,
        unit: args.manner.unit,
        restrictor: args.manner.restrictor,
        check_tester: args.manner.check_tester,
    };
    let visit = Visit {
        source: Box::new(source),
        sensor: "practice".to_owned(),
        practice: Some(Box::new(hand)),
        corrected: args.corrected.clone(),
        live: false,
        share,
    };
    Box::pin(go_through(
        visit,
        &wanted,
        &args.manner,
        Some(&file),
        &mut ending,
    ))
    .await
}

impl Practice for PracticeHand {
    fn fit(&mut self, cylinder: &str, condition: Condition) {
        PracticeHand::fit(self, cylinder, condition);
    }

    fn kick(&mut self) {
        PracticeHand::kick(self);
    }

    fn air(&mut self, event: &Event) {
        PracticeHand::air(self, event);
    }

    fn bleed(&mut self) {
        PracticeHand::bleed(self);
    }
}
