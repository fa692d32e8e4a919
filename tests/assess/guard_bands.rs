//! Decisions near a limit (JCGM 106:2012).

use crate::support::{Session, card, psi, run};
use needlerest::assess::guard::{at_least, at_most, judge, normal_below};
use needlerest::assess::{Judgement, RuleSet};
use needlerest::engine::Condition::WarmDry;

/// Φ at usual quantiles of the standard normal distribution, as SciPy has it
/// (`fixtures/engine/tables.py`).
#[test]
fn the_normal_distribution() {
    for (z, p) in [
        (0.0, 0.5),
        (1.0, 0.841_345),
        (1.644_854, 0.95),
        (1.959_964, 0.975),
        (-1.644_854, 0.05),
        (3.0, 0.998_650),
    ] {
        assert!((normal_below(z) - p).abs() < 1e-6, "{z}");
    }
}

/// A reading 1.645 standard uncertainties inside a limit keeps it with 95 %: the guard band of
/// w = 1.64 u (JCGM 106, table for a 5 % risk; from memory).
#[test]
fn a_reading_at_the_edge_of_the_guard_band() {
    let inside = at_least(100.0 + 1.65, 1.0, 100.0);
    let outside = at_least(100.0 - 1.65, 1.0, 100.0);
    assert_eq!(judge(inside, 0.95), Judgement::Pass);
    assert_eq!(judge(outside, 0.95), Judgement::Fail);
    for near in [-1.6, 0.0, 1.6] {
        assert_eq!(
            judge(at_least(100.0 + near, 1.0, 100.0), 0.95),
            Judgement::TooCloseToCall
        );
    }
    assert_eq!(at_most(3.0, 0.0, 3.0), 1.0);
    assert_eq!(judge(f64::NAN, 0.95), Judgement::NotJudged);
}

/// The same readings are judged or too close to call by how well they are known.
#[test]
fn the_uncertainty_decides_whether_it_can_be_called() {
    let judged = |readings: &[f64], expanded| {
        Session::default()
            .with(WarmDry, readings, expanded)
            .assessed(None)
            .comparisons[0]
            .judgement
    };
    assert_eq!(judged(&[140.0, 130.0], 1.0), Judgement::Pass);
    assert_eq!(judged(&[140.0, 128.0], 8.0), Judgement::TooCloseToCall);
    assert_eq!(judged(&[140.0, 120.0], 1.0), Judgement::Fail);
    assert_eq!(judged(&[140.0, 120.0], 20.0), Judgement::TooCloseToCall);
}

/// A comparison uses what the runs do not share; a limit uses the whole uncertainty.
#[test]
fn what_is_common_cancels_in_a_comparison_only() {
    let mut session = Session::default().with(WarmDry, &[140.0, 130.0], 12.0);
    for (_, _, _, result) in &mut session.runs {
        let reading = result.reading.as_mut().unwrap();
        reading.expanded_relative = reading.expanded * 0.05;
    }
    let limits = "[limits]\nservice_limit = \"128 psi\"\n";
    let assessment = session.assessed(Some(&card(2, limits)));
    assert_eq!(assessment.comparisons[0].judgement, Judgement::Pass);
    let service = assessment
        .findings
        .iter()
        .find(|f| f.cylinders == ["2"] && f.rule == "service-limit");
    assert_eq!(service.unwrap().judgement, Judgement::TooCloseToCall);
}

/// The rule set sets how sure a decision must be.
#[test]
fn the_rule_set_sets_the_threshold() {
    let bolder = RuleSet {
        decision: 0.6,
        ..RuleSet::default()
    };
    let session = Session::default().with(WarmDry, &[140.0, 128.0], 8.0);
    assert_eq!(
        session.assessed_by(None, &bolder).comparisons[0].judgement,
        Judgement::Pass
    );
}

/// The share of the lowest in the highest is known as a quotient of two independent readings is: the
/// relative variances add (JCGM 100, 5.1.6). 150 ± 4 over 180 ± 3 psi.
#[test]
fn a_share_is_known_as_a_quotient_is() {
    let assessment = Session::default()
        .add("1", WarmDry, run(psi(180.0), psi(3.0), None))
        .add("2", WarmDry, run(psi(150.0), psi(4.0), None))
        .assessed(None);
    let comparison = &assessment.comparisons[0];
    assert!((comparison.share - 150.0 / 180.0).abs() < 1e-12);
    let relative = libm::hypot(4.0 / 150.0, 3.0 / 180.0);
    let expanded = comparison.share * relative;
    assert!(
        (comparison.share_expanded - expanded).abs() < 1e-9,
        "{}",
        comparison.share_expanded
    );
}
