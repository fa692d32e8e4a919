//! What `sensors check` is asked for.

use super::names::own_name;
use crate::correction::MOST_POINTS;
use crate::transport::Pace;
use crate::units::{Pressure, PressureUnit};
use std::path::PathBuf;

/// Hold a sensor against a gauge that you trust, and keep what comes of it beside its name
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A tyre pump and its gauge will do. Nothing is corrected until you say so:
needlerest sensors correct NAME on.

Examples:
  needlerest sensors check shed --reference 'tyre pump' --accuracy '0.15 bar'
  needlerest sensors check shed --reference 'class 1.0 gauge' --accuracy '1.6 psi' --up-to '120 psi'
  needlerest sensors check try --reference 'made up' --accuracy '0.05 bar' --virtual"
)]
pub(super) struct Args {
    /// Your name for the sensor
    #[arg(value_parser = own_name)]
    pub(super) name: String,
    /// What the gauge is, in your words
    #[arg(long, value_name = "TEXT")]
    pub(super) reference: String,
    /// The largest error that it may have, reading it included, such as '0.15 bar'
    #[arg(long, value_name = "PRESSURE")]
    pub(super) accuracy: Pressure,
    /// The highest pressure of the check; otherwise 8 bar, or three quarters of the sensor's range
    #[arg(long, value_name = "PRESSURE")]
    pub(super) up_to: Option<Pressure>,
    /// How many pressures besides zero, 1 to 5; from two on a bend in the sensor is seen
    #[arg(long, value_name = "NUMBER", default_value_t = 5, value_parser = clap::value_parser!(u8).range(1..MOST_POINTS as i64))]
    pub(super) points: u8,
    /// The unit in which the gauge is read
    #[arg(long, default_value = "bar")]
    pub(super) unit: PressureUnit,
    /// A virtual sensor on a virtual pump; with a recipe, the sensor that it describes
    #[arg(
        long = "virtual",
        value_name = "RECIPE",
        num_args = 0..=1,
        default_missing_value = "",
        value_parser = Made::parse,
        conflicts_with = "adapter"
    )]
    pub(super) recipe: Option<Made>,
    /// Take the pressures from this recording instead of a live sensor
    #[arg(long, value_name = "RECORDING", conflicts_with_all = ["recipe", "adapter", "protocol"])]
    pub(super) replay: Option<PathBuf>,
    /// With --virtual: so many times as fast as it was; 0: as fast as it goes
    #[arg(long, value_name = "TIMES", default_value = "1", requires = "recipe")]
    pub(super) speed: Pace,
    /// The protocol file that describes the sensor, if not the one that it is remembered with
    #[arg(long, value_name = "FILE")]
    pub(super) protocol: Option<PathBuf>,
    /// The Bluetooth adapter, such as hci0
    #[arg(long, value_name = "NAME")]
    pub(super) adapter: Option<String>,
}

/// A virtual sensor.
#[derive(Clone, Debug)]
pub(super) enum Made {
    /// The one that comes along.
    BuiltIn,
    /// That of a recipe.
    ByRecipe(PathBuf),
}

impl Made {
    #[allow(
        clippy::unnecessary_wraps,
        reason = "the command line's reader asks for it"
    )]
    fn parse(text: &str) -> Result<Self, String> {
        Ok(match text {
            "" => Self::BuiltIn,
            path => Self::ByRecipe(path.into()),
        })
    }
}
