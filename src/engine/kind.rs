//! What kind of engine it is: what cautions, prompts and advice depend on.

use super::{Cycle, Decompressor, Fuel, Ignition, JobCard, Start, oil};

/// What kind of engine it is, as far as anything is known; none: not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EngineKind {
    /// What lights the mixture.
    pub ignition: Option<Ignition>,
    /// Working cycle.
    pub cycle: Option<Cycle>,
    /// How it is turned.
    pub start: Option<Start>,
    /// How fuel reaches it, if it has spark plugs.
    pub fuel: Option<Fuel>,
    /// What lets part of a stroke out while it is started.
    pub decompressor: Option<Decompressor>,
    /// Volume of a chamber at top dead centre, in cm³.
    pub chamber_cm3: Option<f64>,
    /// Oil for a wet run as the card asks for it, in cm³.
    pub wet_oil_cm3: Option<f64>,
}

impl EngineKind {
    /// What the card tells; nothing, without a card.
    pub fn of(card: Option<&JobCard>) -> Self {
        let Some(card) = card else {
            return Self::default();
        };
        let engine = &card.engine;
        Self {
            ignition: Some(engine.ignition),
            cycle: Some(engine.cycle),
            start: engine.start,
            fuel: engine.fuel,
            decompressor: engine.decompressor,
            chamber_cm3: oil::chamber_cm3(engine),
            wet_oil_cm3: card.tester.as_ref().and_then(|tester| tester.wet_oil_cm3),
        }
    }

    /// Whether it is known to be a diesel.
    pub fn is_diesel(&self) -> bool {
        self.ignition == Some(Ignition::Compression)
    }

    /// Whether it is known to be a two-stroke.
    pub fn is_two_stroke(&self) -> bool {
        self.cycle == Some(Cycle::TwoStroke)
    }

    /// Oil for a wet run in cm³; none for a diesel, and where the chamber is too small for any.
    pub fn dose_cm3(&self) -> Option<f64> {
        if self.is_diesel() {
            return None;
        }
        oil::dose_cm3(self.chamber_cm3, self.wet_oil_cm3)
    }

    /// Whether a wet run is worth proposing: of a two-stroke oil tells little, a diesel gets none.
    pub fn is_worth_oil(&self) -> bool {
        !self.is_two_stroke() && self.dose_cm3().is_some()
    }

    /// Why its readings are not held against what petrol engines do; none if they are.
    pub fn reading_only(&self) -> Option<ReadingOnly> {
        if self.decompressor == Some(Decompressor::Automatic) {
            Some(ReadingOnly::AutomaticDecompressor)
        } else {
            self.is_diesel().then_some(ReadingOnly::Diesel)
        }
    }
}

/// Why what is known of cranked petrol engines does not hold for this one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadingOnly {
    /// An automatic decompressor lets part of each stroke out.
    AutomaticDecompressor,
    /// It is a diesel.
    Diesel,
}
