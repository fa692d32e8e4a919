//! Where the readings speak against the card, and where the card speaks for the test.

use crate::support::{REFERENCE, Session, card};
use needlerest::assess::{Assessment, CauseKind, Judgement, Role};
use needlerest::engine::Condition::WarmDry;

fn doubted(assessment: &Assessment) -> Option<&needlerest::assess::Finding> {
    assessment
        .findings
        .iter()
        .find(|finding| finding.rule == "card-doubted")
}

/// Every cylinder well above what 10:1 gives: the card is doubted, and it says so plainly.
#[test]
fn all_cylinders_above_the_card_speak_against_it() {
    let expected = |readings: &[f64]| {
        let card = card(readings.len(), REFERENCE);
        Session::default()
            .with(WarmDry, readings, 2.0)
            .assessed(Some(&card))
    };
    let assessment = expected(&[300.0, 298.0, 302.0]);
    let finding = doubted(&assessment).unwrap();
    assert_eq!(finding.role, Role::Note);
    assert_eq!(finding.cylinders, ["1", "2", "3"]);
    assert!(
        finding.text.contains("timing or height is wrong"),
        "{}",
        finding.text
    );
    assert!(finding.text.contains("Every cylinder reads"));
    assert!(assessment.verdict.contains("the card is wrong"));
    assert!(assessment.next_steps[0].starts_with("Look up the card's compression ratio"));
    // It condemns nothing.
    assert_ne!(assessment.judgement, Judgement::Fail);
    // One that reads as the card has it, and the card stands.
    assert!(doubted(&expected(&[300.0, 236.0, 302.0])).is_none());
    assert!(doubted(&expected(&[240.0, 238.0, 239.0])).is_none());
    let single = expected(&[302.0]);
    assert!(doubted(&single).unwrap().text.starts_with("Cylinder 1"));
    // Nothing to speak against on a thin card.
    let thin = Session::default()
        .with(WarmDry, &[300.0], 2.0)
        .assessed(Some(&card(1, "")));
    assert!(doubted(&thin).is_none());
}

/// What was seen to before the test is no cause.
#[test]
fn what_the_card_says_was_checked_is_no_cause() {
    let kinds = |more: &str| -> Vec<CauseKind> {
        let card = card(2, &format!("{REFERENCE}{more}"));
        let assessment = Session::default()
            .with(WarmDry, &[120.0, 121.0], 2.0)
            .assessed(Some(&card));
        let causes = assessment.cylinders.into_iter().flat_map(|c| c.causes);
        causes.map(|cause| cause.kind).collect()
    };
    let unknown = kinds("");
    assert!(unknown.contains(&CauseKind::ThrottleShut));
    let open = kinds("[checked]\nthrottle_open = true\n");
    assert!(!open.contains(&CauseKind::ThrottleShut));
    let tight = kinds("[checked]\ntester_tight = true\n");
    assert!(tight.contains(&CauseKind::ThrottleShut) && !tight.contains(&CauseKind::TesterLeak));
}

/// Two alike and no card: what all cylinders share cannot be told, and is not guessed at.
#[test]
fn without_an_expectation_nothing_shared_is_guessed_at() {
    let session = Session::default().with(WarmDry, &[150.0, 150.0], 2.0);
    for card in [None, Some(&card(2, ""))] {
        let assessment = session.assessed(card);
        assert_eq!(assessment.judgement, Judgement::Pass);
        let mut causes = assessment.cylinders.iter().flat_map(|c| &c.causes);
        let shared = [
            CauseKind::ThrottleShut,
            CauseKind::TesterLeak,
            CauseKind::ValveTiming,
        ];
        assert!(causes.all(|cause| !shared.contains(&cause.kind)));
    }
    let assessment = session.assessed(Some(&card(2, "")));
    let told = |line: &String| line.contains("what all cylinders share");
    assert!(assessment.cannot_tell.iter().any(told));
}
