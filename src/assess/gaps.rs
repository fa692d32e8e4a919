//! What the runs made cannot tell.

use super::case::Case;
use super::causes::told_apart;
use super::results::CylinderAssessment;
use super::saying::{Gap, Missing, Saying};
use super::suspects::{suspects, unheard};
use crate::engine::{Condition, Cycle};

/// What the runs made cannot tell.
pub(super) fn gaps(case: &Case<'_>, cylinders: &[CylinderAssessment<Saying>]) -> Vec<Gap> {
    let mut gaps = Vec::new();
    no_readings(case, &mut gaps);
    let read = (0..case.cylinders.len()).filter(|at| case.dry_entry(*at).is_some());
    if read.count() == 1 {
        gaps.push(if case.cylinders.len() > 1 {
            Gap::OneOfSeveral
        } else {
            Gap::SingleCylinder
        });
    }
    gaps.extend(mixed_conditions(case));
    gaps.extend(only_wet(case));
    rings_from_valve(case, cylinders, &mut gaps);
    let several = case.cylinders.len() > 1;
    if several && case.cylinders.iter().all(|c| c.neighbours.is_empty()) {
        gaps.push(Gap::NoNeighbours);
    }
    gaps.extend(thin_card(case));
    gaps.extend(case.kind.reading_only().map(Gap::ReadingOnly));
    gaps
}

fn no_readings(case: &Case<'_>, gaps: &mut Vec<Gap>) {
    let cylinders = case.cylinders.iter().enumerate();
    for (at, cylinder) in cylinders.filter(|(_, c)| c.entries.is_empty()) {
        let name = cylinder.name.clone();
        gaps.push(if case.aired(at).is_some() {
            Gap::AirOnly(name)
        } else {
            Gap::NoReading(name)
        });
    }
    for (_, name, condition) in &case.unusable {
        let counted = case
            .cylinders
            .iter()
            .any(|c| &c.name == name && c.entries.contains_key(condition));
        if !counted {
            gaps.push(Gap::RunWithoutReading(name.clone(), *condition));
        }
    }
    if case.card.is_some() {
        let unknown = case.cylinders.iter().filter(|c| !c.on_card);
        gaps.extend(unknown.map(|c| Gap::NotOnCard(c.name.clone())));
    }
}

fn mixed_conditions(case: &Case<'_>) -> Option<Gap> {
    let others = case.dry?;
    let only = match others {
        Condition::WarmDry => Condition::ColdDry,
        _ => Condition::WarmDry,
    };
    let left_out: Vec<String> = case
        .cylinders
        .iter()
        .filter(|c| !c.entries.contains_key(&others) && c.entries.contains_key(&only))
        .map(|c| c.name.clone())
        .collect();
    (!left_out.is_empty()).then_some(Gap::Mixed {
        left_out,
        only,
        others,
    })
}

fn only_wet(case: &Case<'_>) -> Option<Gap> {
    let only_wet: Vec<String> = case
        .cylinders
        .iter()
        .filter(|c| c.entries.contains_key(&Condition::Wet) && c.entries.len() == 1)
        .map(|c| c.name.clone())
        .collect();
    (!only_wet.is_empty()).then_some(Gap::OnlyWet(only_wet))
}

fn rings_from_valve(
    case: &Case<'_>,
    cylinders: &[CylinderAssessment<Saying>],
    gaps: &mut Vec<Gap>,
) {
    let open: Vec<String> = suspects(cylinders)
        .filter(|(at, _)| !told_apart(case, *at))
        .map(|(_, c)| c.name.clone())
        .collect();
    if !open.is_empty() {
        gaps.push(Gap::RingsOrValves(open));
    }
    if suspects(cylinders).any(|(at, _)| unheard(case, at)) && case.cycle != Some(Cycle::TwoStroke)
    {
        gaps.push(Gap::WhichValve);
    }
}

fn thin_card(case: &Case<'_>) -> Option<Gap> {
    let Some(card) = case.card else {
        return Some(Gap::NoCard);
    };
    let spec = &card.engine;
    let missing: Vec<Missing> = [
        (Missing::Bore, spec.bore_mm.is_none()),
        (Missing::Stroke, spec.stroke_mm.is_none()),
        (Missing::Ratio, spec.compression_ratio.is_none()),
    ]
    .into_iter()
    .filter_map(|(name, missing)| missing.then_some(name))
    .collect();
    (!missing.is_empty()).then_some(Gap::ThinCard(missing))
}
