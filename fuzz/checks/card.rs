use needlerest::assess::{RuleSet, assess};
use needlerest::engine::JobCard;

/// Any text is a sound job card or a list of clear mistakes; a sound one can be assessed and
/// written again.
pub fn job_card(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let card = match JobCard::parse(&text) {
        Ok(card) => card,
        Err(error) => {
            let lines = text.split('\n').count();
            assert!(!error.mistakes.is_empty());
            for mistake in &error.mistakes {
                assert!(
                    mistake.line.is_none_or(|line| (1..=lines).contains(&line)),
                    "{mistake}"
                );
                assert!(
                    !mistake.problem.is_empty() && !mistake.remedy.is_empty(),
                    "{mistake:?}"
                );
            }
            return;
        }
    };
    let json = serde_json::to_string(&card).expect("a card is plain data");
    assert_eq!(serde_json::from_str::<JobCard>(&json).expect(&json), card);
    let assessment = assess(Some(&card), &[], &RuleSet::default());
    assert_eq!(assessment.cylinders.len(), card.cylinders.len());
    let expected = assessment
        .expected
        .iter()
        .flat_map(|e| [e.low.pa(), e.likely.pa(), e.high.pa()]);
    assert!(
        expected.into_iter().all(f64::is_finite),
        "{:?}",
        assessment.expected
    );
}
