//! What is said of tests with air: the one place where it is worded.

use super::{AirFlag, AirTest, DecayResult, Filled, Held, Leak, Place, Restrictor, Stage};
use crate::engine::flow::series_ratio;
use crate::units::{Pressure, PressureUnit, Time};

/// Above this leakage a cylinder is suspect: "in excess of 25 %". AC 43.13-1B, paragraph 8-14.
pub const MOST_LOSS: f64 = 0.25;

/// The restrictor with which that leakage is meant: 0.040 in, bores under 5.00 in. AC 43.13-1B,
/// paragraph 8-14.
const LIMIT_RESTRICTOR_MM: f64 = 1.016;
/// A restrictor so close to it is taken for it: 1.0 mm is (own choice).
const SAME_RESTRICTOR: f64 = 0.03;

/// A leak area with its 95 % interval.
pub fn leak(leak: &Leak) -> String {
    let digits = |mm2: f64| match mm2 {
        m if m < 0.001 => "0.001".to_owned(),
        m if m < 0.0995 => format!("{m:.3}"),
        m if m < 9.95 => format!("{m:.2}"),
        m => format!("{m:.1}"),
    };
    if leak.low_mm2 <= 0.0 {
        return format!("at most {} mm²", digits(leak.high_mm2));
    }
    format!(
        "{} mm² (95 %: {} to {})",
        digits(leak.mm2),
        digits(leak.low_mm2),
        digits(leak.high_mm2)
    )
}

/// Where the piston stands.
pub const fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Supply => "supply",
        Stage::Top => "at the top",
        Stage::Before => "a little before the top",
        Stage::After => "a little after the top",
        Stage::Shut => "air shut off",
    }
}

/// Supply over cylinder as the trade writes it: `80/63`.
pub fn pair(held: &Held, unit: PressureUnit) -> String {
    let whole = unit.pascals() <= Pressure::new(1.0, PressureUnit::Psi).pa();
    let digits = |pressure: Pressure| {
        if whole {
            format!("{:.0}", pressure.to(unit).max(0.0))
        } else {
            pressure.digits(unit)
        }
    };
    format!(
        "{}/{} {unit}",
        digits(held.supply),
        digits(held.plateau.level)
    )
}

/// What a connected cylinder held, in a sentence.
pub fn held(held: &Held, unit: PressureUnit) -> String {
    let area = held.leak.as_ref().map_or_else(
        || "more leaks than can be told".to_owned(),
        |found| format!("effective leak {}", leak(found)),
    );
    let rounds = match held.rounds {
        0 => String::new(),
        1 => ", both sides read in turn once".to_owned(),
        n => format!(", both sides read in turn {n} times"),
    };
    format!(
        "{}{rounds}: {:.1} % ± {:.1} % lost ({}), {area}",
        stage(held.stage),
        held.loss * 100.0,
        held.loss_expanded * 100.0,
        pair(held, unit)
    )
}

/// Where air is heard.
pub fn heard(places: &[Place]) -> String {
    match places {
        [] => String::new(),
        [Place::Nowhere] => "Air is heard nowhere.".to_owned(),
        [loudest] => format!("Air is heard at {}.", loudest.said()),
        [loudest, rest @ ..] => {
            let rest: Vec<&str> = rest.iter().map(|place| place.said()).collect();
            format!(
                "Air is heard at {}, and less at {}.",
                loudest.said(),
                rest.join(" and ")
            )
        }
    }
}

/// How a shut-off pressure fell.
pub fn decay(result: &DecayResult, unit: PressureUnit) -> String {
    let fell = format!(
        "from {} to {} in {:.0} s",
        result.from.show(unit),
        result.to.show(unit),
        result.watched.s()
    );
    let constant = match result.time_constant {
        Some(time) => format!("time constant {}", span(time)),
        None => "no fall beyond what the sensor can tell".to_owned(),
    };
    match &result.leak {
        Some(found) => format!("{fell}; {constant}; effective leak {}", leak(found)),
        None => format!("{fell}; {constant}"),
    }
}

fn span(time: Time) -> String {
    match time.s() {
        s if s < 9.95 => format!("{s:.1} s"),
        s if s < 600.0 => format!("{s:.0} s"),
        s => format!("{:.0} min", s / 60.0),
    }
}

/// What is to be said of a test, and what to do.
pub fn flag(flag: AirFlag) -> String {
    let said = match flag {
        AirFlag::RestrictorDoesNotSuit { take_mm } => {
            return format!(
                "this restrictor does not suit a leak of this size: a restrictor of {take_mm} mm tells \
                 it better"
            );
        }
        AirFlag::NoSupply {} => {
            "the supply was not read: read it first, with the cylinder's side shut"
        }
        AirFlag::Wanders { .. } => {
            "the pressure does not come to rest: see to the regulator and to the hose, and wait for \
             the compressor to stop"
        }
        AirFlag::FellAway { .. } => {
            "the pressure fell away: the air pushed the piston off the top, or the tester was taken \
             off. Shut the air off before anything is touched; back up half a turn or more and come \
             to the top again in the direction in which the engine turns"
        }
        AirFlag::HoldsNothing { .. } => {
            "next to nothing is held: see that the piston is at the top of its compression stroke \
             (both valves shut), that the adapter is tight, and listen where it goes"
        }
        AirFlag::SupplyMoved {} => {
            "the supply was not the same before and after: the regulator drifts, repeat the test"
        }
        AirFlag::BeyondRange {} => {
            "the pressure was at the end of the sensor's range: turn the supply down"
        }
    };
    said.to_owned()
}

/// A test in a few sentences.
pub fn test(test: &AirTest, unit: PressureUnit) -> Vec<String> {
    let mut said = Vec::new();
    match test {
        AirTest::LeakDown {
            cylinder,
            condition,
            restrictor,
            held: all,
            heard: places,
            ..
        } => {
            let about = format!(
                "Leak-down, cylinder {cylinder}, {}, restrictor {:.2} mm",
                condition.label(),
                restrictor.diameter_mm
            );
            if all.is_empty() {
                said.push(format!("{about}: nothing was read."));
            }
            for one in all {
                said.push(format!("{about}, {}.", held(one, unit)));
            }
            if let Some(top) = test.at_top() {
                said.push(limit(top, restrictor).to_owned());
            }
            if !places.is_empty() {
                said.push(heard(places));
            }
        }
        AirTest::Decay {
            filled,
            cylinder,
            result,
            ..
        } => {
            let what = match (filled, cylinder) {
                (Filled::Tester, _) => "tester".to_owned(),
                (Filled::Cylinder, Some(name)) => format!("cylinder {name}"),
                (Filled::Cylinder, None) => "cylinder".to_owned(),
            };
            said.push(match result {
                Some(result) => format!("Decay, {what}: {}.", decay(result, unit)),
                None => {
                    format!("Decay, {what}: it was not filled, shut off and watched long enough.")
                }
            });
            said.extend(tightness(test));
        }
    }
    let flags = test.flags().iter();
    said.extend(flags.map(|one| {
        let text = flag(*one);
        let (first, rest) = text.split_at(1);
        format!("{}{rest}.", first.to_uppercase())
    }));
    said
}

/// Whether the tester is tight, where that was measured.
fn tightness(test: &AirTest) -> Option<String> {
    let (lost, watched) = test.lost_by_tester()?;
    // A resting sensor's noise may say that it gained.
    let percent = match lost * 100.0 {
        little if little < 0.05 => "less than 0.1".to_owned(),
        percent => format!("{percent:.1}"),
    };
    let lost = format!("it lost {percent} % in {:.0} s", watched.s());
    Some(match test.tester_is_tight() {
        Some(true) => format!("The tester is tight: {lost} (own rule: 2 % at most)."),
        Some(false) => format!(
            "The tester leaks: {lost} (own rule: under 5 %). See to its joints and its valve and \
             measure again before anything is read with it."
        ),
        None => format!(
            "Whether the tester is tight is not told: {lost} (own rule: 2 % at most in 15 s or more \
             is tight, 5 % leaks)."
        ),
    })
}

/// What is held at the top, beside the published limit; with its uncertainty.
///
/// The limit is written for one restrictor: behind another the same leak loses another share, and it is
/// the leak that is compared.
fn limit(top: &Held, restrictor: &Restrictor) -> &'static str {
    let off = restrictor.diameter_mm / LIMIT_RESTRICTOR_MM - 1.0;
    if off.abs() <= SAME_RESTRICTOR {
        let over = top.loss - MOST_LOSS;
        let close = over.abs() <= top.loss_expanded && over != 0.0;
        return match (close, over > 0.0) {
            (true, _) => {
                "Too close to the limit of 25 % to call (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
            }
            (_, true) => {
                "That is over 25 %: suspect (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
            }
            (_, false) => {
                "That is within 25 % (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
            }
        };
    }
    let most = most_leak_mm2(restrictor);
    match top.leak {
        Some(leak) if leak.high_mm2 <= most => {
            "Behind the restrictor of 0.040 in (1.02 mm) for which the limit is written it would lose \
             less than 25 %: within it (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
        }
        Some(leak) if leak.low_mm2 <= most => {
            "Behind the restrictor of 0.040 in (1.02 mm) for which the limit of 25 % is written it is \
             too close to call (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
        }
        _ => {
            "Behind the restrictor of 0.040 in (1.02 mm) for which the limit is written it would lose \
             more than 25 %: suspect (AC 43.13-1B, paragraph 8-14, for aircraft engines)."
        }
    }
}

/// The effective leak that loses [`MOST_LOSS`] of 80 psi behind the restrictor that the limit is written
/// for, made like this one.
fn most_leak_mm2(restrictor: &Restrictor) -> f64 {
    let supply = Pressure::new(80.0, PressureUnit::Psi);
    let ambient = Pressure::ATMOSPHERE;
    let held = supply * (1.0 - MOST_LOSS);
    let written_for = Restrictor {
        diameter_mm: LIMIT_RESTRICTOR_MM,
        coefficient: restrictor.coefficient,
    };
    let ratio = series_ratio(supply + ambient, held + ambient, ambient);
    written_for.effective_mm2() * ratio.unwrap_or(0.0)
}
