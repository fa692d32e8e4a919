//! How much oil a cylinder may be given for a wet run.
//!
//! Oil does not compress. Whatever lies in the chamber when the piston comes up takes room from
//! the air, and where it fills the chamber the piston stops dead (hydraulic lock) and bends its
//! rod. Hence a tenth of the chamber, far from that, and a teaspoon at the most (both our choice:
//! service manuals print up to a tablespoon, 15 cm³, for large cylinders).

use super::{EngineSpec, Geometry};

/// Most oil as a share of the chamber at top dead centre.
const SHARE_OF_CHAMBER: f64 = 0.1;
/// Most oil for a cylinder and visit, whatever its chamber, in cm³.
pub const MOST_CM3: f64 = 5.0;
/// The smallest chamber that is thought of where the card does not give it, in cm³: that of a
/// 50 cm³ cylinder at 11 to 1.
const SMALLEST_CHAMBER_CM3: f64 = 5.0;
/// A metric teaspoon, in cm³.
const TEASPOON_CM3: f64 = 5.0;
/// A drop, in cm³: twenty make a millilitre, as with water; one of oil is smaller. (Common
/// practice, no source.)
const DROP_CM3: f64 = 0.05;
/// Less than this nobody can measure, in cm³.
const LEAST_CM3: f64 = 0.1;
/// How the most is found by hand, where the card does not let compute it.
pub const BY_HAND: &str = "a tenth of the chamber, which is the swept volume of one cylinder \
                           divided by (compression ratio - 1)";

/// Volume of the bare chamber in cm³; none unless bore, stroke and compression ratio are there.
pub fn chamber_cm3(engine: &EngineSpec) -> Option<f64> {
    Some(Geometry::of(engine)?.clearance_m3() * 1e6)
}

/// The most oil in cm³ that a cylinder with this chamber may be given in one visit; without a
/// chamber, what the smallest engine bears.
pub fn most_cm3(chamber_cm3: Option<f64>) -> f64 {
    (chamber_cm3.unwrap_or(SMALLEST_CHAMBER_CM3) * SHARE_OF_CHAMBER).clamp(0.0, MOST_CM3)
}

/// What a cylinder is given: as much as the card says, as far as that is not too much. In cm³, in
/// whole tenths; none where the chamber is too small for oil that can be measured.
pub fn dose_cm3(chamber_cm3: Option<f64>, asked_cm3: Option<f64>) -> Option<f64> {
    let most = most_cm3(chamber_cm3);
    let dose = rounded_down(asked_cm3.map_or(most, |asked| asked.min(most)));
    (dose >= LEAST_CM3).then_some(dose)
}

/// `3 ml`, in tenths.
pub fn amount(cm3: f64) -> String {
    let text = format!("{:.1}", rounded_down(cm3));
    format!("{} ml", text.strip_suffix(".0").unwrap_or(&text))
}

/// `half a teaspoon`, or so many drops: what anyone can measure, and never more than the number
/// given.
pub fn share(cm3: f64) -> String {
    let spoons = [
        (1.0, "a teaspoon"),
        (0.75, "three quarters of a teaspoon"),
        (0.5, "half a teaspoon"),
        (0.25, "a quarter of a teaspoon"),
        (0.125, "an eighth of a teaspoon"),
    ];
    let spoon = spoons.iter().find(|(share, _)| cm3 >= share * TEASPOON_CM3);
    match spoon {
        Some((_, words)) => (*words).to_owned(),
        None => format!("{:.0} drops", (cm3 / DROP_CM3 + 1e-6).floor()),
    }
}

/// `3 ml (half a teaspoon)`: never more than the number given.
pub fn measured(cm3: f64) -> String {
    format!("{} ({})", amount(cm3), share(cm3))
}

/// In whole tenths of a cm³.
fn rounded_down(cm3: f64) -> f64 {
    // The least more, so that 1.4 stays 1.4.
    (cm3 * 10.0 + 1e-6).floor() / 10.0
}
