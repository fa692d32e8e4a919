//! Evidence for and against a cause in plain words, with the numbers behind it.

use super::features::{Feature, Observed, lowest_neighbour};
use super::likelihood::CauseModel;
use crate::assess::case::Case;
use crate::assess::change::{dry_beside_wet, wet_gain};
use crate::assess::results::CauseKind;

/// A feature is named where its likelihood is this many times greater (or smaller) under the
/// cause than under all others together: natural logarithm of 2.
const TELLING: f64 = core::f64::consts::LN_2;

/// Sentences for and against.
pub(super) fn weigh(
    case: &Case<'_>,
    at: usize,
    kind: CauseKind,
    observed: &[Observed],
    model: &CauseModel,
    permitted: &impl Fn(CauseKind) -> bool,
) -> (Vec<String>, Vec<String>) {
    let mut weighed: Vec<(f64, String)> = observed
        .iter()
        .filter_map(|one| {
            let weight = weight(model, *one, kind, permitted);
            let telling = weight.is_finite() && weight.abs() >= TELLING;
            let told = telling && concerns(*one, kind);
            told.then(|| Some((weight, sentence(case, at, *one)?)))?
        })
        .collect();
    weighed.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    let (speaks_for, speaks_against): (Vec<_>, Vec<_>) =
        weighed.into_iter().partition(|(weight, _)| *weight > 0.0);
    let texts = |list: Vec<(f64, String)>| list.into_iter().map(|(_, text)| text).collect();
    (texts(speaks_for), texts(speaks_against))
}

/// Rings-or-valve is weighed by whichever of the two the feature suits better.
fn weight(
    model: &CauseModel,
    one: Observed,
    kind: CauseKind,
    permitted: &impl Fn(CauseKind) -> bool,
) -> f64 {
    let of = |kind: CauseKind| model.weight_of(one, kind, permitted);
    match kind {
        CauseKind::RingsOrValve => of(CauseKind::Rings).max(of(CauseKind::Valve)),
        kind => of(kind),
    }
}

/// What a neighbour reads speaks of the gasket between the two; for any other cause a cylinder is
/// held against the best one and against the card.
fn concerns(one: Observed, kind: CauseKind) -> bool {
    kind == CauseKind::Gasket || !matches!(one.feature, Feature::Neighbour | Feature::NeighbourGap)
}

/// A factor from a logarithm as "12 % below" or "3 % above".
fn beside(log: f64) -> String {
    let share = (libm::exp(log) - 1.0) * 100.0;
    if share < 0.0 {
        format!("{:.0} % below", -share)
    } else {
        format!("{share:.0} % above")
    }
}

/// What was observed, in a sentence.
fn sentence(case: &Case<'_>, at: usize, one: Observed) -> Option<String> {
    let name = case.name(at);
    let text = match one.feature {
        Feature::Relative if one.value >= 0.0 => {
            let others = if one.value > 0.0 {
                format!(", {} the next", beside(one.value))
            } else {
                String::new()
            };
            format!("Cylinder {name} is the highest{others}.")
        }
        Feature::Relative => format!(
            "Cylinder {name} reads {} the best of the others.",
            beside(one.value)
        ),
        Feature::Common => format!(
            "The best cylinder reads {} what this engine should give.",
            beside(one.value)
        ),
        Feature::Alone => format!(
            "Cylinder {name} reads {} what this engine should give.",
            beside(one.value)
        ),
        Feature::Wet => wet_sentence(case, at)?,
        Feature::FirstHeld | Feature::FirstFollowed => format!(
            "The first stroke of cylinder {name} reached {:.0} % of its plateau.",
            one.value * 100.0
        ),
        Feature::FirstRelative => format!(
            "The first stroke's share of cylinder {name} is {:+.0} points from that of the others.",
            one.value * 100.0
        ),
        Feature::Neighbour => {
            let neighbour = lowest_neighbour(case, at)?;
            format!(
                "Its neighbour {} reads {} the best cylinder.",
                case.name(neighbour),
                beside(one.value)
            )
        }
        Feature::NeighbourGap => {
            let neighbour = lowest_neighbour(case, at)?;
            format!(
                "Cylinder {name} reads {} its neighbour {}.",
                beside(one.value),
                case.name(neighbour)
            )
        }
        Feature::Warmth => format!(
            "Cylinder {name} reads {} its cold reading when warm.",
            beside(one.value)
        ),
        Feature::Droop => format!(
            "The held reading falls by {:.2} % a second when nobody cranks.",
            libm::exp(one.value) * 100.0
        ),
        Feature::Cadence => format!(
            "It was turned at {:.0} crank turns a minute, {} the usual.",
            case.dry_entry(at)?.crank?.per_min(),
            beside(one.value)
        ),
        Feature::CadenceRelative => format!(
            "Cylinder {name} was turned at a speed {} that of the others.",
            beside(one.value)
        ),
    };
    Some(text)
}

fn wet_sentence(case: &Case<'_>, at: usize) -> Option<String> {
    let gain = wet_gain(case, at)?;
    let (_, dry) = dry_beside_wet(&case.cylinders.get(at)?.entries)?;
    let share = gain.rise / dry.value * 100.0;
    let name = case.name(at);
    Some(match gain.by_volume_most {
        Some(most) => format!(
            "Oil changed cylinder {name} by {share:+.0} %, of which the oil's own volume explains \
             up to {:.0} %.",
            most / dry.value * 100.0
        ),
        None => format!(
            "Oil changed cylinder {name} by {share:+.0} %; the card does not let the part of the \
             oil's own volume be computed."
        ),
    })
}

/// What a cause is, worded as what the readings are consistent with.
pub(super) fn statement(case: &Case<'_>, at: usize, kind: CauseKind) -> String {
    let name = case.name(at);
    match kind {
        CauseKind::Healthy => format!("Consistent with a healthy cylinder {name}."),
        CauseKind::Rings => {
            format!("Consistent with worn or stuck rings, or a worn bore, in cylinder {name}.")
        }
        CauseKind::Valve => format!(
            "Consistent with an intake or exhaust valve of cylinder {name} that does not seal, or \
             a gasket leaking outwards: the readings do not tell which."
        ),
        CauseKind::Gasket => {
            let other = lowest_neighbour(case, at).map_or("its neighbour", |n| case.name(n));
            let (first, second) = match lowest_neighbour(case, at) {
                Some(n) if n < at => (other, name),
                _ => (name, other),
            };
            format!("Consistent with a head gasket leaking between cylinders {first} and {second}.")
        }
        CauseKind::RingsOrValve => format!(
            "Consistent with a leak of cylinder {name} at rings or a valve; without a wet run the \
             two are not told apart."
        ),
        CauseKind::HighCompression => format!(
            "Consistent with deposits in cylinder {name}, or less clearance than the card says."
        ),
        CauseKind::ValveTiming => "Consistent with a worn cam or wrong valve timing: every \
                                   cylinder is low alike."
            .to_owned(),
        CauseKind::ThrottleShut => {
            "Consistent with a throttle (or choke) that was shut during the test.".to_owned()
        }
        CauseKind::SlowCranking => {
            "Consistent with an engine that was turned too slowly.".to_owned()
        }
        CauseKind::TesterLeak => {
            "Consistent with a tester that leaks at its seal, hose or check valve.".to_owned()
        }
    }
}
