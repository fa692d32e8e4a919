//! What a buyer may allow: cost times probability, and what is left out is said first.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Allowance, Assessment, CauseKind};
use needlerest::engine::Condition::{WarmDry, Wet};

const COSTS: &str = "[costs]\ncurrency = \"EUR\"\ntop_end = 900.0\nvalve_job = 400.0\n";

/// Three cylinders, the middle one low and lifted by oil.
fn worn_rings(costs: &str) -> Assessment {
    Session::default()
        .with(WarmDry, &[230.0, 140.0, 232.0], 2.0)
        .add("2", Wet, run(psi(205.0), psi(2.0), Some(125.0 / 60.0)))
        .assessed(Some(&card(3, &format!("{REFERENCE}{costs}"))))
}

fn part<'a>(allowance: &'a Allowance, job: &str) -> &'a needlerest::assess::AllowancePart {
    let found = allowance.parts.iter().find(|part| part.job.contains(job));
    found.unwrap()
}

#[test]
fn the_allowance_is_cost_times_probability() {
    let assessment = worn_rings(COSTS);
    let allowance = assessment.allowance.as_ref().unwrap();
    // At least one cylinder needs it: one less the product of those that do not. Where rings and
    // valve are not told apart, half of it counts for each.
    let without: f64 = assessment
        .cylinders
        .iter()
        .map(|cylinder| {
            let of = |kind| {
                let found = cylinder.causes.iter().find(|cause| cause.kind == kind);
                found.map_or(0.0, |cause| cause.probability)
            };
            1.0 - of(CauseKind::Rings) - of(CauseKind::RingsOrValve) / 2.0
        })
        .product();
    let top_end = part(allowance, "top-end");
    assert!((top_end.probability - (1.0 - without)).abs() < 1e-12);
    assert!(top_end.probability > 0.5);
    let sum: f64 = allowance.parts.iter().map(|p| p.cost * p.probability).sum();
    assert!((allowance.expected - sum).abs() < 1e-9);
    assert!(allowance.text.contains("do not prove a cause"));
}

#[test]
fn a_probable_job_without_a_cost_is_told_first() {
    let assessment = worn_rings("[costs]\ncurrency = \"EUR\"\nvalve_job = 400.0\n");
    let text = assessment.allowance.unwrap().text;
    assert!(
        text.starts_with("Not complete: the card gives no cost for: top-end job"),
        "{text}"
    );
    assert!(!text.contains("100 %"), "{text}");
    assert_eq!(worn_rings("").allowance, None);
}
