//! What a rule found.

use super::shown::{Units, decimals};
use crate::assess::results::Judgement;
use crate::assess::rules::AltitudeRule;
use crate::assess::saying::{Applied, LimitHere, Read, Share};

/// Less than this a limit has not moved with height.
const UNMOVED: f64 = 0.002;

/// A rule that was applied, and how it judged.
pub(super) fn applied(applied: &Applied, judgement: Judgement, units: Units) -> String {
    let ending = match applied {
        Applied::ShareOfHighest { .. }
        | Applied::ShareOfMean { .. }
        | Applied::Spread { .. }
        | Applied::ServiceLimit { .. }
        | Applied::ToRun { .. }
        | Applied::BelowNormal { .. }
        | Applied::AboveNormal { .. }
        | Applied::ShareOfExpected { .. }
        | Applied::MoreThanPossible { .. }
        | Applied::AllLow { .. } => ending(judgement),
        Applied::CardDoubted { .. }
        | Applied::Warmth { .. }
        | Applied::Repeat { .. }
        | Applied::TooFewStrokes { .. }
        | Applied::UnevenStrokes { .. } => "",
        Applied::Oil { .. } => of_oil(judgement),
        Applied::Neighbours { .. } => of_neighbours(judgement),
    };
    format!("{}{ending}", found(applied, units))
}

/// The end of a sentence about a limit.
const fn ending(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Pass => ": within it.",
        Judgement::Fail | Judgement::Unconfirmed => ": not within it.",
        Judgement::TooCloseToCall => ": too close to call.",
        Judgement::NotJudged | Judgement::Incomplete => ": not judged.",
    }
}

const fn of_oil(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Fail => ": clearly more than the oil takes in space: leakage past the rings.",
        Judgement::Pass => ": no clear rise: it does not leak past the rings.",
        _ => ": too close to call.",
    }
}

const fn of_neighbours(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Pass => ": that points to the gasket between them before rings or valves.",
        Judgement::Fail => ": too unlike for the gasket alone.",
        _ => ": too close to call whether they are alike.",
    }
}

#[allow(clippy::too_many_lines, reason = "a sentence for each rule")]
fn found(applied: &Applied, units: Units) -> String {
    match applied {
        Applied::ShareOfHighest {
            cylinder,
            highest,
            share,
            corrected,
        } => format!(
            "Cylinder {cylinder} reads {} of cylinder {highest}{}; the rule asks for {:.0} %",
            tenths(share),
            like(*corrected),
            share.limit * 100.0,
        ),
        Applied::ShareOfMean {
            cylinder,
            share,
            corrected,
        } => format!(
            "Cylinder {cylinder} reads {} of the mean of all{}; the rule asks for {:.0} %",
            tenths(share),
            like(*corrected),
            share.limit * 100.0,
        ),
        Applied::Spread {
            highest,
            lowest,
            apart,
            limit,
            corrected,
        } => format!(
            "Cylinders {highest} and {lowest} are {} apart{}; the rule allows {}",
            units.measured(*apart),
            like(*corrected),
            units.show(*limit),
        ),
        Applied::ServiceLimit { read, limit } => format!(
            "{}; the service limit is {}",
            reads(read, units),
            here(limit, units)
        ),
        Applied::ToRun {
            read,
            limit,
            card_instead,
        } => format!(
            "{}; at least {} is asked for{}",
            reads(read, units),
            here(limit, units),
            if *card_instead {
                "; the card's own figures apply instead"
            } else {
                ""
            }
        ),
        Applied::BelowNormal {
            read,
            margin,
            limit,
        } => format!(
            "{}; {} under the normal range, {}, points to a leak at rings, valves or gasket",
            reads(read, units),
            units.show(*margin),
            here(limit, units),
        ),
        Applied::AboveNormal {
            read,
            margin,
            limit,
        } => format!(
            "{}; more than {} over the normal range, {}, points to deposits",
            reads(read, units),
            units.show(*margin),
            here(limit, units),
        ),
        Applied::ShareOfExpected {
            read,
            share,
            likely,
        } => {
            let decimals = decimals(share.share, share.limit, 0);
            format!(
                "{}, {:.decimals$} ± {:.decimals$} % of the {} expected at this cadence; the rule asks \
                 for {:.0} %",
                reads(read, units),
                share.share * 100.0,
                share.standard * 200.0,
                units.show(*likely),
                share.limit * 100.0,
            )
        }
        Applied::MoreThanPossible { read, ratio, most } => format!(
            "{}; a compression ratio of {ratio} can give no more than {}. The card, the zero of \
             the sensor or the unit is wrong, or the chamber is full of deposits or oil",
            reads(read, units),
            units.show(*most),
        ),
        Applied::AllLow {
            cylinders,
            share,
            likely,
        } => format!(
            "{} reads {:.0} ± {:.0} % of the {} that a sound one of these dimensions should",
            match cylinders {
                1 => "The only cylinder".to_owned(),
                count => format!("The best of {count} cylinders"),
            },
            share.share * 100.0,
            share.standard * 200.0,
            units.show(*likely),
        ),
        Applied::CardDoubted {
            only,
            lowest,
            highest,
            standard,
        } => format!(
            "{}{:.0} ± {:.0} % of what the card predicts. No leak does that: the \
             card's compression ratio, timing or height is wrong, or there are deposits.",
            match only {
                Some(name) => format!("Cylinder {name} reads "),
                None => format!("Every cylinder reads {:.0} to ", lowest * 100.0),
            },
            highest * 100.0,
            standard * 200.0,
        ),
        Applied::Oil {
            cylinder,
            rise,
            by_volume_most,
            limit,
        } => format!(
            "Cylinder {cylinder} changes by {} with oil{}; the rule counts {} as a rise",
            units.measured(*rise),
            match by_volume_most {
                Some(most) => format!(
                    "; the oil's own volume explains up to {} of it",
                    units.show(*most)
                ),
                None => "; how much of it is the oil's own volume the card does not let compute"
                    .to_owned(),
            },
            units.show(*limit),
        ),
        Applied::Warmth {
            cylinder,
            rise,
            falls,
            valves,
        } => format!(
            "Cylinder {cylinder} changes by {} from cold to warm; {}.",
            units.measured(*rise),
            match (falls, valves) {
                (true, true) =>
                    "a warm cylinder that reads lower than cold is unusual: look for a tight valve \
                     clearance, or for cranking that was slower",
                (true, false) =>
                    "a warm cylinder that reads lower than cold is unusual: look for cranking that \
                     was slower",
                (false, _) =>
                    "cold lower than warm is normal: leakage and loss of heat are larger in a cold \
                     cylinder",
            }
        ),
        Applied::Repeat {
            cylinder,
            condition,
            other,
            counted,
        } => format!(
            "Cylinder {cylinder} was read more than once {}: {} and {} do not agree; the later \
             settled run counts.",
            condition.label(),
            units.measured(*other),
            units.measured(*counted),
        ),
        Applied::Neighbours {
            pair: [one, other],
            apart,
            standard,
        } => format!(
            "Neighbours {one} and {other} are both low and {:.0} ± {:.0} % apart",
            apart * 100.0,
            standard * 200.0,
        ),
        Applied::TooFewStrokes {
            cylinder,
            condition,
            strokes,
            least,
        } => format!(
            "Cylinder {cylinder} had {strokes} stroke{} {} while the needle was still climbing; at \
             least {least:.0} are asked for.",
            if *strokes == 1 { "" } else { "s" },
            condition.label(),
        ),
        Applied::UnevenStrokes {
            cylinder,
            count,
            median,
            kicked,
        } => format!(
            "Cylinder {cylinder} took {count} {} to settle, the others about {median}.",
            if *kicked { "kicks or pulls" } else { "strokes" }
        ),
    }
}

/// Where published rules come to different ends on these readings.
pub(super) fn disagreement(passed: &[(String, String)], failed: &[(String, String)]) -> String {
    let named = |rules: &[(String, String)]| {
        let rules = rules
            .iter()
            .map(|(key, source)| format!("{key} ({source})"));
        rules.collect::<Vec<_>>().join("; ")
    };
    format!(
        "Published rules do not agree on these readings. They pass: {}. They fail: {}.",
        named(passed),
        named(failed)
    )
}

/// "89.3 ± 1.2 %".
fn tenths(share: &Share) -> String {
    let decimals = decimals(share.share, share.limit, 1);
    format!(
        "{:.decimals$} ± {:.1} %",
        share.share * 100.0,
        share.standard * 200.0
    )
}

const fn like(corrected: bool) -> &'static str {
    if corrected {
        ", corrected to like conditions"
    } else {
        ""
    }
}

fn reads(read: &Read, units: Units) -> String {
    format!(
        "Cylinder {} reads {} {}{}",
        read.cylinder,
        units.measured(read.reading),
        read.condition.label(),
        if read.climbing {
            " (still climbing)"
        } else {
            ""
        },
    )
}

/// A sea-level limit as it stands here, with a note where it moved.
fn here(limit: &LimitHere, units: Units) -> String {
    let shown = units.show(limit.here);
    let factor = limit.factor;
    if (factor - 1.0).abs() < UNMOVED {
        return shown;
    }
    let ratio = match limit.by {
        AltitudeRule::DensityRatio => "density ratio",
        AltitudeRule::PressureRatio | AltitudeRule::None => "pressure ratio",
    };
    format!(
        "{shown} here ({} at sea level × {factor:.3}, {ratio})",
        units.show(limit.at_sea_level)
    )
}
