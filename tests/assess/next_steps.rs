//! What to do next: that each step is named where it helps, and not where it does not.

use crate::support::{REFERENCE, Session, card, psi, run, says};
use needlerest::assess::Judgement::{Fail, Unconfirmed};
use needlerest::assess::{Assessment, CauseKind, flag};
use needlerest::engine::Condition::{ColdDry, WarmDry, Wet};
use needlerest::engine::{Condition, JobCard};
use needlerest::signal::{Flag, Grade, Outcome, RunResult};
use needlerest::units::PressureUnit;

fn good(reading: f64) -> RunResult {
    run(psi(reading), psi(2.0), Some(250.0 / 120.0))
}

/// A reading that is rather a lower limit: the needle was climbing, towards so much more.
fn climbing(reading: f64, heading: f64) -> RunResult {
    let mut result = good(reading);
    result.outcome = Outcome::StillClimbing;
    result.call = None;
    result.reading.as_mut().unwrap().heading = Some(psi(heading));
    result
}

fn poor(reading: f64) -> RunResult {
    RunResult {
        grade: Grade::Poor,
        flags: vec![Flag::TooFewStrokes { strokes: 2 }],
        ..good(reading)
    }
}

fn row(results: &[(&str, Condition, RunResult)], card: Option<&JobCard>) -> Assessment {
    results
        .iter()
        .fold(
            Session::default(),
            |session, (cylinder, condition, result)| {
                session.add(cylinder, *condition, result.clone())
            },
        )
        .assessed(card)
}

/// Each run once, and with its own reason: one that was cut short is not called poor as well.
#[test]
fn runs_to_be_made_again_are_named_once_with_their_reason() {
    let repeated = |second: RunResult| {
        let steps = row(&[("1", WarmDry, good(150.0)), ("2", WarmDry, second)], None).next_steps;
        let repeat = |step: &&String| step.starts_with("Repeat the");
        steps.iter().filter(repeat).cloned().collect::<Vec<_>>()
    };
    assert_eq!(repeated(good(149.0)), Vec::<String>::new());
    let cut = "Repeat the warm run of cylinder 2: cranking ended before the reading settled.";
    assert_eq!(repeated(climbing(120.0, 150.0)), [cut]);
    let bad = "Repeat the warm run of cylinder 2: the test itself was poor.";
    assert_eq!(repeated(poor(149.0)), [bad]);
    let both = RunResult {
        grade: Grade::Poor,
        ..climbing(120.0, 150.0)
    };
    assert_eq!(repeated(both), [cut]);
}

/// Nothing more is to do only where all is well and nothing is left to be made again.
#[test]
fn nothing_more_is_to_do_where_all_is_well() {
    let nothing = |second: RunResult| {
        let steps = row(&[("1", WarmDry, good(150.0)), ("2", WarmDry, second)], None).next_steps;
        says(&steps, "Nothing more to do")
    };
    assert!(nothing(good(149.0)));
    assert!(!nothing(poor(149.0)), "to be repeated");
    assert!(!nothing(good(90.0)), "a suspect");
}

/// A healthy cylinder is wetted beside a suspect as a control: one that reads well, if none such was wetted, and if
/// there is one.
#[test]
fn a_control_is_asked_for_once() {
    let asked = |more: &[(&str, Condition, RunResult)]| {
        let mut runs = vec![
            ("1", ColdDry, good(160.0)),
            ("2", ColdDry, good(90.0)),
            ("3", ColdDry, good(158.0)),
        ];
        runs.extend_from_slice(more);
        let steps = row(&runs, Some(&card(3, REFERENCE))).next_steps;
        let control = steps
            .iter()
            .find(|step| step.contains("what the oil's volume alone does"));
        control.map(|step| {
            step.chars()
                .filter(char::is_ascii_digit)
                .collect::<String>()
        })
    };
    assert_eq!(asked(&[]).as_deref(), Some("1"), "the best of them");
    assert_eq!(asked(&[("2", Wet, good(120.0))]).as_deref(), Some("1"));
    assert_eq!(asked(&[("1", Wet, good(165.0))]), None);
    assert_eq!(asked(&[("3", Wet, good(163.0))]), None);
    let alone = row(&[("2", ColdDry, good(90.0))], Some(&card(3, REFERENCE)));
    assert!(!says(&alone.next_steps, "what the oil's volume alone does"));
}

/// A cylinder with a wet reading alone is told as such; one that has a dry one too, or that only, is not.
#[test]
fn a_wet_reading_alone_is_told() {
    let told = |runs: &[(&str, Condition, RunResult)]| {
        let gaps = row(runs, None).cannot_tell;
        gaps.into_iter()
            .find(|gap| gap.contains("only a wet reading"))
    };
    let dry = ("1", ColdDry, good(150.0));
    assert_eq!(told(&[dry.clone(), ("2", ColdDry, good(150.0))]), None);
    assert_eq!(
        told(&[
            dry.clone(),
            ("2", ColdDry, good(150.0)),
            ("2", Wet, good(160.0))
        ]),
        None
    );
    let only = told(&[dry, ("2", Wet, good(160.0)), ("3", ColdDry, good(150.0))]);
    assert!(only.is_some_and(|gap| gap.starts_with("Of cylinder 2 there is")));
}

/// Without a card two cylinders are held against each other; a single one says nothing.
#[test]
fn two_cylinders_are_enough_without_a_card() {
    let two = row(
        &[("1", WarmDry, good(150.0)), ("2", WarmDry, good(80.0))],
        None,
    );
    let leading = &two.cylinders[1].causes[0];
    assert_ne!(leading.kind, CauseKind::Healthy);
    let one = row(&[("1", WarmDry, good(80.0))], None);
    assert!(one.cylinders[0].causes.is_empty());
}

/// A very low reading is like a shut throttle where there is one; otherwise it is told for what may be.
#[test]
fn a_very_low_reading_is_told_by_kind_of_engine() {
    let low = Flag::ThrottleMayBeShut { reading: psi(40.0) };
    let said = |more: &str| {
        let card = card(1, more);
        flag(
            &low,
            PressureUnit::Psi,
            &needlerest::engine::EngineKind::of(Some(&card)),
        )
    };
    let petrol = said(REFERENCE);
    assert!(
        petrol
            .what
            .contains("very low (40.0 psi), as with a shut throttle"),
        "{}",
        petrol.what
    );
    assert!(petrol.advice.contains("block them open"));
    let diesel = said("ignition = \"compression\"\n");
    assert!(diesel.what.contains("very low (40.0 psi)") && !diesel.what.contains("throttle"));
    assert!(diesel.advice.starts_with("Check the adapter and its seal"));
}

/// Four of a row, cold, of which those given read otherwise; wet readings after them. A sound one of this card
/// reads some 220 psi.
fn four(low: &[(&str, f64)], wet: &[(&str, f64)], more: &str) -> Assessment {
    let mut runs = Vec::new();
    for name in ["1", "2", "3", "4"] {
        let reading = low
            .iter()
            .find(|(at, _)| *at == name)
            .map_or(218.0, |(_, reading)| *reading);
        runs.push((name, ColdDry, good(reading)));
    }
    runs.extend(
        wet.iter()
            .map(|(name, reading)| (*name, Wet, good(*reading))),
    );
    row(&runs, Some(&card(4, &format!("{REFERENCE}{more}"))))
}

/// Each leading cause says what to look at, with all the cylinders that it leads in.
#[test]
fn each_leading_cause_says_what_to_look_at() {
    let steps = |low: &[(&str, f64)], wet: &[(&str, f64)]| four(low, wet, "").next_steps;
    let untold = steps(&[("2", 140.0)], &[]);
    assert!(
        says(&untold, "Check the valve clearances of cylinder 2 first"),
        "{untold:?}"
    );
    let rings = steps(&[("2", 140.0)], &[("2", 205.0), ("1", 226.0)]);
    assert!(
        says(&rings, "Rings of cylinder 2: look for oil smoke"),
        "{rings:?}"
    );
    let valve = steps(&[("2", 140.0)], &[("2", 143.0), ("1", 226.0)]);
    assert!(
        says(&valve, "Check and set the valve clearances of cylinder 2"),
        "{valve:?}"
    );
    let gasket = steps(&[("2", 140.0), ("3", 142.0)], &[("2", 143.0), ("3", 145.0)]);
    assert!(
        says(&gasket, "Check the head's tightness at cylinders 2 and 3"),
        "{gasket:?}"
    );
    let valves = steps(
        &[("1", 140.0), ("3", 120.0)],
        &[("1", 143.0), ("3", 122.0), ("4", 226.0)],
    );
    assert!(
        says(&valves, "valve clearances of cylinders 1 and 3"),
        "{valves:?}"
    );
    let deposits = steps(&[("4", 275.0)], &[]);
    assert!(
        says(&deposits, "Look into cylinder 4 through the plug hole"),
        "{deposits:?}"
    );
    let sound = steps(&[], &[]);
    assert!(
        !says(&sound, "valve clearances") && !says(&sound, "Rings of"),
        "{sound:?}"
    );
}

/// All low alike are so for certain where the test is out of doubt, or where they differ by more than cylinders
/// may; otherwise it is to be borne out.
#[test]
fn all_low_alike_is_certain_where_the_test_is() {
    let limit = "[limits]\nservice_limit = \"200 psi\"\n";
    let judged = |readings: [f64; 4], checked: &str| {
        let low: Vec<(&str, f64)> = ["1", "2", "3", "4"].into_iter().zip(readings).collect();
        four(&low, &[], &format!("{limit}{checked}")).judgement
    };
    let alike = [160.0, 161.0, 159.0, 160.0];
    assert_eq!(judged(alike, ""), Unconfirmed);
    assert_eq!(
        judged(alike, "[checked]\nthrottle_open = true\n"),
        Unconfirmed
    );
    assert_eq!(
        judged(alike, "[checked]\ntester_tight = true\n"),
        Unconfirmed
    );
    assert_eq!(
        judged(
            alike,
            "[checked]\nthrottle_open = true\ntester_tight = true\n"
        ),
        Fail
    );
    assert_eq!(judged([160.0, 161.0, 159.0, 100.0], ""), Fail);
}
