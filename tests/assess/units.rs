//! The analysis works in pascal; the unit is chosen when words are made.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{RuleSet, assess};
use needlerest::engine::Condition::{ColdDry, WarmDry, Wet};
use needlerest::engine::Display;
use needlerest::units::PressureUnit;

/// Readings on which many rules have something to say, the card's display in one unit or another.
fn session() -> Session {
    Session::default()
        .with(ColdDry, &[140.0, 95.0, 96.0, 150.0], 2.0)
        .with(WarmDry, &[150.0, 100.0, 101.0, 155.0], 2.0)
        .add("2", Wet, run(psi(140.0), psi(2.0), Some(2.0)))
}

#[test]
fn what_is_found_does_not_depend_on_the_unit_of_the_card() {
    let session = session();
    let found = |unit| {
        let mut card = card(4, REFERENCE);
        card.display = Display {
            unit,
            also: Some(PressureUnit::KPa),
        };
        assess(Some(&card), &session.inputs(), &RuleSet::default())
    };
    assert_eq!(found(PressureUnit::Psi), found(PressureUnit::Bar));
}

#[test]
fn one_finding_is_said_in_any_unit() {
    let (session, card) = (session(), card(4, REFERENCE));
    let found = assess(Some(&card), &session.inputs(), &RuleSet::default());
    let display = |unit, also| Display { unit, also };
    let psi = found.clone().said(display(PressureUnit::Psi, None));
    let both = found.said(display(PressureUnit::Bar, Some(PressureUnit::Psi)));
    assert_eq!(psi.findings.len(), both.findings.len());
    let mut pressures = 0;
    for (one, other) in psi.findings.iter().zip(&both.findings) {
        assert_eq!(one.amount, other.amount);
        if one.text.contains(" psi") {
            pressures += 1;
            assert!(other.text.contains(" bar"), "{}", other.text);
        } else {
            assert_eq!(one.text, other.text);
        }
        assert!(!one.text.contains(" bar"), "{}", one.text);
    }
    assert!(pressures > 10, "{pressures}");
}

#[test]
fn a_second_unit_that_is_the_first_is_not_said_twice() {
    let twice = Display {
        unit: PressureUnit::Bar,
        also: Some(PressureUnit::Bar),
    };
    let card = card(4, REFERENCE);
    let found = assess(Some(&card), &session().inputs(), &RuleSet::default()).said(twice);
    let spread = found.findings.iter().find(|f| f.text.contains("apart"));
    let text = &spread.expect("a spread").text;
    assert!(!text.contains("bar ("), "{text}");
}
