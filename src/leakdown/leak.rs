//! The leak from the pressures on both sides of a restrictor.

use super::Restrictor;
use crate::engine::Condition;
use crate::engine::flow::series_ratio;
use crate::units::Pressure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much warmer (share of the absolute temperature) than the supply's the gas of a warm engine can
/// be, its walls at 80 °C, and the leak (mm²) that leaves it time for half of that: a large leak is fed
/// so fast that its air stays cold. Own estimate, by the laboratory.
const WARMER: f64 = 0.2;
const HALF_WARMED_MM2: f64 = 1.2;
/// Standard uncertainty of that share, of a cold engine and of a warm one. Own estimate.
const WARMER_STANDARD: [f64; 2] = [0.01, 0.05];

/// An effective leak (discharge coefficient times area) in mm², and its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Leak {
    /// Most likely.
    pub mm2: f64,
    /// Lower end.
    pub low_mm2: f64,
    /// Upper end.
    pub high_mm2: f64,
}

/// The pressures on both sides of a restrictor, gauge, with standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sides {
    /// Before the restrictor.
    pub supply: Pressure,
    /// Its standard uncertainty, what both have in common left out.
    pub supply_standard: Pressure,
    /// Behind it, in the cylinder.
    pub cylinder: Pressure,
    /// Its standard uncertainty.
    pub cylinder_standard: Pressure,
    /// Ambient pressure, absolute.
    pub ambient_absolute: Pressure,
}

impl Sides {
    /// Share of the supply's pressure that is lost (1 = all). AC 43.13-1B, paragraph 8-14: 80 psi in
    /// and 60 held is 25 %.
    pub fn loss(&self) -> f64 {
        1.0 - self.cylinder / self.supply
    }

    /// Standard uncertainty of [`Self::loss`].
    pub fn loss_standard(&self) -> f64 {
        self.between() / self.supply
    }

    /// Standard uncertainty of the pressure behind the restrictor beside the one before it.
    fn between(&self) -> Pressure {
        let share = self.cylinder / self.supply;
        Pressure::from_pa(libm::hypot(
            self.supply_standard.pa() * share,
            self.cylinder_standard.pa(),
        ))
    }

    /// Area of the leak over that of the restrictor, were the pressure behind it so much higher.
    fn ratio(&self, higher: Pressure) -> Option<f64> {
        let ambient = self.ambient_absolute;
        let (before, between) = (self.supply, self.cylinder + higher);
        if between >= before {
            return Some(0.0);
        }
        series_ratio(before + ambient, between + ambient, ambient)
    }
}

impl Leak {
    /// The leak behind a restrictor; none where nothing is held at all, or the restrictor cannot be.
    pub fn between(sides: &Sides, restrictor: &Restrictor, condition: Condition) -> Option<Self> {
        if !restrictor.is_sound() {
            return None;
        }
        let by = sides.between() * 2.0;
        let likely = sides.ratio(Pressure::ZERO)?;
        let warm = condition != Condition::ColdDry;
        let as_cold = restrictor.effective_mm2() * likely;
        let warmer = 1.0 + f64::from(warm) * WARMER / (1.0 + as_cold / HALF_WARMED_MM2);
        let standard = WARMER_STANDARD[usize::from(warm)];
        // A gas that is warmer where it leaves needs a larger hole.
        let unit = restrictor.effective_mm2() * libm::sqrt(warmer);
        let common = 2.0 * libm::hypot(restrictor.relative_standard(), 0.5 * standard / warmer);
        let low = sides.ratio(by)?;
        // Where the interval reaches down to nothing held, it is open: the leak may be any size.
        let high = sides.ratio(by * -1.0).unwrap_or(f64::MAX);
        // Hose and adapter throttle a large leak as well: it is larger than it looks.
        let throttled = libm::pow(unit * likely / BORE_MM2, 2.0).min(1.0);
        Some(Self {
            mm2: unit * likely,
            low_mm2: unit * below(likely, low, common),
            high_mm2: (unit * above(likely, high, libm::hypot(common, throttled))).min(MOST_MM2),
        })
    }

    /// To which share of itself it is known, to either side; none where it may be nothing.
    pub fn known_to(&self) -> Option<f64> {
        let half = 0.5 * (self.high_mm2 - self.low_mm2);
        (self.mm2 > 0.0).then_some(half / self.mm2)
    }

    /// The diameter in mm of a restrictor that tells this leak better than the one it was found behind.
    /// A leak that is lost beside that may be much smaller than it looks, and a small restrictor tells
    /// it in any case.
    pub fn better_mm(&self, behind: &Restrictor) -> Option<f64> {
        behind.better_mm(if behind.hides(self.mm2) {
            self.low_mm2
        } else {
            self.mm2
        })
    }

    /// Whether two leaks can be the same: they lie no further apart than both uncertainties ask for.
    pub fn agrees_with(&self, other_mm2: f64, other_expanded_mm2: f64) -> bool {
        let reach = if other_mm2 > self.mm2 {
            self.high_mm2 - self.mm2
        } else {
            self.mm2 - self.low_mm2
        };
        (other_mm2 - self.mm2).abs() <= libm::hypot(reach, other_expanded_mm2)
    }
}

/// Effective area of hose and adapter, bored 5 mm, mm². Own estimate.
const BORE_MM2: f64 = 15.0;
/// No leak that a restrictor could tell is larger.
const MOST_MM2: f64 = 1e4;

/// The lower end, from that by the pressures and the relative uncertainty common to all.
fn below(likely: f64, low: f64, common: f64) -> f64 {
    if low <= 0.0 || likely <= 0.0 {
        return 0.0;
    }
    likely * libm::exp(-libm::hypot(libm::log(likely / low), common))
}

fn above(likely: f64, high: f64, common: f64) -> f64 {
    if likely <= 0.0 {
        return high * libm::exp(common);
    }
    likely * libm::exp(libm::hypot(libm::log(high / likely), common))
}
