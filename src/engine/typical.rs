//! Compression ratios and bores that are typical of a kind of engine and its time, for someone who
//! does not know those of his own. No verdict is founded on them unless he puts one on the card.

use super::{Cycle, Ignition};

/// On what the figures rest.
pub const SOURCE: &str = "common practice, no source";

/// What a kind of engine of some time usually has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Typical {
    /// The kind of engine, and its time.
    pub engine: &'static str,
    /// Its cycle.
    pub cycle: Cycle,
    /// What lights its mixture.
    pub ignition: Ignition,
    /// Compression ratio, lowest and highest; of a two-stroke over the full stroke.
    pub ratio: (f64, f64),
    /// Bore in millimetres, lowest and highest.
    pub bore_mm: (f64, f64),
}

const fn four(engine: &'static str, ratio: (f64, f64), bore_mm: (f64, f64)) -> Typical {
    Typical {
        engine,
        cycle: Cycle::FourStroke,
        ignition: Ignition::Spark,
        ratio,
        bore_mm,
    }
}

const fn two(engine: &'static str, ratio: (f64, f64), bore_mm: (f64, f64)) -> Typical {
    Typical {
        cycle: Cycle::TwoStroke,
        ..four(engine, ratio, bore_mm)
    }
}

const fn diesel(engine: &'static str, ratio: (f64, f64), bore_mm: (f64, f64)) -> Typical {
    Typical {
        ignition: Ignition::Compression,
        ..four(engine, ratio, bore_mm)
    }
}

/// The figures, by kind and decade; all of them [`SOURCE`].
pub const TYPICAL: [Typical; 12] = [
    four(
        "car or tractor, side valves, to the 1940s",
        (4.5, 6.5),
        (65.0, 95.0),
    ),
    four("car, 1950s", (6.5, 8.0), (60.0, 90.0)),
    four("car, 1960s to 1980s", (8.0, 9.5), (65.0, 95.0)),
    four("car, 1990s and later", (9.0, 11.5), (70.0, 95.0)),
    four("motorcycle, to the 1950s", (5.5, 7.5), (55.0, 85.0)),
    four("motorcycle, 1960s and later", (8.5, 11.5), (40.0, 90.0)),
    four(
        "pump, mower or generator, side valves, to the 1980s",
        (5.5, 6.5),
        (55.0, 80.0),
    ),
    four(
        "pump, mower or generator, overhead valves, 1990s and later",
        (7.5, 9.0),
        (55.0, 90.0),
    ),
    two(
        "moped of 50 cm³, or pump, to the 1960s",
        (5.5, 8.0),
        (38.0, 50.0),
    ),
    two(
        "moped, motorcycle or saw, 1970s and later",
        (8.0, 13.0),
        (36.0, 60.0),
    ),
    diesel(
        "tractor or truck, direct injection",
        (15.0, 18.0),
        (90.0, 130.0),
    ),
    diesel(
        "car or small diesel with a prechamber, to the 1990s",
        (19.0, 23.0),
        (65.0, 95.0),
    ),
];

/// Those of engines that work like this one.
pub fn of(cycle: Cycle, ignition: Ignition) -> impl Iterator<Item = &'static Typical> {
    let alike = move |one: &&Typical| one.cycle == cycle && one.ignition == ignition;
    TYPICAL.iter().filter(alike)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_range_is_the_right_way_round_and_an_engine_can_have_it() {
        for one in TYPICAL {
            let ((low, high), (narrow, wide)) = (one.ratio, one.bore_mm);
            assert!(4.0 < low && low < high && high < 25.0, "{}", one.engine);
            assert!(
                30.0 < narrow && narrow < wide && wide < 200.0,
                "{}",
                one.engine
            );
        }
    }

    #[test]
    fn diesels_are_not_offered_for_petrol_engines() {
        let four = of(Cycle::FourStroke, Ignition::Spark);
        assert!(four.map(|one| one.ratio.1).fold(0.0, f64::max) < 14.0);
        assert!(of(Cycle::TwoStroke, Ignition::Spark).count() > 0);
    }
}
