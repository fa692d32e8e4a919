//! The fit that suits the rig, and the steps that are shown as the build-up.

use super::build_up::{Bank, Prior, Prospect};
use super::bursts::Turned;
use super::curve;
use super::lifts::{Lift, Lifts};
use super::results::Rig;

/// Steps kept for the curve that is shown.
const CURVE_STEPS: usize = 64;

/// A kick that lifts far tells less. Standard deviation as a share of the lift.
const PER_RISE: f64 = 0.05;

/// One step of the build-up: a stroke, or the best stroke of a burst.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    /// The level found, the level made, and its standard uncertainty.
    pub(super) lift: Lift,
    /// Strokes since the step before.
    pub(super) strokes: u32,
}

#[derive(Clone, Debug)]
enum Model {
    Peaks(Box<Bank>),
    /// With the top before.
    Tops(Box<Bank>, Option<f64>),
    Lifts(Lifts),
}

/// Takes steps, gives the prospect.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    model: Model,
    scatter: f64,
    curve: Vec<curve::Step>,
    k: f64,
}

impl Fit {
    pub(super) fn new(rig: Option<Rig>) -> Self {
        let model = match rig {
            Some(Rig::Following) => Model::Peaks(Box::new(Bank::new(Prior::BY_HAND))),
            _ => Model::Lifts(Lifts::default()),
        };
        Self {
            model,
            scatter: 0.0,
            curve: Vec::new(),
            k: 0.0,
        }
    }

    /// For the tops of kicks or pulls behind a check valve.
    pub(super) fn tops() -> Self {
        Self {
            model: Model::Tops(Box::new(Bank::new(Prior::TOPS)), None),
            ..Self::new(None)
        }
    }

    /// The same without steps.
    pub(super) fn renew(&self) -> Self {
        let model = match &self.model {
            Model::Peaks(bank) => Model::Peaks(Box::new(bank.renew())),
            Model::Tops(bank, _) => Model::Tops(Box::new(bank.renew()), None),
            Model::Lifts(_) => Model::Lifts(Lifts::default()),
        };
        Self {
            model,
            scatter: self.scatter,
            curve: Vec::new(),
            k: 0.0,
        }
    }

    /// Who turns the engine, and how much scatter between steps to expect, as a share of the level.
    pub(super) fn expect(&mut self, turned: Turned, scatter: f64) {
        self.scatter = scatter;
        let (bank, usual) = match &mut self.model {
            Model::Peaks(bank) if turned == Turned::ByStarter => (bank, Prior::BY_STARTER),
            Model::Peaks(bank) => (bank, Prior::BY_HAND),
            Model::Tops(bank, _) => (bank, Prior::TOPS),
            Model::Lifts(_) => return,
        };
        bank.expect(Prior { scatter, ..usual });
    }

    pub(super) fn push(&mut self, step: &Step) {
        let lift = step.lift;
        if !self.curve.is_empty() {
            self.k += f64::from(step.strokes);
        }
        if self.curve.len() == CURVE_STEPS {
            self.curve.remove(0);
        }
        self.curve.push(curve::Step {
            k: self.k,
            level: lift.to,
        });
        match &mut self.model {
            Model::Peaks(bank) => bank.push(lift.to, lift.standard, step.strokes, lift.trust),
            Model::Tops(bank, before) => {
                let base = libm::hypot(lift.standard, self.scatter * lift.to);
                let rise = PER_RISE * (lift.to - before.replace(lift.to).unwrap_or(0.0));
                let trust = lift.trust * base * base / (base * base + rise * rise);
                bank.push(lift.to, lift.standard, step.strokes, trust);
            }
            Model::Lifts(lifts) => lifts.push(lift, self.scatter),
        }
    }

    pub(super) fn steps(&self) -> u32 {
        match &self.model {
            Model::Peaks(bank) | Model::Tops(bank, _) => bank.strokes(),
            Model::Lifts(lifts) => lifts.strokes(),
        }
    }

    pub(super) fn prospect(&self) -> Option<Prospect> {
        match &self.model {
            Model::Peaks(bank) | Model::Tops(bank, _) => bank.prospect(),
            Model::Lifts(lifts) => lifts.prospect(),
        }
    }

    /// The steps, for the curve that is shown.
    pub(super) fn curve(&self) -> &[curve::Step] {
        &self.curve
    }
}
