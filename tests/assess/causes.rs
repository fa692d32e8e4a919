//! A cause has to explain what was read.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Assessment, CauseKind, Sign};
use needlerest::engine::Condition::{ColdDry, Wet};
use needlerest::engine::JobCard;
use needlerest::signal::{Droop, Flag};
use needlerest::units::Time;

/// Four of a row that read what they should, but for those given (place from 1, share).
fn row(bad: &[(usize, f64)], wet: &[(usize, f64)], strokes_hz: f64) -> Assessment {
    assessed(4, bad, wet, strokes_hz, &card(4, REFERENCE))
}

fn assessed(
    count: usize,
    bad: &[(usize, f64)],
    wet: &[(usize, f64)],
    strokes_hz: f64,
    card: &JobCard,
) -> Assessment {
    let hz = Some(strokes_hz);
    let probe = Session::default().add("1", ColdDry, run(psi(100.0), psi(2.0), hz));
    let should = probe.assessed(Some(card)).expected[0].likely;
    let mut session = Session::default();
    for at in 1..=count {
        let share = bad.iter().find(|(n, _)| *n == at).map_or(0.98, |(_, s)| *s);
        session = session.add(&at.to_string(), ColdDry, run(should * share, psi(2.0), hz));
    }
    for (at, share) in wet {
        session = session.add(&at.to_string(), Wet, run(should * *share, psi(2.0), hz));
    }
    session.assessed(Some(card))
}

fn leading(assessment: &Assessment) -> Vec<CauseKind> {
    let cylinders = assessment.cylinders.iter();
    cylinders.map(|cylinder| cylinder.causes[0].kind).collect()
}

use CauseKind::{Gasket, Healthy, HighCompression, Rings, RingsOrValve, Valve};

/// What the manuals say of oil and of neighbours (TM 5-4210-230-14&P-1, steps 7a and 7b;
/// TM 10-3930-647-14&P, compression test; OD1001, lesson 3).
#[test]
fn one_low_cylinder_and_two_low_neighbours() {
    let one = row(&[(2, 0.65)], &[], 2.0);
    assert_eq!(leading(&one), [Healthy, RingsOrValve, Healthy, Healthy]);
    let lifted = row(&[(2, 0.65)], &[(2, 0.95), (1, 1.02)], 2.0);
    assert_eq!(leading(&lifted), [Healthy, Rings, Healthy, Healthy]);
    let unmoved = row(&[(2, 0.65)], &[(2, 0.67), (1, 1.02)], 2.0);
    assert_eq!(leading(&unmoved), [Healthy, Valve, Healthy, Healthy]);
    let pair = row(&[(2, 0.65), (3, 0.66)], &[(2, 0.67), (3, 0.68)], 2.0);
    assert_eq!(leading(&pair), [Healthy, Gasket, Gasket, Healthy]);
    // Not side by side: two valves, no gasket.
    let apart = row(&[(1, 0.65), (3, 0.66)], &[(1, 0.67), (3, 0.68)], 2.0);
    assert_eq!(leading(&apart), [Valve, Healthy, Valve, Healthy]);
    let high = row(&[(4, 1.25)], &[], 2.0);
    assert_eq!(leading(&high), [Healthy, Healthy, Healthy, HighCompression]);
}

/// Readings that lie where they should are no evidence of slow cranking, a shut throttle or a
/// leaking tester, whatever the cadence; and one low cylinder beside good ones is none.
#[test]
fn what_all_share_explains_only_what_all_read() {
    for strokes_hz in [0.6, 1.0, 1.5, 2.0, 2.6] {
        for bad in [&[][..], &[(3, 0.6)]] {
            let assessment = row(bad, &[], strokes_hz);
            let causes = assessment.cylinders.iter().flat_map(|c| &c.causes);
            for cause in causes {
                assert!(
                    !cause.kind.is_shared()
                        || cause.kind == CauseKind::SlowCranking && strokes_hz < 1.25,
                    "{strokes_hz}: {cause:?}"
                );
            }
            assert!(leading(&assessment).iter().all(|kind| !kind.is_shared()));
        }
    }
    // All low: the throttle is among what may be.
    let all: Vec<(usize, f64)> = (1..=4).map(|at| (at, 0.75)).collect();
    let kinds = row(&all, &[], 2.0);
    let kinds = kinds.cylinders[0].causes.iter().map(|cause| cause.kind);
    assert!(
        kinds
            .into_iter()
            .any(|kind| kind == CauseKind::ThrottleShut)
    );
}

/// Probabilities of a cylinder add up to one, but for what is too improbable to be listed.
#[test]
fn probabilities_add_up() {
    for bad in [
        &[][..],
        &[(1, 0.8)],
        &[(2, 0.5), (3, 0.5)],
        &[(1, 1.4), (2, 0.1)],
    ] {
        for cylinder in row(bad, &[(2, 0.7)], 2.0).cylinders {
            let sum: f64 = cylinder.causes.iter().map(|cause| cause.probability).sum();
            assert!((0.9..=1.0 + 1e-9).contains(&sum), "{bad:?}: {sum}");
        }
    }
}

/// Evidence is what was seen, with its numbers.
#[test]
fn evidence_carries_its_numbers() {
    let assessment = row(&[(2, 0.65)], &[(2, 0.95), (1, 1.02)], 2.0);
    let cause = &assessment.cylinders[1].causes[0];
    let oil = cause.evidence_for.iter().find_map(|e| match &e.sign {
        Sign::Oil {
            cylinder, change, ..
        } => Some((cylinder.as_str(), *change)),
        _ => None,
    });
    let (cylinder, change) = oil.unwrap();
    assert_eq!(cylinder, "2");
    assert!((change - (0.95 / 0.65 - 1.0)).abs() < 1e-9);
    let others = cause.evidence_for.iter().find_map(|e| match e.sign {
        Sign::OfOthers { share, .. } => Some(share),
        _ => None,
    });
    assert!((others.unwrap() - 0.65 / 0.98).abs() < 0.01);
}

/// That a good cylinder stands far above a bad one is nothing against it.
#[test]
fn nothing_speaks_against_the_good_one_beside_a_bad_one() {
    let card = card(2, REFERENCE);
    let assessment = assessed(2, &[(2, 0.45)], &[], 2.0, &card);
    let good = &assessment.cylinders[0].causes[0];
    assert_eq!(good.kind, Healthy);
    assert_eq!(good.evidence_against, []);
    assert!(!good.evidence_for.is_empty());
}

/// A two-stroke has no valves that could leak.
#[test]
fn a_two_stroke_has_no_valves() {
    let head = "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Otter\"\n\
                cycle = \"two-stroke\"\nbore_mm = 40.0\nstroke_mm = 38.0\ncompression_ratio = 9.0\n\
                closes_deg_abdc = 80.0\nstart = \"pull-cord\"\n";
    let card = format!("{head}[[cylinder]]\nname = \"1\"\n[[cylinder]]\nname = \"2\"\n");
    let card = JobCard::parse(&card).unwrap();
    let assessment = assessed(2, &[(1, 0.6)], &[], 8.0, &card);
    assert_eq!(leading(&assessment), [Rings, Healthy]);
}

/// All low alike, and only one matter of the test left that can be behind it: it is to be put right
/// before anything is made of the engine, and the next step says how.
#[test]
fn a_test_that_was_likely_at_fault_is_repeated_first() {
    for (checked, share, kind, step) in [
        (
            "tester_tight = true",
            0.75,
            CauseKind::ThrottleShut,
            "Block the throttle and choke wide open",
        ),
        (
            "throttle_open = true",
            0.65,
            CauseKind::TesterLeak,
            "Check the tester's seal, hose and check valve",
        ),
    ] {
        let card = card(4, &format!("{REFERENCE}[checked]\n{checked}\n"));
        let all: Vec<(usize, f64)> = (1..=4).map(|at| (at, share)).collect();
        let assessment = assessed(4, &all, &[], 2.0, &card);
        let cause = &assessment.cylinders[0].causes[0];
        assert_eq!(cause.kind, kind, "{checked}");
        assert!(cause.probability >= 0.5, "{cause:?}");
        let first = &assessment.next_steps[0];
        assert!(first.contains(step), "{first}");
        let verdict = &assessment.verdict;
        assert!(
            verdict.contains("Put the test right and repeat it"),
            "{verdict}"
        );
    }
}

/// In plain words, by how much: 0.65 beside 0.98 is 34 % below; the best of all is so much above the
/// next (0.98 over 0.65, two cylinders: 51 %).
#[test]
fn evidence_is_told_in_per_cent() {
    let two = assessed(2, &[(2, 0.65)], &[], 2.0, &card(2, REFERENCE));
    let told = |at: usize| -> String {
        let causes = two.cylinders[at].causes.iter();
        let signs =
            causes.flat_map(|cause| cause.evidence_for.iter().chain(&cause.evidence_against));
        signs
            .map(|sign| sign.text.clone())
            .collect::<Vec<_>>()
            .join("\n")
    };
    assert!(
        told(0).contains("the highest, 51 % above the next"),
        "{}",
        told(0)
    );
    assert!(
        told(1).contains("34 % below the best of the others"),
        "{}",
        told(1)
    );
    assert!(
        told(1).contains("35 % below what this engine should give"),
        "{}",
        told(1)
    );
    let alike = assessed(2, &[(1, 0.9), (2, 0.9)], &[], 2.0, &card(2, REFERENCE));
    let mut signs = alike.cylinders[0]
        .causes
        .iter()
        .flat_map(|c| &c.evidence_for);
    assert!(signs.any(|sign| {
        sign.text
            .contains("reads the same as the best of the others")
    }));
}

/// Of a pair that is low side by side, each names the other, with what it reads beside the best and
/// beside itself; it is enough that the card lists one of the two beside the other.
#[test]
fn a_gasket_is_told_by_its_neighbour() {
    let bare: Vec<String> = (1..=4)
        .map(|at| {
            let beside = if at == 3 {
                "neighbours = [\"2\"]\n"
            } else {
                ""
            };
            format!("[[cylinder]]\nname = \"{at}\"\n{beside}")
        })
        .collect();
    let head = "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Heron\"\n\
                cycle = \"four-stroke\"\n";
    let one_sided = JobCard::parse(&format!("{head}{REFERENCE}{}", bare.concat())).unwrap();
    let bad = [(2, 0.65), (3, 0.60)];
    let wet = [(2, 0.66), (3, 0.61)];
    let assessment = assessed(4, &bad, &wet, 2.0, &one_sided);
    assert_eq!(leading(&assessment), [Healthy, Gasket, Gasket, Healthy]);
    let beside = |at: usize| {
        let mut signs = assessment.cylinders[at].causes[0].evidence_for.iter();
        let beside = signs.find_map(|e| match &e.sign {
            Sign::Neighbour {
                neighbour,
                share_of_best,
                share_of_neighbour,
                ..
            } => Some((neighbour.clone(), *share_of_best, *share_of_neighbour)),
            _ => None,
        });
        beside.expect("the neighbour is named")
    };
    assert_eq!(beside(2).0, "2");
    let (neighbour, of_best, of_neighbour) = beside(1);
    assert_eq!(neighbour, "3");
    assert!((of_best - 0.60 / 0.98).abs() < 0.01, "{of_best}");
    assert!((of_neighbour - 0.65 / 0.60).abs() < 0.01, "{of_neighbour}");
}

/// The row read from the other end has the same troubles: what is said of a cylinder does not hang on the
/// order in which cylinders are named.
#[test]
fn a_row_read_from_the_other_end_is_the_same_row() {
    let mirror = |list: &[(usize, f64)]| -> Vec<(usize, f64)> {
        list.iter().map(|(at, share)| (5 - at, *share)).collect()
    };
    for (bad, wet) in [
        (&[(2, 0.65), (3, 0.55)][..], &[(2, 0.70), (3, 0.56)][..]),
        (&[(1, 0.80), (2, 0.50)], &[(1, 0.99)]),
        (&[(1, 0.60), (3, 0.90), (4, 1.20)], &[]),
        (
            &[(1, 0.75), (2, 0.74), (3, 0.73), (4, 0.70)],
            &[(1, 0.9), (4, 0.75)],
        ),
    ] {
        let (here, there) = (row(bad, wet, 2.0), row(&mirror(bad), &mirror(wet), 2.0));
        assert_eq!(here.judgement, there.judgement);
        for at in 0..4 {
            let (ours, theirs) = (&here.cylinders[at], &there.cylinders[3 - at]);
            let kinds = |causes: &[needlerest::assess::Cause]| -> Vec<(CauseKind, f64)> {
                let mut found: Vec<_> = causes.iter().map(|c| (c.kind, c.probability)).collect();
                found.sort_by_key(|(kind, _)| format!("{kind:?}"));
                found
            };
            let (ours, theirs) = (kinds(&ours.causes), kinds(&theirs.causes));
            assert_eq!(ours.len(), theirs.len(), "{bad:?}, cylinder {}", at + 1);
            for (one, other) in ours.iter().zip(&theirs) {
                assert_eq!(one.0, other.0);
                assert!((one.1 - other.1).abs() < 1e-9, "{one:?} {other:?}");
            }
        }
    }
}

/// A held reading that falls while nobody cranks points to the tester, and is told with its rate: 0.75 psi
/// a second of 150 psi is 0.5 %.
#[test]
fn a_falling_needle_is_told_with_its_rate() {
    let mut falling = run(psi(150.0), psi(2.0), Some(2.0));
    let per_second = psi(0.75);
    falling.droop = Some(Droop {
        per_second,
        per_second_standard: psi(0.05),
        watched: Time::from_s(5.0),
    });
    falling.flags.push(Flag::TesterLeaks { per_second });
    let session = Session::default()
        .add("1", ColdDry, falling.clone())
        .add("2", ColdDry, falling);
    let assessment = session.assessed(Some(&card(2, REFERENCE)));
    let cylinder = &assessment.cylinders[0];
    assert_eq!(cylinder.causes[0].kind, CauseKind::TesterLeak);
    let signs = &cylinder.causes[0].evidence_for;
    let told = signs.iter().find(|e| matches!(e.sign, Sign::HeldFalls {}));
    let text = &told.expect("told").text;
    assert!(text.contains("falls by 0.5 % a second"), "{text}");
}
