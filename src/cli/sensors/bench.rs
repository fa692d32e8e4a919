//! Where the pressures of a check come from: a live sensor, a recording, a virtual sensor.

use super::asked::{Args, Made};
use super::names::unknown;
use crate::cli::live::choice::{self, Choice, shipped};
use crate::cli::live::connect::{Target, connect};
use crate::cli::live::known::{self, AllKnown};
use crate::cli::live::runtime::Ending;
use crate::cli::live::told::Told;
use crate::cli::{Exit, Failure, document, out};
use crate::simulate::Recipe;
use crate::transport::{Pace, PumpHand, Source, pump, replay};
use std::path::Path;

/// The sensor that `--virtual` stands for where no recipe is named, …
const RECIPE: &str = include_str!("../../../demo/practice/starter-twin.recipe.toml");
/// … by how much its span and its zero (kPa) are off, …
const OFF: (f64, f64) = (0.03, 6.0);
/// … and its address: no other virtual sensor is off like that.
const ADDRESS: &str = "simulated, to be checked";

/// Where the pressures come from.
pub(super) struct Bench {
    pub(super) source: Box<dyn Source>,
    /// Moves the virtual pump.
    pub(super) pump: Option<PumpHand>,
    /// Time stands still while an answer is waited for.
    pub(super) waits: bool,
}

/// Opens what the user chose; none if the user ended it before.
pub(super) async fn open(
    args: &Args,
    so_far: &AllKnown,
    ending: &mut Ending,
) -> Result<Option<Bench>, Failure> {
    if let Some(path) = &args.replay {
        let source = replay(path, Pace::Fast).map_err(|e| Failure::from(e).at(path.display()))?;
        return Ok(Some(Bench {
            source: Box::new(source),
            pump: None,
            waits: true,
        }));
    }
    if let Some(made) = &args.recipe {
        let recipe = match made {
            Made::BuiltIn => None,
            Made::ByRecipe(path) => Some(path.as_path()),
        };
        return virtual_bench(args, recipe).map(Some);
    }
    if !so_far.contains_key(&args.name) {
        let unknown = unknown(&args.name, &known::path()?);
        return Err(unknown.remedy("remember it first: needlerest sensors remember NAME"));
    }
    let chosen = Choice {
        sensor: Some(args.name.clone()),
        protocol: args.protocol.iter().cloned().collect(),
        adapter: args.adapter.clone(),
    };
    let wanted = Target {
        choice: &chosen,
        rate_hz: None,
        zero: false,
    };
    let say = |told: &Told| {
        let _ = out::stderr().line(told.text());
    };
    let source = connect(&wanted, ending, &say).await?;
    Ok(source.map(|source| Bench {
        source,
        pump: None,
        waits: false,
    }))
}

fn virtual_bench(args: &Args, recipe: Option<&Path>) -> Result<Bench, Failure> {
    let text = recipe.map(document::text).transpose()?;
    let mut described = Recipe::parse(text.as_deref().unwrap_or(RECIPE)).map_err(|error| {
        let failure = Failure::new(Exit::BadInput, error).remedy("correct the recipe");
        match recipe {
            Some(path) => failure.at(path.display()),
            None => failure,
        }
    })?;
    let protocol = match &args.protocol {
        Some(path) => Some(choice::read(path)?),
        None => shipped().into_iter().next(),
    };
    let protocol = protocol
        .ok_or_else(|| Failure::new(Exit::Failed, "no protocol file comes with this program"))?;
    let address = if recipe.is_some() {
        "simulated"
    } else {
        (described.sensor.span_error, described.sensor.offset_kpa) = OFF;
        ADDRESS
    };
    let (source, hand) = pump(&described, address, &protocol, args.speed);
    Ok(Bench {
        source: Box::new(source),
        pump: Some(hand),
        waits: args.speed == Pace::Fast,
    })
}
