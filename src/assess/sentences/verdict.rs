//! The verdict.

use super::causes;
use super::shown::{Units, decimals, listed, percent};
use crate::assess::results::{Judgement, Origin};
use crate::assess::saying::{Figure, Ground, Reached, Read, Ruling, Share, Suspicion};

/// The verdict, with cylinder, reading, limit and where the limit comes from.
pub(super) fn ruling(ruling: &Ruling, units: Units) -> String {
    match ruling {
        Ruling::Unread { wet: true } => {
            "There are only wet readings: nothing can be judged without a dry one.".to_owned()
        }
        Ruling::Unread { wet: false } => {
            "There is no usable reading: nothing can be judged.".to_owned()
        }
        Ruling::Reached(reached) => self::reached(reached, units),
    }
}

fn reached(reached: &Reached, units: Units) -> String {
    let mut parts = vec![main(reached, units)];
    if reached.judgement == Judgement::Fail && !reached.missing.is_empty() {
        parts.push(format!(
            "No usable dry reading: {}.",
            listed(&reached.missing)
        ));
    }
    if let Some(own) = &reached.beside {
        parts.push(format!("Beside that, {}.", ground(own, units)));
    }
    if reached.card_doubted {
        parts.push(
            "They are higher than the card predicts, and no leak does that: the card is wrong, or \
             there are deposits."
                .to_owned(),
        );
    }
    if let Some((cause, probability)) = &reached.cause {
        parts.push(trouble(cause, *probability, reached.test_fault));
    }
    parts.join(" ")
}

fn main(reached: &Reached, units: Units) -> String {
    let by = reached.by.as_ref();
    let by = by.map_or_else(String::new, |by| format!(": {}", ground(by, units)));
    let (low, missing) = (&reached.low, &reached.missing);
    match reached.judgement {
        Judgement::Pass if reached.several => format!("Every cylinder is within the limits{by}."),
        Judgement::Pass => format!("Within the limits{by}."),
        Judgement::Fail if low.is_empty() => format!("Outside a limit{by}."),
        Judgement::Fail => {
            let (fails, by) = match low.as_slice() {
                [only] => ("fails", by.replacen(&format!("cylinder {only}"), "it", 1)),
                _ => ("fail", by),
            };
            format!("{} {fails}{by}.", capital(&listed(low)))
        }
        Judgement::Unconfirmed => {
            let who = if reached.several {
                "All cylinders are low alike"
            } else {
                "Low"
            };
            let test = if reached.throttle {
                "throttle, starter or tester"
            } else {
                "starter or tester"
            };
            format!(
                "{who}, not confirmed{by}. Nothing rules out {test}: repeat it before anything is \
                 condemned."
            )
        }
        Judgement::TooCloseToCall => format!("Too close to call{by}."),
        Judgement::Incomplete if missing.is_empty() => {
            format!("Incomplete: a needle was still climbing when cranking ended{by}.")
        }
        Judgement::Incomplete => format!(
            "Incomplete: no usable dry reading of {}. What was read is not outside a limit{by}.",
            listed(missing)
        ),
        Judgement::NotJudged if reached.decompressor => {
            "The readings are not judged: an automatic decompressor lets part of each stroke out, \
             and how much is not known."
                .to_owned()
        }
        Judgement::NotJudged => {
            "Not judged: there is nothing to hold the reading against, no other cylinder and no \
             card that says enough."
                .to_owned()
        }
    }
}

/// What decided, in half a sentence.
fn ground(ground: &Ground, units: Units) -> String {
    let what = match &ground.figure {
        Figure::ShareOfHighest { read, share } => format!(
            "{}, {} of the highest; at least {:.0} % is asked for",
            reads(read, units),
            part(share),
            share.limit * 100.0
        ),
        Figure::ShareOfMean { read, share } => format!(
            "{}, {} of the mean; at least {:.0} % is asked for",
            reads(read, units),
            part(share),
            share.limit * 100.0
        ),
        Figure::Spread { apart, limit } => format!(
            "the cylinders lie {} apart; at most {} is allowed",
            units.measured(*apart),
            units.show(*limit)
        ),
        Figure::AllLow { only, share } => format!(
            "{} reads {} of what a sound one of these dimensions should",
            only.as_ref()
                .map_or_else(|| "the best".to_owned(), |one| format!("cylinder {one}")),
            part(share),
        ),
        Figure::Level { read, limit } => format!(
            "{}; the limit is {} here",
            reads(read, units),
            units.show(*limit)
        ),
    };
    let by = match ground.origin {
        Origin::Card => "the job card",
        Origin::CommonPractice => "common practice",
        Origin::Published => &ground.source,
        Origin::Own => "own calculation",
    };
    format!("{what} ({by})")
}

/// "cylinder 4 reads 117 ± 2 psi".
fn reads(read: &Read, units: Units) -> String {
    let least = if read.climbing { "at least " } else { "" };
    format!(
        "cylinder {} reads {least}{}",
        read.cylinder,
        units.measured(read.reading)
    )
}

/// "88 ± 2 %".
fn part(share: &Share) -> String {
    let decimals = decimals(share.share, share.limit, 0);
    format!(
        "{:.decimals$} ± {:.0} %",
        share.share * 100.0,
        (share.standard * 200.0).max(1.0)
    )
}

/// The most probable trouble of those that are low; a matter of the test leads to its repeat.
fn trouble(cause: &Suspicion, probability: f64, test_fault: bool) -> String {
    let again = if test_fault {
        " Put the test right and repeat it."
    } else {
        ""
    };
    format!(
        "{} ({}).{again}",
        causes::suspicion(cause).trim_end_matches('.'),
        percent(probability)
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests;
