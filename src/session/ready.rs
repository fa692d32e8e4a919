//! What to do before a run's first stroke: where the sensor goes, and how much oil.

use super::input::Setup;
use super::output::Entry;
use super::plan::{Planned, place};
use super::prompt::Tone;
use super::state::{MadeRun, Session};
use crate::engine::cautions::{FIRST, before_cranking};
use crate::engine::{Condition, Decompressor, EngineKind, Rating, oil};
use crate::units::PressureUnit;

/// Whether a cylinder has been given its oil in this visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum OilIn {
    No,
    /// A wet run was asked for and left before its first stroke.
    Perhaps,
    Yes,
}

impl Session {
    /// What to mind before this engine is cranked with this sensor, each with what it is about.
    pub fn cautions(&self) -> Vec<(&'static str, String)> {
        let Setup {
            kind, rating, unit, ..
        } = &self.setup;
        cautions(kind, *rating, *unit)
    }

    /// Every caution, a line each: for those who do not see the page of them.
    pub(super) fn say_cautions(&mut self) {
        self.say(FIRST);
        for (about, text) in self.cautions() {
            self.say(format!("{about}. {text}"));
        }
        let next = self.view().next;
        self.say(next);
    }

    /// A sensor that may be too weak is told of also to those who have read the cautions.
    pub(super) fn mind_the_sensor(&mut self) {
        if self.setup.replay {
            return;
        }
        if let Some(warning) = self.setup.rating.warning(self.setup.unit) {
            self.warn(warning);
        }
    }

    /// Whether this engine may be given oil at all.
    pub fn may_be_oiled(&self) -> bool {
        self.setup.kind.dose_cm3().is_some()
    }

    /// Whether this engine is known to have no throttle.
    pub fn has_no_throttle(&self) -> bool {
        self.setup.kind.is_diesel()
    }

    pub(super) fn ready_words(&self) -> (Tone, &'static str, String) {
        let Some(current) = &self.current else {
            return (Tone::Calm, "WAIT", "Wait.".to_owned());
        };
        let planned = &current.planned;
        let next = match planned.condition {
            Condition::Wet => format!(
                "{} {}",
                self.oil_words(planned),
                self.fit_words("the sensor")
            ),
            Condition::WarmDry => format!(
                "Engine warm: {}",
                self.fit_words(&self.sensor_into(planned))
                    .replacen("Fit", "fit", 1)
            ),
            Condition::ColdDry => self.fit_words(&self.sensor_into(planned)),
        };
        (Tone::Go, self.verb().fit, next)
    }

    /// `the sensor to cylinder 2`; of a diesel by which hole.
    fn sensor_into(&self, planned: &Planned) -> String {
        let of = if planned.named {
            format!("cylinder {}", planned.cylinder)
        } else {
            "the next cylinder".to_owned()
        };
        if self.setup.kind.is_diesel() {
            format!("the sensor to the glow-plug or injector hole of {of}")
        } else {
            format!("the sensor to {of}")
        }
    }

    fn fit_words(&self, what: &str) -> String {
        let (kind, turn) = (&self.setup.kind, self.verb().base);
        let manual = kind.decompressor == Some(Decompressor::Manual);
        let shut = if manual { ", decompressor shut" } else { "" };
        if kind.is_diesel() {
            format!("Fit {what}{shut}, injection dead, {turn}.")
        } else {
            format!("Fit {what}{shut}, throttle wide open, {turn}.")
        }
    }

    fn oil_words(&self, planned: &Planned) -> String {
        let place = place(&planned.cylinder);
        let dose = self.setup.kind.dose_cm3().map(oil::measured);
        let dose = dose.unwrap_or_else(|| "no oil".to_owned());
        if self.current.as_ref().is_some_and(|c| c.oil_is_in) {
            return format!("The oil ({dose}) is in {place}: add none. Turn it over by hand.");
        }
        match self.oil_in(&planned.cylinder) {
            OilIn::No => format!("Oil into {place}: {dose}, no more. Turn it over by hand."),
            OilIn::Perhaps => format!(
                "Oil into {place}: {dose} in all; if it is in already, add none. Turn it over by \
                 hand."
            ),
            OilIn::Yes => format!("The oil ({dose}) is in {place}: add none."),
        }
    }

    /// The user says that the oil has been poured.
    pub(super) fn oil_is_in(&mut self) {
        if self.oil_to_pour().is_none() {
            return self.warn("No oil is to be poured now.");
        }
        self.before("The oil is in.");
        self.record(Entry::Mark("oil is in".to_owned()));
        if let Some(current) = self.current.as_mut() {
            current.oil_is_in = true;
        }
        self.say_what_was_done();
    }

    /// The oil that is to be poured now, in cm³.
    pub fn oil_to_pour(&self) -> Option<f64> {
        let current = self.current.as_ref().filter(|c| c.strokes == 0)?;
        let wet = current.planned.condition == Condition::Wet;
        let now = wet && !current.oil_is_in && !self.was_oiled(&current.planned.cylinder);
        self.setup.kind.dose_cm3().filter(|_| now)
    }

    /// The oil of the whole visit, this run's counted in; none for a dry run.
    pub(super) fn oil_note(&self) -> Option<String> {
        let current = self.current.as_ref()?;
        let dose = self.setup.kind.dose_cm3()?;
        if current.planned.condition != Condition::Wet {
            return None;
        }
        let mut oiled: Vec<&str> = self
            .made
            .iter()
            .filter(|m| is_wet(m))
            .map(|m| m.cylinder.as_str())
            .collect();
        oiled.push(&current.planned.cylinder);
        oiled.sort_unstable();
        oiled.dedup();
        let each = match oiled.len() {
            1 => "1 cylinder".to_owned(),
            many => format!("{many} cylinders"),
        };
        let total = oil::amount(dose * oiled.len() as f64);
        let by_hand = match self.setup.kind.chamber_cm3 {
            Some(_) => String::new(),
            None => format!(" The chamber is not known: the most is {}.", oil::BY_HAND),
        };
        Some(format!(
            "Oil in this visit, this run's with it: {total} in {each}.{by_hand}"
        ))
    }

    fn oil_in(&self, cylinder: &str) -> OilIn {
        let mut of_it = self
            .made
            .iter()
            .filter(|m| is_wet(m))
            .filter(|m| m.cylinder == cylinder)
            .peekable();
        if of_it.peek().is_none() {
            return OilIn::No;
        }
        if of_it.any(|m| !m.shown.is_empty()) {
            OilIn::Yes
        } else {
            OilIn::Perhaps
        }
    }

    /// Whether a wet run of this cylinder has been asked for in this visit.
    pub(super) fn was_oiled(&self, cylinder: &str) -> bool {
        self.oil_in(cylinder) != OilIn::No
    }

    /// Why no oil is proposed for cylinders that are low; none where it is.
    pub(super) fn why_no_oil(&self) -> Option<&'static str> {
        let kind = &self.setup.kind;
        if kind.is_diesel() {
            Some(
                "A diesel is never given oil. A leak-down test tells more; its air turns the crank: lock it.",
            )
        } else if kind.is_two_stroke() {
            Some(
                "No wet run is proposed: in a two-stroke oil runs out through the ports and gathers \
                 in the crankcase. A leak-down test tells more; its air turns the crank: lock it.",
            )
        } else if kind.dose_cm3().is_none() {
            Some("No wet run: the chamber is too small for oil that can be measured.")
        } else {
            None
        }
    }
}

/// What to mind before an engine of this kind is cranked with a sensor of this range, each with what
/// it is about.
pub fn cautions(
    kind: &EngineKind,
    rating: Rating,
    unit: PressureUnit,
) -> Vec<(&'static str, String)> {
    let warning = rating.warning(unit);
    let warning = warning.map(|text| ("This sensor", text));
    let cautions = before_cranking(kind);
    let cautions = cautions.into_iter().map(|c| (c.about, c.text.to_owned()));
    warning.into_iter().chain(cautions).collect()
}

fn is_wet(made: &MadeRun) -> bool {
    made.condition == Condition::Wet
}
