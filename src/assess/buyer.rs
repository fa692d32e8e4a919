//! What a buyer may allow for repairs: cost times probability, summed.

use super::results::{Allowance, AllowancePart, CauseKind, CylinderAssessment};
use super::sentences::percent;
use crate::engine::{Costs, JobCard};

/// Causes, the job that mends them, and its cost on the card.
fn jobs(costs: &Costs) -> [(&'static str, &'static [CauseKind], Option<f64>); 5] {
    [
        (
            "top-end job (rings and bore)",
            &[CauseKind::Rings],
            costs.top_end,
        ),
        ("valve job", &[CauseKind::Valve], costs.valve_job),
        ("head gasket", &[CauseKind::Gasket], costs.gasket),
        ("decoking", &[CauseKind::HighCompression], costs.decoke),
        (
            "cam or valve timing",
            &[CauseKind::ValveTiming],
            costs.timing,
        ),
    ]
}

/// The expected allowance; none where the card gives no costs or nothing was read.
pub(super) fn allowance(card: &JobCard, cylinders: &[CylinderAssessment]) -> Option<Allowance> {
    let costs = card.costs.as_ref()?;
    if cylinders.iter().all(|c| c.causes.is_empty()) {
        return None;
    }
    let mut parts = Vec::new();
    let mut missing = Vec::new();
    for (job, kinds, cost) in jobs(costs) {
        let probability = match kinds {
            [kind @ (CauseKind::Gasket | CauseKind::ValveTiming)] => shared(cylinders, *kind),
            _ => at_least_one(cylinders, kinds),
        };
        match cost {
            Some(cost) => parts.push(AllowancePart {
                job: job.to_owned(),
                cost,
                probability,
            }),
            None if probability >= 0.05 => {
                missing.push(format!("{job} ({})", percent(probability)));
            }
            None => {}
        }
    }
    let expected = parts.iter().map(|part| part.cost * part.probability).sum();
    let left_out = if missing.is_empty() {
        String::new()
    } else {
        format!(
            "Not complete: the card gives no cost for: {}. ",
            missing.join(", ")
        )
    };
    let text = format!(
        "{left_out}On average {expected:.0} {} over what the readings leave open, one job of each kind at \
         the most. The readings say how well the cylinders hold pressure while they are cranked. \
         They say nothing of bearings, gearbox, cooling, fuel or ignition, and they do not prove a \
         cause: a leak-down test does.",
        costs.currency
    );
    Some(Allowance {
        currency: costs.currency.clone(),
        expected,
        parts,
        text,
    })
}

/// Probability that at least one cylinder needs a job. Rings-or-valve counts half for each.
fn at_least_one(cylinders: &[CylinderAssessment], kinds: &[CauseKind]) -> f64 {
    let none: f64 = cylinders
        .iter()
        .map(|cylinder| {
            let own: f64 = cylinder
                .causes
                .iter()
                .map(|cause| {
                    let shared = cause.kind == CauseKind::RingsOrValve
                        && (kinds.contains(&CauseKind::Rings) || kinds.contains(&CauseKind::Valve));
                    if kinds.contains(&cause.kind) {
                        cause.probability
                    } else if shared {
                        cause.probability / 2.0
                    } else {
                        0.0
                    }
                })
                .sum();
            1.0 - own.clamp(0.0, 1.0)
        })
        .product();
    1.0 - none
}

/// Highest probability of any cylinder: for a fault that cylinders share.
fn shared(cylinders: &[CylinderAssessment], kind: CauseKind) -> f64 {
    cylinders
        .iter()
        .flat_map(|cylinder| &cylinder.causes)
        .filter(|cause| cause.kind == kind)
        .map(|cause| cause.probability)
        .fold(0.0, f64::max)
}
