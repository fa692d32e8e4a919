//! Sessions that leave something to be desired: stated plainly, never guessed over, no panic.

use crate::support::{REFERENCE, Session, card, psi, run, says, silent};
use needlerest::assess::{Assessment, CauseKind, Judgement};
use needlerest::engine::Condition::{ColdDry, WarmDry, Wet};

use needlerest::units::Pressure;
use proptest::prelude::*;

fn nothing_is_judged(assessment: &Assessment) {
    assert_eq!(assessment.judgement, Judgement::NotJudged);
    assert_eq!(assessment.score, None);
    assert!(assessment.cylinders.iter().all(|c| c.causes.is_empty()));
    assert!(
        assessment.verdict.contains("nothing can be judged"),
        "{}",
        assessment.verdict
    );
}

#[test]
fn no_runs_at_all() {
    nothing_is_judged(&Session::default().assessed(None));
    let carded = Session::default().assessed(Some(&card(2, REFERENCE)));
    nothing_is_judged(&carded);
    assert!(says(
        &carded.cannot_tell,
        "Cylinder 1 has no usable reading"
    ));
}

#[test]
fn no_strokes() {
    let assessment = Session::default()
        .add("1", WarmDry, silent())
        .assessed(Some(&card(1, REFERENCE)));
    nothing_is_judged(&assessment);
    assert!(says(
        &assessment.cannot_tell,
        "The warm run of cylinder 1 gave no reading"
    ));
}

#[test]
fn one_cylinder_only() {
    let lone = Session::default().with(WarmDry, &[150.0], 2.0);
    let of_one = lone.assessed(Some(&card(1, REFERENCE)));
    assert!(says(&of_one.cannot_tell, "single cylinder"));
    assert!(of_one.comparisons.is_empty());
    let of_four = lone.assessed(Some(&card(4, REFERENCE)));
    assert!(says(&of_four.cannot_tell, "Only one cylinder was read"));
    assert!(says(
        &of_four.cannot_tell,
        "Cylinder 3 has no usable reading"
    ));
    // Without a card there is nothing to hold a single reading against.
    let bare = lone.assessed(None);
    assert_eq!(bare.score, None);
    assert!(says(&bare.cannot_tell, "There is no job card"));
}

#[test]
fn a_missing_wet_run_leaves_rings_and_valves_open() {
    let assessment = Session::default()
        .with(WarmDry, &[230.0, 150.0, 232.0], 2.0)
        .assessed(Some(&card(3, REFERENCE)));
    let low = &assessment.cylinders[1];
    assert_eq!(low.causes[0].kind, CauseKind::RingsOrValve);
    let named = |kind| low.causes.iter().any(|cause| cause.kind == kind);
    assert!(!named(CauseKind::Rings) && !named(CauseKind::Valve));
    assert!(says(
        &assessment.cannot_tell,
        "rings and valves are not told apart"
    ));
    let steps = &assessment.next_steps;
    assert!(steps[0].contains("wet run of cylinder 2"), "{steps:?}");
    // A healthy cylinder wetted beside it shows what the oil's volume does.
    assert!(says(steps, "Wet cylinder 3 as well"), "{steps:?}");
    assert!(says(steps, "leak-down test"), "{steps:?}");
}

#[test]
fn mixed_conditions_are_not_compared() {
    let assessment = Session::default()
        .add("1", WarmDry, run(psi(180.0), psi(2.0), Some(2.0)))
        .add("2", ColdDry, run(psi(150.0), psi(2.0), Some(2.0)))
        .assessed(Some(&card(2, REFERENCE)));
    assert!(assessment.comparisons.is_empty());
    assert!(says(
        &assessment.cannot_tell,
        "read in different conditions: 2 only cold"
    ));
}

#[test]
fn only_wet_readings() {
    let assessment = Session::default()
        .with(Wet, &[180.0, 150.0], 2.0)
        .assessed(Some(&card(2, REFERENCE)));
    assert_eq!(assessment.judgement, Judgement::NotJudged);
    assert!(assessment.verdict.contains("only wet readings"));
    assert!(says(&assessment.cannot_tell, "there is only a wet reading"));
}

/// 10:1 cannot give more than 14.7·(10^1.4 − 1) = 354.4 psi (isentropic compression of air).
#[test]
fn a_reading_above_what_the_ratio_allows_contradicts_the_card() {
    let of = |reading| {
        Session::default()
            .with(WarmDry, &[reading], 2.0)
            .assessed(Some(&card(1, REFERENCE)))
            .findings
            .into_iter()
            .find(|finding| finding.rule == "more-than-the-ratio-gives")
    };
    assert!(of(340.0).is_none());
    assert!(of(354.0).is_none());
    assert_eq!(of(400.0).unwrap().judgement, Judgement::Fail);
}

#[test]
fn names_that_the_card_does_not_know() {
    let assessment = Session::default()
        .add("1", WarmDry, run(psi(150.0), psi(2.0), None))
        .add("port", WarmDry, run(psi(151.0), psi(2.0), None))
        .assessed(Some(&card(2, "")));
    let names: Vec<&str> = assessment
        .cylinders
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert_eq!(names, ["1", "2", "port"]);
    assert!(says(&assessment.cannot_tell, "names a cylinder port"));
    assert!(says(
        &assessment.cannot_tell,
        "Cylinder 2 has no usable reading"
    ));
}

#[test]
fn a_void_run_does_not_count() {
    let mut session = Session::default().with(WarmDry, &[150.0, 150.0], 2.0).add(
        "1",
        WarmDry,
        run(psi(40.0), psi(2.0), None),
    );
    session.runs[2].2 = true;
    let assessment = session.assessed(None);
    assert_eq!(assessment.judgement, Judgement::Pass);
    assert_eq!(assessment.cylinders[0].readings.len(), 1);
    let told = "Taken back, and not counted: the warm run of cylinder 1.";
    assert!(says(&assessment.notes, told), "{:?}", assessment.notes);
}

/// The same readings with a card that says what the engine is and with one that only names it:
/// what rests on the card is gone and said to be, what rests on the readings stays.
#[test]
fn a_thin_card_takes_away_no_more_than_rests_on_it() {
    let session = Session::default()
        .with(WarmDry, &[230.0, 140.0, 232.0], 2.0)
        .add("2", Wet, run(psi(205.0), psi(2.0), Some(125.0 / 60.0)));
    let full = session.assessed(Some(&card(3, REFERENCE)));
    let thin = session.assessed(Some(&card(3, "")));
    assert!(!full.expected.is_empty() && thin.expected.is_empty());
    let leaks = |assessment: &Assessment| {
        let readings = assessment.cylinders.iter().flat_map(|c| &c.readings);
        readings.filter(|reading| reading.leak.is_some()).count()
    };
    assert_eq!((leaks(&full), leaks(&thin)), (4, 0));
    assert!(says(
        &thin.cannot_tell,
        "The card gives no bore, no stroke, no compression ratio"
    ));
    for assessment in [&full, &thin] {
        assert_eq!(assessment.judgement, Judgement::Fail);
        let leading: Vec<CauseKind> = assessment
            .cylinders
            .iter()
            .map(|cylinder| cylinder.causes[0].kind)
            .collect();
        let expected = [CauseKind::Healthy, CauseKind::Rings, CauseKind::Healthy];
        assert_eq!(leading, expected);
    }
}

/// One step for all the cylinders that it is about, not one a cylinder.
#[test]
fn steps_for_several_cylinders_are_one_step() {
    let assessment = Session::default()
        .with(WarmDry, &[130.0, 234.0, 235.0, 132.0], 2.0)
        .assessed(Some(&card(4, REFERENCE)));
    let wet = |step: &&String| step.starts_with("Make a wet run");
    let steps = &assessment.next_steps;
    assert_eq!(steps.iter().filter(wet).count(), 1, "{steps:?}");
    let named = "Make a wet run of cylinders 1 and 4";
    assert!(says(steps, named), "{steps:?}");
}

#[test]
fn a_repeated_run_replaces_the_one_before_and_says_so() {
    let assessment = Session::default()
        .with(WarmDry, &[90.0, 150.0], 2.0)
        .add("1", WarmDry, run(psi(150.0), psi(2.0), None))
        .assessed(None);
    assert_eq!(assessment.comparisons[0].lowest_pressure, psi(150.0));
    assert!(
        assessment
            .findings
            .iter()
            .any(|finding| finding.rule == "repeat")
    );
    // A needle that was still climbing does not replace one that had stopped.
    let mut unsettled = run(psi(100.0), psi(20.0), None);
    unsettled.reading.as_mut().unwrap().heading = Some(psi(120.0));
    let kept = Session::default()
        .with(WarmDry, &[150.0, 150.0], 2.0)
        .add("1", WarmDry, unsettled)
        .assessed(None);
    assert_eq!(kept.comparisons[0].lowest_pressure, psi(150.0));
}

#[test]
fn numbers_that_are_none_are_left_out() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let assessment = Session::default()
            .add(
                "1",
                WarmDry,
                run(Pressure::from_pa(bad), psi(2.0), Some(2.0)),
            )
            .add(
                "2",
                WarmDry,
                run(psi(150.0), Pressure::from_pa(bad), Some(bad)),
            )
            .assessed(Some(&card(2, REFERENCE)));
        nothing_is_judged(&assessment);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// Whatever is read, the answer is whole: probabilities from 0 to 1 that do not exceed 1
    /// together, scores from 0 to 100, and no number that is none.
    #[test]
    fn any_readings_give_a_whole_answer(
        readings in prop::collection::vec((-50.0..600.0_f64, 0.0..80.0_f64, 0_usize..3, 0.0..12.0_f64, 0_usize..5), 0..12),
        carded in any::<bool>(),
    ) {
        let conditions = [ColdDry, WarmDry, Wet];
        let mut session = Session::default();
        for (value, expanded, condition, hz, name) in readings {
            let result = run(psi(value), psi(expanded), (hz > 0.5).then_some(hz));
            session = session.add(&name.to_string(), conditions[condition], result);
        }
        let card = card(4, REFERENCE);
        let assessment = session.assessed(carded.then_some(&card));
        for cylinder in &assessment.cylinders {
            let total: f64 = cylinder.causes.iter().map(|cause| cause.probability).sum();
            prop_assert!(total <= 1.0 + 1e-9);
            prop_assert!(cylinder.score.is_none_or(|score| (0.0..=100.0).contains(&score)));
            prop_assert!(cylinder.score_expanded.is_none_or(|u| (0.0..=50.0).contains(&u)));
            for reading in &cylinder.readings {
                prop_assert!(reading.leak.is_none_or(|leak| leak.mm2 >= 0.0 && leak.expanded_mm2.is_finite()));
            }
        }
        for finding in &assessment.findings {
            prop_assert!(finding.probability_within.is_none_or(|p| (0.0..=1.0).contains(&p)));
            prop_assert!(!finding.source.is_empty());
        }
        // JSON has no word for a number that is none: it would come back as nothing.
        let text = serde_json::to_string(&assessment).unwrap();
        let back: Assessment = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(back, assessment);
    }
}
