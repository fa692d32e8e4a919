//! Which tests with air count.

use super::results::ValveSide;
use crate::leakdown::{AirTest, Held, Place};

/// The last leak-down test of each cylinder that held something with the piston at the top.
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
    air.iter().rev().find_map(|test| match test {
        AirTest::LeakDown {
            cylinder, heard, ..
        } if cylinder == name => Some(Aired {
            held: test.at_top()?,
            heard,
        }),
        _ => None,
    })
}

/// Whether the tester holds, as it was measured last; none if nobody did.
pub(super) fn tester_is_tight(air: &[AirTest]) -> Option<bool> {
    air.iter().rev().find_map(AirTest::tester_is_tight)
}
