//! Published rules of comparison, case by case, each beside its source.

use crate::support::Session;
use needlerest::assess::{Assessment, Finding, Judgement};
use needlerest::engine::Condition::WarmDry;

fn rule<'a>(assessment: &'a Assessment, key: &str) -> &'a Finding {
    let found = assessment.findings.iter().find(|f| f.rule == key);
    found.unwrap_or_else(|| panic!("no finding by {key}"))
}

fn judged(readings: &[f64], key: &str) -> Judgement {
    rule(&Session::bare(WarmDry, readings).assessed(None), key).judgement
}

/// TM 5-4210-230-14&P-1, Addendum 2: lowest at least 75 % of highest. Exactly at it passes.
#[test]
fn three_quarters_of_the_highest() {
    let by = |low| judged(&[150.0, low], "three-quarters-of-highest");
    assert_eq!(by(112.0), Judgement::Fail);
    assert_eq!(by(112.5), Judgement::Pass);
    assert_eq!(by(113.0), Judgement::Pass);
}

/// US Army Ordnance course OD1001, lesson 3: highest less lowest at most 25 psi.
#[test]
fn a_spread_of_25_psi() {
    assert_eq!(judged(&[110.0, 85.0], "spread-25-psi"), Judgement::Pass);
    assert_eq!(judged(&[111.0, 85.0], "spread-25-psi"), Judgement::Fail);
}

/// TM 10-3930-618-20, paragraph 2-12: within 10 psi.
#[test]
fn a_spread_of_10_psi() {
    assert_eq!(judged(&[125.0, 115.0], "spread-10-psi"), Judgement::Pass);
    assert_eq!(judged(&[125.0, 114.0], "spread-10-psi"), Judgement::Fail);
}

/// TM 1-1500-204-23-1, (d) step 8: 20 % below the average of all cylinders, the low one included:
/// 100, 100, 100, 70 have the mean 92.5 and the limit 74.0.
#[test]
fn a_fifth_below_the_mean_that_includes_the_low_cylinder() {
    let by = |low| judged(&[100.0, 100.0, 100.0, low], "fifth-below-mean");
    assert_eq!(by(70.0), Judgement::Fail);
    // 0.8 · (300 + x)/4 = x at x = 75: exactly at the limit.
    assert_eq!(by(75.0), Judgement::Pass);
    assert_eq!(by(74.9), Judgement::Fail);
}

/// TM 5-3895-359-14&P, Table 2: 445, 440, 405, 435 psi. The same readings fail a 25 psi spread
/// and pass 75 % of the highest and 20 % below the mean: the rule decides, and the report says so.
#[test]
fn the_rule_chosen_decides_the_worked_example() {
    let assessment = Session::bare(WarmDry, &[445.0, 440.0, 405.0, 435.0]).assessed(None);
    assert_eq!(
        rule(&assessment, "spread-25-psi").judgement,
        Judgement::Fail
    );
    assert_eq!(rule(&assessment, "spread-25-psi").cylinders, ["3"]);
    for key in ["three-quarters-of-highest", "fifth-below-mean"] {
        assert_eq!(rule(&assessment, key).judgement, Judgement::Pass, "{key}");
    }
    let share = assessment.comparisons.first().unwrap().share;
    assert!((share - 0.9101).abs() < 5e-5);
    let said = assessment.disagreement.unwrap();
    assert!(
        said.contains("OD1001") && said.contains("TM 5-4210-230-14&P-1"),
        "{said}"
    );
}

/// Common practice, no source: within 10 % of the highest. 130 and 140 pass, 120 and 140 fail.
#[test]
fn within_ten_per_cent() {
    assert_eq!(judged(&[130.0, 140.0], "within-a-tenth"), Judgement::Pass);
    assert_eq!(judged(&[120.0, 140.0], "within-a-tenth"), Judgement::Fail);
    assert_eq!(judged(&[126.0, 140.0], "within-a-tenth"), Judgement::Pass);
}
