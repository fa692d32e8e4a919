//! Each judgement in words, with what decided it.

use super::*;
use crate::assess::results::CauseKind;
use crate::assess::saying::Measurement;
use crate::engine::{Condition, Display};
use crate::units::{Pressure, PressureUnit};

const UNITS: Units = Units(Display {
    unit: PressureUnit::Psi,
    also: None,
});

fn psi(value: f64) -> Pressure {
    Pressure::new(value, PressureUnit::Psi)
}

fn reached(judgement: Judgement) -> Reached {
    Reached {
        judgement,
        by: None,
        several: true,
        low: Vec::new(),
        missing: Vec::new(),
        beside: None,
        card_doubted: false,
        cause: None,
        test_fault: false,
        throttle: true,
        decompressor: false,
    }
}

fn names(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

fn said(judgement: Judgement, change: impl FnOnce(&mut Reached)) -> String {
    let mut reached = reached(judgement);
    change(&mut reached);
    ruling(&Ruling::Reached(Box::new(reached)), UNITS)
}

fn read(climbing: bool) -> Read {
    Read {
        cylinder: "4".to_owned(),
        condition: Condition::WarmDry,
        reading: Measurement {
            value: psi(117.0),
            standard: psi(1.0),
        },
        climbing,
    }
}

fn by(figure: Figure, origin: Origin) -> Ground {
    Ground {
        figure,
        origin,
        source: "a manual".to_owned(),
    }
}

fn level(climbing: bool) -> Figure {
    Figure::Level {
        read: read(climbing),
        limit: psi(130.0),
    }
}

#[test]
fn what_passes_and_what_fails() {
    assert_eq!(
        said(Judgement::Pass, |_| ()),
        "Every cylinder is within the limits."
    );
    assert_eq!(
        said(Judgement::Pass, |r| r.several = false),
        "Within the limits."
    );
    assert_eq!(said(Judgement::Fail, |_| ()), "Outside a limit.");
    let one = said(Judgement::Fail, |r| {
        r.low = names(&["4"]);
        r.by = Some(by(level(false), Origin::Card));
    });
    assert_eq!(
        one,
        "Cylinder 4 fails: it reads 117.0 ± 2.0 psi; the limit is 130.0 psi here (the job card)."
    );
    let two = said(Judgement::Fail, |r| {
        r.low = names(&["3", "4"]);
        r.by = Some(by(level(true), Origin::Published));
    });
    assert_eq!(
        two,
        "Cylinders 3 and 4 fail: cylinder 4 reads at least 117.0 ± 2.0 psi; the limit is 130.0 psi here (a manual)."
    );
    let missing = said(Judgement::Fail, |r| {
        r.low = names(&["4"]);
        r.missing = names(&["2"]);
    });
    assert_eq!(
        missing,
        "Cylinder 4 fails. No usable dry reading: cylinder 2."
    );
}

#[test]
fn what_is_low_and_not_confirmed() {
    let end = "repeat it before anything is condemned.";
    let several = said(Judgement::Unconfirmed, |_| ());
    assert_eq!(
        several,
        format!(
            "All cylinders are low alike, not confirmed. Nothing rules out throttle, starter or tester: {end}"
        )
    );
    let one = said(Judgement::Unconfirmed, |r| {
        (r.several, r.throttle) = (false, false);
    });
    assert_eq!(
        one,
        format!("Low, not confirmed. Nothing rules out starter or tester: {end}")
    );
}

#[test]
fn what_is_not_known() {
    assert_eq!(
        said(Judgement::TooCloseToCall, |_| ()),
        "Too close to call."
    );
    let climbing = "Incomplete: a needle was still climbing when cranking ended.";
    assert_eq!(said(Judgement::Incomplete, |_| ()), climbing);
    let missing = said(Judgement::Incomplete, |r| r.missing = names(&["2", "3"]));
    assert_eq!(
        missing,
        "Incomplete: no usable dry reading of cylinders 2 and 3. What was read is not outside a limit."
    );
    assert!(
        said(Judgement::NotJudged, |r| r.decompressor = true)
            .starts_with("The readings are not judged: an automatic")
    );
    assert!(said(Judgement::NotJudged, |_| ()).starts_with("Not judged: there is nothing"));
    let wet = ruling(&Ruling::Unread { wet: true }, UNITS);
    assert!(wet.starts_with("There are only wet readings"));
    assert!(
        ruling(&Ruling::Unread { wet: false }, UNITS).starts_with("There is no usable reading")
    );
}

/// The number that decided, its limit and whose word it is.
#[test]
fn each_figure_is_told_with_its_limit() {
    let share = Share {
        share: 0.72,
        standard: 0.01,
        limit: 0.75,
    };
    let told = |figure, origin| {
        said(Judgement::TooCloseToCall, |r| {
            r.by = Some(by(figure, origin));
        })
    };
    let of_highest = told(
        Figure::ShareOfHighest {
            read: read(false),
            share,
        },
        Origin::CommonPractice,
    );
    assert_eq!(
        of_highest,
        "Too close to call: cylinder 4 reads 117.0 ± 2.0 psi, 72 ± 2 % of the highest; at least 75 % is asked for \
         (common practice)."
    );
    let of_mean = told(
        Figure::ShareOfMean {
            read: read(false),
            share,
        },
        Origin::Published,
    );
    assert!(
        of_mean.contains("72 ± 2 % of the mean; at least 75 % is asked for (a manual)"),
        "{of_mean}"
    );
    let apart = Measurement {
        value: psi(31.0),
        standard: psi(1.5),
    };
    let spread = told(
        Figure::Spread {
            apart,
            limit: psi(25.0),
        },
        Origin::Published,
    );
    assert!(
        spread.contains("the cylinders lie 31.0 ± 3.0 psi apart; at most 25.0 psi is allowed"),
        "{spread}"
    );
    let only = Some("1".to_owned());
    let alone = told(Figure::AllLow { only, share }, Origin::Own);
    assert!(alone.contains("cylinder 1 reads 72 ± 2 % of what a sound one of these dimensions should (own calculation)"), "{alone}");
    let best = told(Figure::AllLow { only: None, share }, Origin::Own);
    assert!(best.contains("the best reads 72 ± 2 % of"), "{best}");
    // Never known to better than a per cent, and never looking like a limit that is not kept.
    let near = Share {
        share: 0.748,
        standard: 0.001,
        limit: 0.75,
    };
    let near = told(
        Figure::AllLow {
            only: None,
            share: near,
        },
        Origin::Own,
    );
    assert!(near.contains("74.8 ± 1 %"), "{near}");
}

#[test]
fn what_is_told_beside_the_verdict() {
    let share = Share {
        share: 0.6,
        standard: 0.05,
        limit: 0.75,
    };
    let beside = said(Judgement::Pass, |r| {
        r.beside = Some(by(Figure::AllLow { only: None, share }, Origin::Own));
    });
    assert!(
        beside.contains("limits. Beside that, the best reads 60 ± 10 % of"),
        "{beside}"
    );
    let doubted = said(Judgement::Pass, |r| r.card_doubted = true);
    assert!(
        doubted.contains("higher than the card predicts"),
        "{doubted}"
    );
    let suspicion = Suspicion {
        kind: CauseKind::Rings,
        cylinder: "4".to_owned(),
        pair: ["4", "3"].map(str::to_owned),
        twin: false,
        valve: None,
        all_high: false,
    };
    let caused = |test_fault| {
        said(Judgement::Fail, |r| {
            r.cause = Some((suspicion.clone(), 0.8));
            r.test_fault = test_fault;
        })
    };
    assert!(
        caused(false).ends_with("in cylinder 4 (80 %)."),
        "{}",
        caused(false)
    );
    assert!(caused(true).ends_with("(80 %). Put the test right and repeat it."));
}
