//! Rule sets as data: what ships, and mistakes in one of the user's own.

use crate::support::Session;
use needlerest::assess::rules::RuleKind;
use needlerest::assess::{Judgement, Role, RuleError, RuleSet};
use needlerest::engine::Condition::WarmDry;

#[test]
fn the_set_that_ships_is_readable_and_every_rule_has_a_source() {
    let set = RuleSet::parse(RuleSet::SHIPPED).unwrap();
    assert!(set.rules.len() >= 15);
    for rule in &set.rules {
        assert!(
            !rule.source.is_empty() && !rule.applies.is_empty(),
            "{}",
            rule.key
        );
    }
}

/// The user chooses by what they compare: here OD1001's 25 psi instead of the tenth.
#[test]
fn another_rule_decides() {
    let own = "format = \"needlerest-rules\"\nversion = 1\nname = \"truck\"\ndecision = 0.9\n\
               altitude = \"none\"\n[[rule]]\nkey = \"spread\"\nkind = \"spread\"\nlimit = 25.0\n\
               unit = \"psi\"\nrole = \"decides\"\napplies = \"light trucks\"\n\
               source = \"OD1001, lesson 3\"\n";
    let set = RuleSet::parse(own).unwrap();
    assert_eq!(set.rules[0].kind, RuleKind::Spread);
    assert_eq!(set.rules[0].role, Role::Decides);
    let session = Session::bare(WarmDry, &[140.0, 120.0]);
    let by_ours = session.assessed(None);
    assert_eq!(by_ours.comparisons[0].judgement, Judgement::Fail);
    let by_own = session.assessed_by(None, &set);
    assert_eq!(by_own.judgement, Judgement::Pass);
    assert_eq!(by_own.rule_set, "truck");
}

#[test]
fn mistakes_are_named() {
    let with = |from: &str, to: &str| {
        let text = RuleSet::SHIPPED.replacen(from, to, 1);
        assert_ne!(text, RuleSet::SHIPPED, "{from}");
        RuleSet::parse(&text).unwrap_err()
    };
    let told = |from, to| with(from, to).to_string();
    assert!(told("limit = 0.90", "limit = 1.90").contains("within-a-tenth"));
    assert!(told("limit = 0.75", "limit = nan").contains("three-quarters"));
    assert!(told("unit = \"psi\"", "unit = \"share\"").contains("spread-25-psi"));
    assert!(told("decision = 0.9\n", "decision = 0.2\n").contains("decision"));
    assert!(told("key = \"spread-10-psi\"", "key = \"spread-25-psi\"").contains("twice"));
    assert!(told("source = \"common practice, no source\"", "source = \"\"").contains("source"));
    assert!(matches!(
        with("version = 1", "version = 2"),
        RuleError::Foreign { .. }
    ));
    assert!(
        matches!(with("kind = \"spread\"", "kind = \"guess\""), RuleError::Form { line, .. } if line > 40)
    );
    assert!(RuleSet::parse("").is_err());
}

/// A rule set of one rule that decides.
fn rule_of(kind: &str, limit: f64, unit: &str, source: &str) -> RuleSet {
    let text = format!(
        "format = \"needlerest-rules\"\nversion = 1\nname = \"own\"\ndecision = 0.9\n\
         altitude = \"none\"\n[[rule]]\nkey = \"own\"\nkind = \"{kind}\"\nlimit = {limit:?}\n\
         unit = \"{unit}\"\nrole = \"decides\"\napplies = \"what the source says\"\n\
         source = \"{source}\"\n"
    );
    RuleSet::parse(&text).unwrap()
}

fn judged_by(rules: &RuleSet, readings: &[f64]) -> Judgement {
    let assessment = Session::bare(WarmDry, readings).assessed_by(None, rules);
    let mut found = assessment
        .findings
        .iter()
        .filter(|finding| finding.rule == "own");
    found.next().unwrap().judgement
}

/// A car maker's service manual, engine compression test, 2006: the lowest at least 70 % of the highest;
/// it works an example: 150 psi allow 105.
#[test]
fn a_car_makers_seventy_per_cent() {
    let rules = rule_of(
        "share-of-highest",
        0.7,
        "share",
        "a car maker's service manual, 2006",
    );
    assert_eq!(judged_by(&rules, &[150.0, 105.0]), Judgement::Pass);
    assert_eq!(judged_by(&rules, &[150.0, 104.0]), Judgement::Fail);
}

/// A small car maker's service manual, 2000: within 100 kPa, which it prints as 15 psi (14.5).
#[test]
fn a_car_makers_hundred_kilopascal() {
    let rules = rule_of("spread", 100.0, "kPa", "a car maker's service manual, 2000");
    let kpa = |pa: f64| pa / crate::support::psi(1.0).kpa();
    assert_eq!(
        judged_by(&rules, &[kpa(1350.0), kpa(1250.0)]),
        Judgement::Pass
    );
    assert_eq!(
        judged_by(&rules, &[kpa(1350.0), kpa(1249.0)]),
        Judgement::Fail
    );
}

/// TM 5-3895-359-14&P, Table 2: 445, 440, 405 and 435 psi are 40 psi apart, more than its 25; without the
/// third cylinder they keep the rule.
#[test]
fn a_manuals_worked_example_by_its_own_rule() {
    let rules = rule_of("spread", 25.0, "psi", "TM 5-3895-359-14&P, page 0498");
    assert_eq!(
        judged_by(&rules, &[445.0, 440.0, 405.0, 435.0]),
        Judgement::Fail
    );
    assert_eq!(judged_by(&rules, &[445.0, 440.0, 435.0]), Judgement::Pass);
}
