//! A test with air in a recipe: what is tested, and what its user says.

use super::SimulateError;
use super::spec::{Engine, one};
use crate::engine::Condition;
use crate::leakdown::{Filled, Place, Restrictor};
use crate::recording::Event;
use serde::{Deserialize, Serialize};

/// How long what the cylinder holds is read (s).
pub(super) const READ_S: f64 = 9.0;

/// Most rounds of a test.
const MOST_ROUNDS: usize = 8;

/// What is tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AirTestKind {
    /// A leak-down test of a cylinder.
    LeakDown,
    /// The tester alone is filled and shut off.
    DecayTester,
    /// A cylinder is filled and shut off.
    DecayCylinder,
}

/// A test with air in a recipe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedAirTest {
    /// What is tested.
    pub test: AirTestKind,
    /// So many runs come before it; otherwise all of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_run: Option<usize>,
    /// The cylinder at whose hole the tester is.
    pub cylinder: String,
    /// The engine's condition.
    #[serde(default = "cold")]
    pub condition: Condition,
    /// Temperature of the cylinder's walls.
    pub wall_celsius: f64,
    /// Diameter of the restrictor as the user says it; the true one is in `[air]`.
    #[serde(default = "one")]
    pub restrictor_mm: f64,
    /// What is filled, in cm³, as the user says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_cm3: Option<f64>,
    /// So many times both sides are read in turn at the top.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub rounds: usize,
    /// Where the user hears air, the loudest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<Place>,
    /// Nobody holds the crank: so long after the cylinder is opened it is let go, and how far off the
    /// top it stands then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub let_go: Option<LetGo>,
}

/// The crank is let go.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LetGo {
    /// So long after the cylinder is opened.
    pub after_s: f64,
    /// So far past the top.
    pub past_top_deg: f64,
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands a reference to it"
)]
const fn is_zero(rounds: &usize) -> bool {
    *rounds == 0
}

const fn cold() -> Condition {
    Condition::ColdDry
}

/// Where air can be heard on this engine; what cools it is not said.
fn places(engine: &Engine) -> Vec<Place> {
    let has = |place: &Place| match place {
        Place::Breather => engine.ports.is_none(),
        Place::NextHole => engine.cylinders.len() > 1,
        _ => true,
    };
    Place::ALL.into_iter().filter(has).collect()
}

impl PlannedAirTest {
    /// The restrictor as the user says it.
    pub(super) fn restrictor(&self) -> Restrictor {
        Restrictor {
            diameter_mm: self.restrictor_mm,
            ..Restrictor::default()
        }
    }

    /// # Errors
    /// When it is impossible; the error names the field.
    pub(super) fn check(&self, runs: usize, engine: &Engine) -> Result<(), SimulateError> {
        let refuse = |field: &'static str, why: String| Err(SimulateError::impossible(field, why));
        if !self.restrictor().is_sound() {
            let why = format!("a restrictor of {} mm cannot be", self.restrictor_mm);
            return refuse("air_test.restrictor_mm", why);
        }
        if let Some(after) = self.after_run.filter(|after| *after > runs) {
            let why = format!("run {after} is not there: the recipe has {runs}");
            return refuse("air_test.after_run", why);
        }
        if let Some(cm3) = self
            .volume_cm3
            .filter(|cm3| !(0.5..=10_000.0).contains(cm3))
        {
            let why = format!("{cm3} is not between 0.5 and 10000");
            return refuse("air_test.volume_cm3", why);
        }
        let places = places(engine);
        if let Some(odd) = self.heard.iter().find(|place| !places.contains(place)) {
            return refuse("air_test.heard", odd.is_none_of(&places));
        }
        if self.rounds > MOST_ROUNDS {
            let why = format!("{} is more than {MOST_ROUNDS}", self.rounds);
            return refuse("air_test.rounds", why);
        }
        if let Some(let_go) = self.let_go {
            let (after, past) = (let_go.after_s, let_go.past_top_deg);
            if !(0.0..=READ_S).contains(&after) || !(-30.0..=30.0).contains(&past) {
                let why = format!("{after} s and {past}° are not within 0 to {READ_S} s and ± 30°");
                return refuse("air_test.let_go", why);
            }
        }
        Ok(())
    }

    /// How it begins in the recording.
    pub(super) fn begins(&self) -> Event {
        let filled = match self.test {
            AirTestKind::LeakDown => {
                return Event::LeakDown {
                    cylinder: self.cylinder.clone(),
                    condition: self.condition,
                    restrictor: self.restrictor(),
                };
            }
            AirTestKind::DecayTester => Filled::Tester,
            AirTestKind::DecayCylinder => Filled::Cylinder,
        };
        Event::Decay {
            filled,
            cylinder: (filled == Filled::Cylinder).then(|| self.cylinder.clone()),
            volume_cm3: self.volume_cm3,
        }
    }
}
