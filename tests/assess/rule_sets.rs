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
