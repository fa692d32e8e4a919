//! What may be set by hand for an analysis, and what follows from protocol file and job card.

use super::given::Given;
use super::labels::Label;
use crate::assess::RuleSet;
use crate::correction::Correction;
use crate::engine::{Ambient, Display, JobCard, Start};
use crate::protocol::{ProtocolFile, Reference};
use crate::signal::{Corrected, Rig, Settings, Turned};
use crate::units::{Pressure, PressureUnit, Time};

/// What may be set by hand for an analysis.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// How the sensor sits; found from the data otherwise.
    pub rig: Option<Rig>,
    /// Tolerance of a settled reading as a share of it; 0.01 otherwise.
    pub tolerance_share: Option<f64>,
    /// Names for the runs that the recording does not name, in their order.
    pub labels: Vec<Label>,
    /// Instead of the card in the recording.
    pub card: Option<Given<JobCard>>,
    /// Unit of the pressures in sentences, instead of the card's; without either it is psi.
    pub unit: Option<PressureUnit>,
    /// Second unit, instead of the card's.
    pub also: Option<PressureUnit>,
    /// The rules of comparison, instead of those that ship.
    pub rules: Option<Given<RuleSet>>,
    /// Every sample of a run is kept with it.
    pub samples: bool,
}

impl Options {
    /// The rules of comparison: those given, or those that ship.
    pub fn rule_set(&self) -> RuleSet {
        let given = self.rules.as_ref().map(|given| given.value.clone());
        given.unwrap_or_default()
    }
}

/// The units of words: those asked for, else the card's.
pub(super) fn units(options: &Options, card: Option<&JobCard>) -> Display {
    let by_card = card.map_or_else(Display::default, |card| card.display);
    by_card.with(options.unit, options.also)
}

/// The settings of the signal analysis.
pub(super) fn settings(
    options: &Options,
    protocol: &ProtocolFile,
    card: Option<&JobCard>,
    correction: Option<&Correction>,
) -> Settings {
    let ambient = Ambient::of(card.and_then(|card| card.site.as_ref()));
    let usual = Settings::default();
    // A rate that can be commanded may have been: the samples themselves tell.
    let fixed_rate = protocol
        .rate()
        .filter(|_| protocol.settable_rates().is_none());
    let resolution = protocol.resolution().unwrap_or(Pressure::ZERO);
    let top = protocol.range_high();
    Settings {
        rig: options.rig,
        turned: card.and_then(|card| card.engine.start).map(turned),
        absolute: protocol.reference() == Reference::Absolute,
        ambient: ambient.absolute,
        tolerance_share: options.tolerance_share.unwrap_or(usual.tolerance_share),
        resolution: correction.map_or(resolution, |by| resolution * by.gain),
        accuracy_standard: protocol.accuracy_uncertainty().unwrap_or(Pressure::ZERO),
        corrected: correction.map(corrected),
        range_max: correction.map_or(top, |by| Some(by.of(top?))),
        sample_period: fixed_rate.map(|rate| Time::from_s(1.0 / rate.hz())),
        strokes_only: false,
    }
}

/// How well a corrected level is known.
fn corrected(by: &Correction) -> Corrected {
    Corrected {
        standard: by.bend_standard,
        share: by.share_standard(),
        reach: by.reach(),
    }
}

/// What a start makes of strokes.
fn turned(start: Start) -> Turned {
    match start {
        Start::Electric => Turned::ByStarter,
        Start::HandCrank => Turned::ByHand,
        Start::Kick | Start::PullCord => Turned::InKicks,
    }
}
