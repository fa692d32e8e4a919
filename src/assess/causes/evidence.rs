//! Evidence for and against a cause in plain words, with the numbers behind it.
//!
//! A piece of evidence is weighed by leaving it out: by how much the odds of the cause would be
//! other had it not been observed.

use super::features::{Feature, Group, Observed, lowest_neighbour, seen};
use crate::assess::case::Case;
use crate::assess::change::{dry_beside_wet, wet_gain};
use crate::assess::level::card_doubted;
use crate::assess::results::CauseKind;

/// Evidence is named where leaving it out would change the odds of the cause by this factor:
/// natural logarithm of 1.5.
const TELLING: f64 = 0.405_465_108_108_164_4;
/// A speed that differs by less from that of the others, or from the usual, is the same speed (5 %, as a logarithm).
const SAME_SPEED: f64 = 0.05;
/// A first stroke whose share differs by less from that of the others is the same (own choice).
const SAME_FIRST: f64 = 0.05;

/// Sentences for and against. `with` is the probability of the cause by all that was observed,
/// `without` those with each group of it left out.
pub(super) fn weigh(
    case: &Case<'_>,
    at: usize,
    kind: CauseKind,
    observed: &Observed,
    with: f64,
    without: &[(Group, f64)],
) -> (Vec<String>, Vec<String>) {
    let mut weighed: Vec<(f64, String)> = without
        .iter()
        .filter(|(group, _)| concerns(*group, kind))
        .filter_map(|(group, without)| {
            let weight = log_odds(with) - log_odds(*without);
            let telling = weight.is_finite() && weight.abs() >= TELLING;
            telling.then(|| Some((weight, sentence(case, at, kind, *group, observed)?)))?
        })
        .collect();
    weighed.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    let (speaks_for, speaks_against): (Vec<_>, Vec<_>) =
        weighed.into_iter().partition(|(weight, _)| *weight > 0.0);
    let texts = |list: Vec<(f64, String)>| list.into_iter().map(|(_, text)| text).collect();
    (texts(speaks_for), texts(speaks_against))
}

/// Logarithm of the odds, within what a model can know.
fn log_odds(probability: f64) -> f64 {
    let p = probability.clamp(1e-4, 1.0 - 1e-4);
    libm::log(p / (1.0 - p))
}

/// What a neighbour reads speaks of the gasket between the two; for any other cause a cylinder is
/// held against the best one and against the card.
fn concerns(group: Group, kind: CauseKind) -> bool {
    kind == CauseKind::Gasket || group != Group::Neighbours
}

/// A factor from a logarithm as "12 % below" or "3 % above".
fn beside(log: f64) -> String {
    let share = percent(log);
    if share.abs() < 0.5 {
        "the same as".to_owned()
    } else if share < 0.0 {
        format!("{:.0} % below", -share)
    } else {
        format!("{share:.0} % above")
    }
}

/// What was observed, in a sentence.
fn sentence(
    case: &Case<'_>,
    at: usize,
    kind: CauseKind,
    group: Group,
    observed: &Observed,
) -> Option<String> {
    let name = case.name(at);
    let value = |feature| seen(observed, feature);
    let text = match group {
        Group::Expected => {
            let of_all = matches!(
                kind,
                CauseKind::ValveTiming
                    | CauseKind::ThrottleShut
                    | CauseKind::SlowCranking
                    | CauseKind::TesterLeak
            );
            match value(Feature::Relative).and(value(Feature::Best)) {
                Some(best) if of_all => format!(
                    "The best cylinder reads {} what this engine should give.",
                    beside(best)
                ),
                _ => format!(
                    "Cylinder {name} reads {} what this engine should give.",
                    beside(value(Feature::Level)?)
                ),
            }
        }
        Group::Others => match value(Feature::Relative)? {
            alike if percent(alike).abs() < 0.5 => {
                format!("Cylinder {name} reads the same as the best of the others.")
            }
            above if above >= 0.0 => format!(
                "Cylinder {name} is the highest, {} the next.",
                beside(above)
            ),
            below => format!(
                "Cylinder {name} reads {} the best of the others.",
                beside(below)
            ),
        },
        Group::Neighbours => {
            let neighbour = case.name(lowest_neighbour(case, at)?);
            let level = value(Feature::Neighbour)?;
            let place = if level >= 0.0 {
                "is the best cylinder".to_owned()
            } else {
                format!("reads {} the best cylinder", beside(level))
            };
            format!(
                "Its neighbour {neighbour} {place}; cylinder {name} reads {} that neighbour.",
                beside(value(Feature::NeighbourGap)?)
            )
        }
        Group::Oil => wet_sentence(case, at)?,
        Group::OilOfOthers => {
            let (least, most) = (
                percent(value(Feature::WetOthersLeast)?),
                percent(value(Feature::WetOthersMost)?),
            );
            format!(
                "Beyond what its volume explains, oil changed the other cylinders by {least:+.0} % \
                 to {most:+.0} %."
            )
        }
        Group::BuildUp => format!(
            "The first stroke of cylinder {name} reached {:.0} % of its plateau.",
            value(Feature::First)? * 100.0
        ),
        Group::FirstOfOthers => {
            let other = value(Feature::FirstRelative).filter(|by| by.abs() >= SAME_FIRST)?;
            format!(
                "The first stroke's share of cylinder {name} is {:+.0} points from that of the \
                 others.",
                other * 100.0
            )
        }
        Group::Droop => format!(
            "The held reading falls by {:.2} % a second when nobody cranks.",
            libm::exp(value(Feature::Droop)?) * 100.0
        ),
        Group::Cadence => {
            let other = value(Feature::Cadence).filter(|by| by.abs() >= SAME_SPEED)?;
            format!(
                "It was turned at {:.0} crank turns a minute, {} the usual.",
                case.dry_entry(at)?.crank?.per_min(),
                beside(other)
            )
        }
        Group::CadenceOfOthers => {
            let other = value(Feature::CadenceRelative).filter(|by| by.abs() >= SAME_SPEED)?;
            format!(
                "Cylinder {name} was turned at a speed {} that of the others.",
                beside(other)
            )
        }
        Group::Warmth => format!(
            "Cylinder {name} reads {} its cold reading when warm.",
            beside(value(Feature::Warmth)?)
        ),
    };
    Some(text)
}

/// A logarithm of a ratio as a change in per cent.
fn percent(log: f64) -> f64 {
    (libm::exp(log) - 1.0) * 100.0
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
        CauseKind::HighCompression if case.cylinders.len() > 1 && card_doubted(case).is_some() => {
            "Consistent with a compression ratio or a timing that the card has wrong, or with \
             deposits in every cylinder: all read more than the card lets expect."
                .to_owned()
        }
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
