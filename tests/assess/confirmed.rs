//! More than one independent reason before anything is condemned (own rule; that a low cylinder
//! is tested again before it is condemned is common practice, no source).

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Assessment, Judgement};
use needlerest::engine::Condition::{ColdDry, WarmDry, Wet};
use proptest::prelude::*;

fn says(list: &[String], what: &str) -> bool {
    list.iter().any(|line| line.contains(what))
}

fn again(assessment: &Assessment) -> bool {
    says(&assessment.next_steps, "with the adapter screwed in anew")
}

/// Far below what the card lets expect, on one reading: to be read again.
#[test]
fn one_low_reading_condemns_nothing() {
    let once = Session::default().with(WarmDry, &[100.0], 2.0);
    let assessment = once.assessed(Some(&card(1, REFERENCE)));
    assert_eq!(assessment.judgement, Judgement::Unconfirmed);
    assert!(assessment.verdict.contains("repeat it before"));
    // Once, however many reasons there are to make that run again.
    let repeats = assessment.next_steps.iter();
    let of_run = repeats.filter(|step| step.starts_with("Repeat the warm run"));
    assert_eq!(of_run.count(), 1);
    assert!(
        again(&assessment) && assessment.next_steps[0].starts_with("Repeat the warm run"),
        "{:?}",
        assessment.next_steps
    );
}

#[test]
fn read_low_twice_it_fails() {
    let once = || Session::default().with(WarmDry, &[100.0], 2.0);
    let one = card(1, REFERENCE);
    let twice = once().add("1", WarmDry, run(psi(102.0), psi(2.0), Some(2.08)));
    let cold = once().add("1", ColdDry, run(psi(95.0), psi(2.0), Some(2.08)));
    let oiled = once().add("1", Wet, run(psi(101.0), psi(2.0), Some(2.08)));
    for session in [twice, cold, oiled] {
        let assessment = session.assessed(Some(&one));
        assert_eq!(assessment.judgement, Judgement::Fail);
        assert!(!again(&assessment));
    }
    // A cold reading that is much better bears nothing out: the warm one is to be made again.
    let better = once().add("1", ColdDry, run(psi(170.0), psi(2.0), Some(2.08)));
    assert_eq!(
        better.assessed(Some(&one)).judgement,
        Judgement::Unconfirmed
    );
}

/// 140 and 110 without a card: low beside the other, and that is all.
#[test]
fn a_comparison_alone_is_not_enough() {
    let session = || Session::default().with(WarmDry, &[140.0, 110.0], 2.0);
    let bare = session().assessed(None);
    assert_eq!(bare.judgement, Judgement::Unconfirmed);
    // The rule itself is what it was.
    assert_eq!(bare.comparisons[0].judgement, Judgement::Fail);
    // The maker's limit says the same.
    let limits = "[limits]\nservice_limit = \"120 psi\"\n";
    let both = session().assessed(Some(&card(2, limits)));
    assert_eq!(both.judgement, Judgement::Fail);
}

/// Two side by side, low alike: each bears the other out.
#[test]
fn a_neighbour_low_alike_confirms() {
    let assessment = Session::default()
        .with(WarmDry, &[150.0, 115.0, 116.0], 2.0)
        .assessed(Some(&card(3, "")));
    assert_eq!(assessment.judgement, Judgement::Fail);
}

/// A second cylinder that is low for the same reason is no second reason: both hang on the card.
#[test]
fn all_low_beside_the_card_alone_is_not_confirmed() {
    let open = format!("{REFERENCE}[checked]\nthrottle_open = true\ntester_tight = true\n");
    let assessment = Session::default()
        .with(WarmDry, &[125.0, 124.0], 2.0)
        .assessed(Some(&card(2, &open)));
    assert_ne!(assessment.judgement, Judgement::Fail);
    assert_ne!(assessment.judgement, Judgement::Pass);
}

/// No second cylinder, no card: enough to run on is no reason to pass.
#[test]
fn what_no_limit_was_applied_to_is_not_passed() {
    let single = Session::default().with(WarmDry, &[150.0], 2.0);
    for card in [None, Some(&card(1, ""))] {
        let assessment = single.assessed(card);
        assert_eq!(assessment.judgement, Judgement::NotJudged);
        assert!(
            assessment.verdict.contains("nothing to hold it against"),
            "{}",
            assessment.verdict
        );
    }
    let limits = card(1, "[limits]\nservice_limit = \"120 psi\"\n");
    assert_eq!(single.assessed(Some(&limits)).judgement, Judgement::Pass);
    // Too little to run on fails all the same, once it is confirmed.
    let low = || Session::default().with(WarmDry, &[50.0], 2.0);
    assert_eq!(low().assessed(None).judgement, Judgement::Unconfirmed);
    let twice = low().add("1", WarmDry, run(psi(51.0), psi(2.0), None));
    assert_eq!(twice.assessed(None).judgement, Judgement::Fail);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// A reading made again that agrees never lets an engine off, and never passes what was low.
    #[test]
    fn a_repeat_that_agrees_never_makes_it_better(
        readings in prop::collection::vec(40.0..260.0_f64, 1..4),
        carded in any::<bool>(),
    ) {
        let card = card(3, REFERENCE);
        let session = || Session::default().with(WarmDry, &readings, 2.0);
        let once = session().assessed(carded.then_some(&card)).judgement;
        let mut again = session();
        for (at, reading) in readings.iter().enumerate() {
            let result = run(psi(*reading), psi(2.0), Some(125.0 / 60.0));
            again = again.add(&(at + 1).to_string(), WarmDry, result);
        }
        let twice = again.assessed(carded.then_some(&card)).judgement;
        let expected = match once {
            Judgement::Unconfirmed => Judgement::Fail,
            other => other,
        };
        prop_assert_eq!(twice, expected);
    }
}
