//! `card`: asks what an engine is and should have, and writes its job card.

mod ask;
mod draft;
mod ranges;
mod spoken;

use super::{Exit, Failure, Outcome};
use crate::cli::out;
use crate::engine::expected::expected;
use crate::engine::{Ambient, Condition, EngineKind, JobCard, rating};
use ask::Asker;
use draft::{Draft, Key};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Write a job card: asks what the engine is and should have, one question after another
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Every question has an answer to fall back on: press Enter to take it. A \
question that an option answers is not asked.

Examples:
  needlerest card heron.toml
  needlerest card --ranges
  needlerest card heron.toml --no-questions --cylinders '1 2 3' --bore 90 --stroke 94 --ratio 9
  needlerest card twin.toml --cylinders 'left / right' --start kick --service-limit '8 bar'"
)]
pub(super) struct Args {
    /// The job card to write, such as heron.toml; a file that is there already is kept
    #[arg(required_unless_present = "ranges")]
    file: Option<PathBuf>,
    /// Ask nothing: what no option answers is left out or taken as usual
    #[arg(long)]
    no_questions: bool,
    /// Write over a card that is there already
    #[arg(long)]
    replace: bool,
    /// Only show what engines usually read, by compression ratio, with the source of each figure
    #[arg(long, conflicts_with_all = ["file", "no_questions", "replace"])]
    ranges: bool,
    #[command(flatten)]
    told: Told,
}

/// Answers given as options, as they would be typed
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Answers")]
struct Told {
    /// What you call the engine
    #[arg(long, value_name = "NAME")]
    label: Option<String>,
    /// Unit of the pressures typed and shown: psi, bar, kPa, kgf/cm2, …
    #[arg(long)]
    unit: Option<String>,
    /// four-stroke or two-stroke
    #[arg(long)]
    cycle: Option<String>,
    /// spark (petrol, gas) or compression (diesel)
    #[arg(long)]
    ignition: Option<String>,
    /// How many, or their names row by row: '1 3 5 / 2 4 6'
    #[arg(long, value_name = "NAMES")]
    cylinders: Option<String>,
    /// electric, kick, pull-cord or hand-crank
    #[arg(long, value_name = "HOW")]
    start: Option<String>,
    /// Of a petrol engine: carburettor or injection
    #[arg(long, value_name = "WHICH")]
    fuel: Option<String>,
    /// none, manual or automatic: what lets part of a stroke out while it is started
    #[arg(long, value_name = "WHICH")]
    decompressor: Option<String>,
    /// Bore: 90, '90 mm' or '3.54 in'
    #[arg(long, value_name = "LENGTH")]
    bore: Option<String>,
    /// Stroke, likewise
    #[arg(long, value_name = "LENGTH")]
    stroke: Option<String>,
    /// Compression ratio: 9.0 or 9:1
    #[arg(long)]
    ratio: Option<String>,
    /// Lowest reading that the manual allows: '120 psi'
    #[arg(long, value_name = "PRESSURE")]
    service_limit: Option<String>,
    /// Lower end of the manual's normal range
    #[arg(long, value_name = "PRESSURE")]
    normal_low: Option<String>,
    /// Upper end of the manual's normal range
    #[arg(long, value_name = "PRESSURE")]
    normal_high: Option<String>,
    /// Height above sea level: 340, '340 m' or '1115 ft'
    #[arg(long, value_name = "HEIGHT", allow_hyphen_values = true)]
    altitude: Option<String>,
    /// Volume of the adapter between plug hole and check valve, in cm³
    #[arg(long, value_name = "CM3")]
    dead_volume: Option<String>,
    /// Volume of hose and sensor behind the check valve, in cm³
    #[arg(long, value_name = "CM3")]
    hose_volume: Option<String>,
    /// Oil that you put into a cylinder for a wet run, in cm³
    #[arg(long, value_name = "CM3")]
    wet_oil: Option<String>,
    /// For a buyer: currency of the repair costs, such as EUR
    #[arg(long, value_name = "NAME")]
    currency: Option<String>,
    /// What a top-end job (rings, bore) would cost
    #[arg(long, value_name = "SUM")]
    top_end_cost: Option<String>,
    /// What a valve job would cost
    #[arg(long, value_name = "SUM")]
    valve_cost: Option<String>,
    /// What a head gasket would cost
    #[arg(long, value_name = "SUM")]
    gasket_cost: Option<String>,
}

impl Told {
    /// What an option says, and how the option is called.
    fn answer(&self, key: Key) -> Option<&str> {
        match key {
            Key::Label => &self.label,
            Key::Unit => &self.unit,
            Key::Cycle => &self.cycle,
            Key::Ignition => &self.ignition,
            Key::Cylinders => &self.cylinders,
            Key::Start => &self.start,
            Key::Fuel => &self.fuel,
            Key::Decompressor => &self.decompressor,
            Key::Bore => &self.bore,
            Key::Stroke => &self.stroke,
            Key::Ratio => &self.ratio,
            Key::ServiceLimit => &self.service_limit,
            Key::NormalLow => &self.normal_low,
            Key::NormalHigh => &self.normal_high,
            Key::Altitude => &self.altitude,
            Key::DeadVolume => &self.dead_volume,
            Key::HoseVolume => &self.hose_volume,
            Key::WetOil => &self.wet_oil,
            Key::Currency => &self.currency,
            Key::TopEndCost => &self.top_end_cost,
            Key::ValveCost => &self.valve_cost,
            Key::GasketCost => &self.gasket_cost,
        }
        .as_deref()
    }
}

pub(super) fn run(args: &Args) -> Outcome {
    let Some(path) = &args.file else {
        ranges::table(&mut out::stdout())?;
        return Ok(Exit::Done);
    };
    if path.exists() && !args.replace {
        return Err(exists(path));
    }
    let mut draft = Draft::named_after(path);
    for key in Key::ALL {
        if let Some(text) = args.told.answer(key) {
            draft.answer(key, text).map_err(|why| {
                Failure::new(Exit::Usage, why)
                    .at(format!("{} {text:?}", key.option()))
                    .remedy("needlerest card --help shows how each is written")
            })?;
        }
    }
    if !args.no_questions {
        Asker::introduce()?;
        let mut asker = Asker::on_the_terminal();
        for key in Key::ALL {
            if args.told.answer(key).is_none() && draft.matters(key) {
                asker.ask(key, &mut draft)?;
            }
        }
    }
    let card = draft.card().map_err(|why| Failure::new(Exit::Usage, why))?;
    write(path, &draft.text(), args.replace)?;
    told(path, &card)
}

fn exists(path: &Path) -> Failure {
    Failure::new(Exit::Failed, "a file of this name is there already")
        .at(path.display())
        .remedy("choose another name; --replace writes over it")
}

fn write(path: &Path, text: &str, replace: bool) -> Result<(), Failure> {
    let mut options = OpenOptions::new();
    options.write(true);
    if replace {
        options.create(true).truncate(true);
    } else {
        options.create_new(true);
    }
    let written = options
        .open(path)
        .and_then(|mut file| file.write_all(text.as_bytes()));
    written.map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => exists(path),
        _ => Failure::file(path, "write", &error).remedy("see that its folder is there"),
    })
}

/// What came of it, and what to do with it.
fn told(path: &Path, card: &JobCard) -> Outcome {
    let mut out = out::stdout();
    let file = path.display();
    out.line(format!(
        "Written: {file}. It is a text file; any editor can change it."
    ))?;
    let ambient = Ambient::of(card.site.as_ref());
    match expected(card, &ambient, None, Condition::ColdDry) {
        Some(expected) => {
            let unit = card.display.unit;
            let half = expected.standard * 2.0;
            writeln!(
                out,
                "A tight cylinder of this engine, cold, should read about {} to {}: calculated, \
                 not the manual's.",
                (expected.likely - half).digits(unit),
                (expected.likely + half).show(unit),
            )?;
        }
        None if EngineKind::of(Some(card)).reading_only().is_some() => writeln!(
            out,
            "What a sound one reads is not calculated for a diesel, nor where a decompressor opens \
             by itself."
        )?,
        None => writeln!(
            out,
            "Without a compression ratio nothing can be calculated; cylinders are compared with \
             each other all the same."
        )?,
    }
    if let Some(needed) = rating::needed(card) {
        let needed = needed.show(card.display.unit);
        writeln!(out, "Use a sensor with a range of {needed} or more.")?;
    }
    let recording = path.with_extension("jsonl");
    out.line(format!(
        "Next: needlerest visit {} --card {file}",
        recording.display()
    ))?;
    Ok(Exit::Done)
}
