//! Two visits to one engine.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{History, RuleSet, Trend, Visit, compare};
use needlerest::engine::Condition::{ColdDry, WarmDry};
use needlerest::engine::JobCard;

fn between(before: &Session, after: &Session, cards: [&JobCard; 2], same_sensor: bool) -> History {
    let (earlier, later) = (before.inputs(), after.inputs());
    compare(
        &Visit {
            label: "spring",
            card: Some(cards[0]),
            runs: &earlier,
        },
        &Visit {
            label: "autumn",
            card: Some(cards[1]),
            runs: &later,
        },
        same_sensor,
        &RuleSet::default(),
    )
    .said(cards[1].display)
}

#[test]
fn before_and_after_a_repair() {
    let card = card(3, REFERENCE);
    let before = Session::default().with(WarmDry, &[190.0, 120.0, 188.0], 2.0);
    let after = Session::default().with(WarmDry, &[190.5, 186.0, 188.0], 2.0);
    let history = between(&before, &after, [&card, &card], true);
    let trends: Vec<Trend> = history.changes.iter().map(|change| change.trend).collect();
    assert_eq!(trends, [Trend::NotClear, Trend::Risen, Trend::NotClear]);
    let repaired = &history.changes[1];
    assert!((repaired.change / psi(1.0) - 66.0).abs() < 1e-6);
    // Two readings of ± 2 psi each: ± 2.83 psi.
    assert!((repaired.change_expanded / psi(1.0) - 8.0_f64.sqrt()).abs() < 1e-6);
    assert!(repaired.leak_change_mm2.unwrap() < 0.0);
    assert!(history.verdict.contains("risen: 2"), "{}", history.verdict);
    assert!(history.scores.1 > history.scores.0);
}

/// The same tight engine read at sea level and at 1500 m: the reading falls with the ambient
/// pressure, the engine does not change.
#[test]
fn a_change_of_height_is_no_change_of_the_engine() {
    let low = card(1, &format!("{REFERENCE}[site]\naltitude_m = 0.0\n"));
    let high = card(1, &format!("{REFERENCE}[site]\naltitude_m = 1500.0\n"));
    let at = |reading| Session::default().with(WarmDry, &[reading], 2.0);
    let history = between(&at(200.0), &at(200.0 * 0.8345), [&low, &high], true);
    let change = &history.changes[0];
    assert!(change.change < psi(-30.0));
    assert!(
        change.corrected_change.unwrap().abs() < psi(3.0),
        "{}",
        change.text
    );
    assert_eq!(change.trend, Trend::NotClear);
}

/// A slower battery makes a leaking cylinder read lower; like with like it did not change.
/// 2 mm² in the reference cylinder read 149.5 psi at 250 rpm and 120.1 at 150 (the stroke's
/// equations integrated by SciPy: `fixtures/engine/tables.py`).
#[test]
fn a_change_of_cadence_is_no_change_of_the_engine() {
    let card = card(1, REFERENCE);
    let at = |reading, rpm: f64| {
        Session::default().add("1", WarmDry, run(psi(reading), psi(2.0), Some(rpm / 120.0)))
    };
    let history = between(&at(149.5, 250.0), &at(120.1, 150.0), [&card, &card], true);
    let change = &history.changes[0];
    assert!(change.change < psi(-29.0));
    // Those equations lose no heat; the model's exponent falls with speed, so it takes off more.
    assert!(
        change.corrected_change.unwrap().abs() < psi(15.0),
        "{}",
        change.text
    );
    assert_eq!(change.trend, Trend::NotClear);
}

#[test]
fn what_can_not_be_compared_is_said() {
    let (two, three) = (card(2, ""), card(3, ""));
    let before = Session::default().with(ColdDry, &[150.0, 151.0], 2.0);
    let after = Session::default().with(WarmDry, &[160.0, 161.0, 162.0], 2.0);
    let history = between(&before, &after, [&two, &three], false);
    assert_eq!(history.changes.len(), 2);
    let said = history.cannot_tell.join("\n");
    for part in [
        "Cylinder 3 is only in one",
        "cold in one visit and warm",
        "different sensors",
        "too thin",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let none = between(&Session::default(), &Session::default(), [&two, &two], true);
    assert!(none.changes.is_empty() && none.verdict.contains("no cylinder in common"));
}

/// The other sensor's own error counts in full.
#[test]
fn another_sensor_is_less_sure() {
    let card = card(1, "");
    let mut before = Session::default().with(WarmDry, &[150.0], 8.0);
    let mut after = Session::default().with(WarmDry, &[154.0], 8.0);
    for session in [&mut before, &mut after] {
        session.runs[0]
            .3
            .reading
            .as_mut()
            .unwrap()
            .expanded_relative = psi(1.0);
    }
    let trend = |same| between(&before, &after, [&card, &card], same).changes[0].trend;
    assert_eq!(trend(true), Trend::Risen);
    assert_eq!(trend(false), Trend::NotClear);
}

/// A leak's change is the difference of two, each with its doubt; it is known no better than either
/// (JCGM 100, 5.1.2: variances of independent terms add), and the model's own share comes on top.
#[test]
fn a_change_of_the_leak_is_known_no_better_than_the_leaks() {
    let card = card(1, REFERENCE);
    let at = |reading, expanded| {
        Session::default().add(
            "1",
            WarmDry,
            run(psi(reading), psi(expanded), Some(250.0 / 120.0)),
        )
    };
    let change = |expanded: f64| {
        let history = between(
            &at(190.0, expanded),
            &at(150.0, expanded),
            [&card, &card],
            true,
        );
        let change = &history.changes[0];
        (
            change.leak_change_mm2.unwrap(),
            change.leak_change_expanded_mm2.unwrap(),
        )
    };
    let (grown, sharp) = change(0.5);
    let (_, blunt) = change(8.0);
    assert!(grown > 0.0 && sharp > 0.0 && blunt > sharp);
    assert!(
        sharp < grown,
        "40 psi between two sharp readings is a change for certain"
    );
    let (same, doubt) = {
        let history = between(&at(150.0, 2.0), &at(150.0, 2.0), [&card, &card], true);
        let change = &history.changes[0];
        (
            change.leak_change_mm2.unwrap(),
            change.leak_change_expanded_mm2.unwrap(),
        )
    };
    assert!(same.abs() < 1e-9 && doubt > 0.0);
    assert!(
        change(2.0).1 >= doubt,
        "what the model adds grows with the change"
    );
}

/// What rose from the one visit to the other fell from the other to the one, by as much and as surely.
#[test]
fn backwards_a_rise_is_a_fall() {
    let card = card(2, REFERENCE);
    let one = Session::default().with(WarmDry, &[190.0, 150.0], 3.0);
    let other = Session::default().with(WarmDry, &[160.0, 149.0], 2.0);
    let there = between(&one, &other, [&card, &card], true);
    let back = between(&other, &one, [&card, &card], true);
    for (there, back) in there.changes.iter().zip(&back.changes) {
        let sum =
            |a: needlerest::units::Pressure, b: needlerest::units::Pressure| (a + b).pa().abs();
        assert!(sum(there.change, back.change) < 1e-6);
        let corrected = there.corrected_change.zip(back.corrected_change);
        assert!(
            corrected.is_some_and(|(a, b)| sum(a, b) < 1e-6),
            "{corrected:?}"
        );
        assert!((there.change_expanded - back.change_expanded).pa().abs() < 1e-6);
        let leaks = there.leak_change_mm2.unwrap() + back.leak_change_mm2.unwrap();
        assert!(leaks.abs() < 1e-9);
        let doubts =
            there.leak_change_expanded_mm2.unwrap() - back.leak_change_expanded_mm2.unwrap();
        assert!(doubts.abs() < 1e-9);
    }
    let trends = |history: &History| history.changes.iter().map(|c| c.trend).collect::<Vec<_>>();
    assert_eq!(trends(&there), [Trend::Fallen, Trend::NotClear]);
    assert_eq!(trends(&back), [Trend::Risen, Trend::NotClear]);
}

/// A reading's own uncertainty goes into the change of what was brought to like conditions with its
/// correction's factor: of two at one height the factor is that of the change itself (JCGM 100, 5.1.3).
#[test]
fn a_corrected_reading_is_as_uncertain_as_its_factor_makes_it() {
    let low = card(1, &format!("{REFERENCE}[site]\naltitude_m = 0.0\n"));
    let high = card(1, &format!("{REFERENCE}[site]\naltitude_m = 2500.0\n"));
    let squares = |before: f64, after: f64| {
        let at = |reading, expanded| Session::default().with(WarmDry, &[reading], expanded);
        let history = between(&at(180.0, before), &at(140.0, after), [&low, &high], true);
        let expanded = history.changes[0].corrected_change_expanded.unwrap() / psi(1.0);
        expanded * expanded
    };
    // At sea level the reading stands as it is.
    let of_before = squares(4.0, 2.0) - squares(2.0, 2.0);
    assert!((of_before - 12.0).abs() < 0.1, "{of_before}");
    // At 2500 m there are 0.737 atmospheres (International Standard Atmosphere): a tight engine's gauge
    // reading is larger by 1 / 0.737 at one, a leaking one's by less.
    let of_after = squares(2.0, 4.0) - squares(2.0, 2.0);
    let factor = (of_after / 12.0).sqrt();
    assert!((1.2..1.36).contains(&factor), "{factor}");
    // What the correction leaves in doubt comes on top.
    assert!(squares(2.0, 2.0) > 4.0 + 4.0 * factor * factor);
}
