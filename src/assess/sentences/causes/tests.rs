//! What is said, on both sides of what rounds to nothing.

use super::*;

fn says(of: &Sign, words: &str) {
    assert_eq!(sign(of, None), words);
}

fn others(share: f64) -> Sign {
    let cylinder = "2".to_owned();
    Sign::OfOthers { cylinder, share }
}

#[test]
fn a_share_is_told_in_whole_per_cent() {
    let told = [
        (0.994, "1 % below"),
        (0.996, "the same as"),
        (1.004, "the same as"),
        (1.006, "1 % above"),
    ];
    for (share, words) in told {
        assert_eq!(beside(share), words, "{share}");
    }
    assert_eq!(
        (beside(0.654), beside(1.346)),
        ("35 % below".to_owned(), "35 % above".to_owned())
    );
}

#[test]
fn a_cylinder_is_told_beside_the_best_of_the_others() {
    says(
        &others(0.996),
        "Cylinder 2 reads the same as the best of the others.",
    );
    says(
        &others(1.004),
        "Cylinder 2 reads the same as the best of the others.",
    );
    says(
        &others(0.7),
        "Cylinder 2 reads 30 % below the best of the others.",
    );
    says(
        &others(1.2),
        "Cylinder 2 is the highest, 20 % above the next.",
    );
}

#[test]
fn a_cylinder_is_told_beside_what_it_should_read() {
    let expected = |share, best_share| Sign::OfExpected {
        cylinder: "2".to_owned(),
        share,
        best_share,
    };
    says(
        &expected(0.7, 0.704),
        "Cylinder 2 reads 30 % below what this engine should give.",
    );
    says(
        &expected(0.7, 0.96),
        "Cylinder 2 reads 30 % below what this engine should give; the best reads 4 % below it.",
    );
    says(
        &expected(1.1, 0.9),
        "Cylinder 2 reads 10 % above what this engine should give; the best reads 10 % below it.",
    );
}

#[test]
fn a_neighbour_is_told_beside_the_best_and_beside_it() {
    let neighbour = |share_of_best, share_of_neighbour| Sign::Neighbour {
        cylinder: "2".to_owned(),
        neighbour: "3".to_owned(),
        share_of_best,
        share_of_neighbour,
    };
    says(
        &neighbour(0.6, 1.1),
        "Its neighbour 3 reads 40 % below the best cylinder; cylinder 2 reads 10 % above that neighbour.",
    );
    says(
        &neighbour(0.9996, 0.6),
        "Its neighbour 3 is the best cylinder; cylinder 2 reads 40 % below that neighbour.",
    );
    says(
        &neighbour(0.999, 0.6),
        "Its neighbour 3 reads the same as the best cylinder; cylinder 2 reads 40 % below that neighbour.",
    );
}

#[test]
fn what_oil_did_is_told() {
    let oil = |change, by_volume_most| Sign::Oil {
        cylinder: "2".to_owned(),
        change,
        by_volume_most,
    };
    says(
        &oil(0.004, Some(0.03)),
        "Oil in cylinder 2 changed nothing.",
    );
    says(
        &oil(-0.004, Some(0.03)),
        "Oil in cylinder 2 changed nothing.",
    );
    says(
        &oil(0.006, Some(0.034)),
        "Oil in cylinder 2 raised the reading by 1 %, of which the oil's own volume explains up to 3 %.",
    );
    says(
        &oil(0.3, Some(0.06)),
        "Oil in cylinder 2 raised the reading by 30 %, of which the oil's own volume explains up to 6 %.",
    );
    says(
        &oil(-0.1, Some(0.06)),
        "Oil in cylinder 2 lowered the reading by 10 %.",
    );
    says(
        &oil(-0.1, None),
        "Oil in cylinder 2 lowered the reading by 10 %; how much of it is the oil's own volume the card does not let be computed.",
    );
}

#[test]
fn a_held_reading_that_falls_is_told_with_its_rate() {
    assert_eq!(
        sign(&Sign::HeldFalls {}, Some(0.0123)),
        "The held reading falls by 1.2 % a second when nobody cranks."
    );
    assert_eq!(
        sign(&Sign::HeldFalls {}, None),
        "A held reading fell when nobody cranked."
    );
}

#[test]
fn a_valve_is_told_with_its_side() {
    assert!(valve("2", Some(ValveSide::Intake)).contains("the intake valve of cylinder 2"));
    assert!(valve("2", Some(ValveSide::Exhaust)).contains("the exhaust valve of cylinder 2"));
    assert!(valve("2", None).contains("the readings do not tell which"));
}

/// Each cause is told for what it is; that all read high, and that a pair is a twin, is told too.
#[test]
fn each_cause_has_its_words() {
    let told = |kind, all_high, twin| {
        suspicion(&Suspicion {
            kind,
            cylinder: "2".to_owned(),
            pair: ["2", "3"].map(str::to_owned),
            twin,
            valve: None,
            all_high,
        })
    };
    for (kind, words) in [
        (CauseKind::Healthy, "a healthy cylinder 2"),
        (CauseKind::Rings, "worn or stuck rings"),
        (CauseKind::Valve, "intake or exhaust valve of cylinder 2"),
        (
            CauseKind::Gasket,
            "a head gasket leaking between cylinders 2 and 3.",
        ),
        (
            CauseKind::RingsOrValve,
            "past the rings or a valve of cylinder 2",
        ),
        (CauseKind::HighCompression, "deposits in cylinder 2"),
        (CauseKind::ValveTiming, "a worn cam or wrong valve timing"),
        (
            CauseKind::ThrottleShut,
            "a throttle (or choke) that was shut",
        ),
        (CauseKind::SlowCranking, "turned too slowly"),
        (CauseKind::TesterLeak, "a tester that leaks"),
    ] {
        let text = told(kind, false, false);
        assert!(text.contains(words), "{kind:?}: {text}");
    }
    assert!(told(CauseKind::HighCompression, true, false).contains("deposits in every cylinder"));
    assert!(told(CauseKind::Gasket, false, true).contains("both are low alike"));
}
