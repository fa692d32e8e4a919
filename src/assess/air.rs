//! Which tests with air count.

use super::results::ValveSide;
use crate::leakdown::{AirFlag, AirTest, Held, Place, Stage};

/// The last leak-down test of each cylinder that held something with the piston at the top; one in
/// which the pressure fell away only where there is no other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Aired<'a> {
    /// What was held.
    pub(super) held: &'a Held,
    /// Where air was heard, the loudest first.
    pub(super) heard: &'a [Place],
}

impl Aired<'_> {
    /// Which valve is meant, where air was heard at one of them.
    pub(super) fn side(&self) -> Option<ValveSide> {
        match self.heard.first()? {
            Place::Intake => Some(ValveSide::Intake),
            Place::Exhaust => Some(ValveSide::Exhaust),
            _ => None,
        }
    }
}

/// The test that counts for the cylinder of this name.
pub(super) fn of<'a>(air: &'a [AirTest], name: &str) -> Option<Aired<'a>> {
    let of_it = || air.iter().rev().filter_map(|test| aired(test, name));
    let sound = of_it().find(|(_, fell_away)| !fell_away);
    sound.or_else(|| of_it().next()).map(|(aired, _)| aired)
}

/// A test of the cylinder of this name, and whether the pressure fell away in it.
fn aired<'a>(test: &'a AirTest, name: &str) -> Option<(Aired<'a>, bool)> {
    let AirTest::LeakDown {
        cylinder, heard, ..
    } = test
    else {
        return None;
    };
    let held = test.at_top().filter(|_| cylinder == name)?;
    let away = AirFlag::FellAway { stage: Stage::Top };
    Some((Aired { held, heard }, test.flags().contains(&away)))
}

/// Whether the tester holds, as it was measured last; none if nobody did.
pub(super) fn tester_is_tight(air: &[AirTest]) -> Option<bool> {
    air.iter().rev().find_map(AirTest::tester_is_tight)
}
