//! What a voice says: everything that is to be done, for whoever has both hands at the engine and
//! no eye on the screen.

use super::input::Link;
use super::output::Announcement;
use super::spoken::{cylinder, tenths, whole};
use super::state::{NOTHING, Patience, Session, Stage};
use super::words::sentence;
use crate::engine::{Condition, Decompressor, oil};
use crate::signal::Rig;
use crate::units::{Pressure, PressureUnit, Time};

/// The longest pause between two of them. (Our choice.)
const LONGEST: Time = Time::from_s(320.0);

impl Session {
    /// Something happened: nothing need be said again for a while.
    pub(super) fn stirred(&mut self) {
        self.patience = Patience {
            since: self.now,
            lasts: NOTHING,
        };
    }

    /// Says what is to be done now.
    pub(super) fn speak(&mut self) {
        let text = self.spoken();
        self.speak_words(text);
    }

    pub(super) fn speak_words(&mut self, text: String) {
        if !text.is_empty() {
            self.announce(Announcement::Next(text));
        }
    }

    /// Says it again where nothing has happened for long; nobody is asked for anything in a replay.
    pub(super) fn speak_again(&mut self) {
        let Patience { since, lasts } = self.patience;
        let silent = self.setup.replay
            || self.is_resting()
            || matches!(
                self.stage,
                Stage::Cautions | Stage::AirCautions | Stage::Hold | Stage::Finished
            );
        if silent || self.now - since < lasts {
            return;
        }
        self.speak();
        self.patience.lasts = (lasts * 2.0).min(LONGEST);
    }

    /// What is to be done now, as a voice says it.
    pub(super) fn spoken(&self) -> String {
        match self.link {
            Link::Lost if self.needs_link() => return "Link lost. Wait.".to_owned(),
            Link::Silent if self.needs_link() => return "No signal. Wait.".to_owned(),
            _ => {}
        }
        if self.is_resting() {
            return "Paused.".to_owned();
        }
        match self.stage {
            Stage::Cautions => "Read the cautions first.".to_owned(),
            Stage::Zero if self.left_over.is_some() => "Bleed the hose.".to_owned(),
            Stage::Zero => "Leave the sensor open to the air, and still.".to_owned(),
            Stage::Ready => self.asked_for(),
            Stage::Climbing => self.keep_on(),
            Stage::Hold => "Stop. Hands off.".to_owned(),
            Stage::Bleed => self.let_it_go(),
            Stage::AirCautions => "Air turns the crank. Read the cautions first.".to_owned(),
            Stage::Air => self
                .air
                .as_ref()
                .map_or_else(String::new, |air| air.steps.spoken()),
            Stage::Offer if self.worth_air().next().is_some() => {
                let of = self.worth_air().next().map(cylinder).unwrap_or_default();
                format!("All runs made. {of}, leak-down test; or finish.")
            }
            Stage::Offer => "All runs made. Finish, or a warm round.".to_owned(),
            Stage::Naming => "Which cylinder was it?".to_owned(),
            Stage::Finished => "Finished.".to_owned(),
        }
    }

    /// `Cylinder two. Throttle open. Kick.`
    fn asked_for(&self) -> String {
        let Some(current) = &self.current else {
            return "Wait.".to_owned();
        };
        let planned = &current.planned;
        let mut words = vec![cylinder(&planned.cylinder)];
        match planned.condition {
            Condition::Wet => words.extend(self.oil_spoken(&planned.cylinder)),
            Condition::WarmDry => words.push("Engine warm".to_owned()),
            Condition::ColdDry => {}
        }
        if self.setup.kind.decompressor == Some(Decompressor::Manual) {
            words.push("Decompressor shut".to_owned());
        }
        let diesel = self.setup.kind.is_diesel();
        let first = if diesel {
            "Injection dead"
        } else {
            "Throttle open"
        };
        words.push(first.to_owned());
        words.push(sentence(self.verb().base));
        words.join(". ") + "."
    }

    fn oil_spoken(&self, cylinder: &str) -> Vec<String> {
        if self.was_oiled(cylinder) {
            return vec!["No more oil".to_owned()];
        }
        let dose = self.setup.kind.dose_cm3();
        dose.map_or_else(Vec::new, |dose| {
            let (amount, share) = (tenths(dose), oil::share(dose));
            vec![
                format!("{} millilitres of oil, {share}, no more", sentence(&amount)),
                "Turn it over by hand".to_owned(),
            ]
        })
    }

    fn keep_on(&self) -> String {
        let verb = sentence(self.verb().base);
        let current = self.current.as_ref();
        if current.is_some_and(|c| c.paused) {
            return format!("Still climbing. {verb} on.");
        }
        match current.and_then(|c| c.count?.to_go) {
            Some(more) => to_go(more),
            None => format!("{verb} on."),
        }
    }

    fn let_it_go(&self) -> String {
        let void = self.current.as_ref().and_then(|c| c.given_up);
        let first = if void.is_some() {
            "This run does not count. "
        } else {
            ""
        };
        let held = self.current.is_some() && self.rig == Some(Rig::Following);
        let then = if held {
            "Take the sensor out."
        } else {
            "Bleed."
        };
        format!("{first}{then}")
    }
}

/// `Two more.`
pub(super) fn to_go(more: u32) -> String {
    format!("{} more.", sentence(&whole(more)))
}

/// `Stop. One hundred and fifteen.`
pub(super) fn stop(reading: Pressure, unit: PressureUnit) -> String {
    format!("Stop. {}.", sentence(&pressure(reading, unit)))
}

/// The number alone; one decimal where there are few digits before the point.
fn pressure(reading: Pressure, unit: PressureUnit) -> String {
    let value = reading.to(unit);
    if value < 49.95 {
        tenths(value)
    } else {
        whole((value + 0.5) as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pressures_are_said_as_finely_as_they_are_compared() {
        let psi = Pressure::new(115.3, PressureUnit::Psi);
        assert_eq!(
            stop(psi, PressureUnit::Psi),
            "Stop. One hundred and fifteen."
        );
        let bar = Pressure::new(7.94, PressureUnit::Bar);
        assert_eq!(stop(bar, PressureUnit::Bar), "Stop. Seven point nine.");
        let bar = Pressure::new(7.96, PressureUnit::Bar);
        assert_eq!(stop(bar, PressureUnit::Bar), "Stop. Eight.");
    }
}
