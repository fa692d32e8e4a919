//! What a buyer may allow for repairs: cost times probability, summed.

use super::results::{Allowance, AllowancePart, CauseKind, CylinderAssessment};
use super::saying::{Repair, Saying};
use crate::engine::{Costs, JobCard};

/// Repairs, the cause that each mends, and its cost on the card.
fn repairs(costs: &Costs) -> [(Repair, CauseKind, Option<f64>); 5] {
    [
        (Repair::TopEnd, CauseKind::Rings, costs.top_end),
        (Repair::Valves, CauseKind::Valve, costs.valve_job),
        (Repair::Gasket, CauseKind::Gasket, costs.gasket),
        (Repair::Decoke, CauseKind::HighCompression, costs.decoke),
        (Repair::Timing, CauseKind::ValveTiming, costs.timing),
    ]
}

/// The expected allowance; none where the card gives no costs or nothing was read.
pub(super) fn allowance(
    card: &JobCard,
    cylinders: &[CylinderAssessment<Saying>],
) -> Option<Allowance<Saying>> {
    let costs = card.costs.as_ref()?;
    if cylinders.iter().all(|c| c.causes.is_empty()) {
        return None;
    }
    let mut parts = Vec::new();
    let mut missing = Vec::new();
    for (repair, mends, cost) in repairs(costs) {
        let probability = match mends {
            CauseKind::Gasket | CauseKind::ValveTiming => shared(cylinders, mends),
            _ => at_least_one(cylinders, mends),
        };
        match cost {
            Some(cost) => parts.push(AllowancePart {
                job: Saying::Repair(repair),
                cost,
                probability,
            }),
            None if probability >= 0.05 => missing.push((repair, probability)),
            None => {}
        }
    }
    let expected = parts.iter().map(|part| part.cost * part.probability).sum();
    Some(Allowance {
        currency: costs.currency.clone(),
        expected,
        parts,
        text: Saying::Allowance {
            expected,
            currency: costs.currency.clone(),
            missing,
        },
    })
}

/// Probability that at least one cylinder needs a job. Rings-or-valve counts half for each.
fn at_least_one(cylinders: &[CylinderAssessment<Saying>], kind: CauseKind) -> f64 {
    let none: f64 = cylinders
        .iter()
        .map(|cylinder| {
            let own: f64 = cylinder
                .causes
                .iter()
                .map(|cause| {
                    let shared = cause.kind == CauseKind::RingsOrValve
                        && matches!(kind, CauseKind::Rings | CauseKind::Valve);
                    if cause.kind == kind {
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
fn shared(cylinders: &[CylinderAssessment<Saying>], kind: CauseKind) -> f64 {
    cylinders
        .iter()
        .flat_map(|cylinder| &cylinder.causes)
        .filter(|cause| cause.kind == kind)
        .map(|cause| cause.probability)
        .fold(0.0, f64::max)
}
