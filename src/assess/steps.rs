//! What to do next.

use super::case::{Case, Entry};
use super::level::card_doubted;
use super::results::{Cause, CauseKind, CylinderAssessment, Judgement};
use super::saying::{Again, Look, NextStep, Saying};
use super::suspects::{suspects, unheard};
use super::verdict::{Verdict, test_fault};
use crate::engine::{Condition, Ignition};
use crate::signal::{Flag, Grade};

/// A share of the best cylinder from which a cylinder serves as a healthy control.
const CONTROL: f64 = 0.95;

/// Most steps: more than these nobody reads.
const MOST_STEPS: usize = 6;

/// What to do next, most telling first.
pub(super) fn steps(
    case: &Case<'_>,
    cylinders: &[CylinderAssessment<Saying>],
    verdict: &Verdict,
) -> Vec<NextStep> {
    let judgement = verdict.judgement;
    let mut steps: Vec<NextStep> = test_first(case, cylinders).into_iter().collect();
    steps.extend(card_doubted(case).map(|_| NextStep::LookUpCard));
    let alone: Vec<usize> = match judgement {
        Judgement::Unconfirmed => verdict.low.clone(),
        _ => Vec::new(),
    };
    steps.extend(bear_out(case, &alone));
    steps.extend(fill_in(case, verdict));
    let repeats = repeats(case, &alone);
    // Where the readings already tell, a stroke or two more come after what they point to.
    let told = matches!(judgement, Judgement::Fail | Judgement::Pass);
    if !told {
        steps.extend(repeats.iter().cloned());
    }
    let doubtful = !matches!(
        judgement,
        Judgement::Pass | Judgement::NotJudged | Judgement::Incomplete
    );
    let suspects: Vec<(usize, &CylinderAssessment<Saying>)> = suspects(cylinders).collect();
    wet_next(case, &suspects, &mut steps);
    if case.kind.is_diesel() && doubtful {
        steps.push(NextStep::NoOil);
    }
    steps.extend(look_at(case, cylinders));
    let no_causes = case.kind.reading_only().is_some();
    let to_confirm = suspects.iter().any(|(at, _)| unheard(case, *at));
    if to_confirm || no_causes && doubtful {
        steps.push(leak_down(case));
    }
    if told {
        steps.extend(repeats);
    }
    let cold = case.dry == Some(Condition::ColdDry);
    if cold && !no_causes && judgement != Judgement::Pass {
        steps.push(NextStep::ReadWarm);
    }
    if steps.is_empty() && judgement == Judgement::Pass {
        steps.push(NextStep::Nothing);
    }
    steps.truncate(MOST_STEPS);
    steps
}

/// A bad test is put right before anything is made of it.
fn test_first(case: &Case<'_>, cylinders: &[CylinderAssessment<Saying>]) -> Option<NextStep> {
    let leaks = |flag: &Flag| matches!(flag, Flag::TesterLeaks { .. });
    match test_fault(cylinders).map(|cause| cause.kind) {
        Some(CauseKind::ThrottleShut) => Some(NextStep::OpenThrottle),
        Some(CauseKind::SlowCranking) => Some(NextStep::TurnFaster(case.kind.start)),
        Some(CauseKind::TesterLeak) => Some(NextStep::TightenTester),
        _ => {
            let mut entries = case.cylinders.iter().flat_map(|c| c.entries.values());
            let leaky = entries.any(|entry| entry.result.flags.iter().any(leaks));
            leaky.then_some(NextStep::FindTesterLeak)
        }
    }
}

/// The run that settles whether cylinders that are all low alike are so: what they share is put
/// out of doubt.
fn bear_out(case: &Case<'_>, alone: &[usize]) -> Option<NextStep> {
    let condition = case.dry?;
    (!alone.is_empty()).then(|| NextStep::BearOut {
        cylinders: case.names(alone),
        condition,
        throttle: case.ignition == Ignition::Spark,
    })
}

/// Dry runs that are missing.
fn fill_in(case: &Case<'_>, verdict: &Verdict) -> Option<NextStep> {
    let condition = case.dry?;
    (!verdict.missing.is_empty()).then(|| NextStep::FillIn {
        cylinders: case.names(&verdict.missing),
        condition,
    })
}

/// Runs to be made again, one line for each reason; without the dry runs of those that are to be
/// borne out.
fn repeats(case: &Case<'_>, alone: &[usize]) -> Vec<NextStep> {
    let poor = |entry: &Entry<'_>| !entry.at_least && entry.result.grade == Grade::Poor;
    [
        again(case, alone, |entry| entry.at_least, Again::Climbing),
        again(case, alone, poor, Again::Poor),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The runs that are to be made again for a reason.
fn again(
    case: &Case<'_>,
    alone: &[usize],
    wanted: impl Fn(&Entry<'_>) -> bool,
    why: Again,
) -> Option<NextStep> {
    let runs: Vec<(Condition, Vec<String>)> = Condition::ALL
        .into_iter()
        .map(|condition| {
            let names = case
                .of(condition)
                .into_iter()
                .filter(|(at, entry)| {
                    let named = case.dry == Some(condition) && alone.contains(at);
                    wanted(entry) && !named
                })
                .map(|(at, _)| case.name(at).to_owned())
                .collect();
            (condition, names)
        })
        .filter(|(_, names): &(Condition, Vec<String>)| !names.is_empty())
        .collect();
    (!runs.is_empty()).then_some(NextStep::Repeat { runs, why })
}

/// The wet run, and a healthy cylinder wetted beside it as a control.
fn wet_next(
    case: &Case<'_>,
    suspects: &[(usize, &CylinderAssessment<Saying>)],
    steps: &mut Vec<NextStep>,
) {
    let Some(dose) = case.kind.dose_cm3().filter(|_| case.kind.is_worth_oil()) else {
        return;
    };
    let wet = |at: usize| {
        case.cylinders
            .get(at)
            .is_some_and(|c| c.entries.contains_key(&Condition::Wet))
    };
    let dry_only: Vec<String> = suspects
        .iter()
        .filter(|(at, _)| !wet(*at))
        .map(|(_, c)| c.name.clone())
        .collect();
    // Of a gasket the neighbours tell: there oil has little to add.
    let by_oil = |cylinder: &CylinderAssessment<Saying>| {
        let leading = cylinder.causes.first();
        leading.is_some_and(|cause| cause.kind != CauseKind::Gasket)
    };
    let wetted_suspect = suspects
        .iter()
        .any(|(at, cylinder)| by_oil(cylinder) && (wet(*at) || dry_only.contains(&cylinder.name)));
    if !dry_only.is_empty() {
        steps.push(NextStep::Wet {
            cylinders: dry_only.clone(),
            dose_cm3: dose,
            chamber_known: case.kind.chamber_cm3.is_some(),
        });
    }
    let suspected = |control: &usize| suspects.iter().any(|(at, _)| at == control);
    let control = control(case).filter(|control| wetted_suspect && !suspected(control));
    if let Some(control) = control {
        steps.push(NextStep::WetControl(case.name(control).to_owned()));
    }
}

/// A cylinder that reads well and was not wetted yet.
fn control(case: &Case<'_>) -> Option<usize> {
    let readings = case.of(case.dry?);
    let best = readings
        .iter()
        .map(|(_, entry)| entry.value.pa())
        .fold(0.0, f64::max);
    let well = |at: usize| {
        case.dry_entry(at)
            .is_some_and(|entry| entry.value.pa() >= CONTROL * best)
    };
    let wetted = |at: usize| {
        case.cylinders
            .get(at)
            .is_some_and(|c| c.entries.contains_key(&Condition::Wet))
    };
    if readings.len() < 2 || readings.iter().any(|(at, _)| well(*at) && wetted(*at)) {
        return None;
    }
    readings
        .iter()
        .filter(|(at, _)| well(*at))
        .max_by(|a, b| a.1.value.pa().total_cmp(&b.1.value.pa()))
        .map(|(at, _)| *at)
}

/// What to look at: one line for each leading cause, with all the cylinders that it leads in.
fn look_at(case: &Case<'_>, cylinders: &[CylinderAssessment<Saying>]) -> Vec<NextStep> {
    let mut by_kind: Vec<(&Cause<Saying>, Vec<String>)> = Vec::new();
    for (cylinder, cause) in cylinders
        .iter()
        .filter_map(|c| c.causes.first().map(|cause| (c, cause)))
    {
        let mut names = match cause.kind {
            CauseKind::Gasket => cause.cylinders.clone(),
            _ => vec![cylinder.name.clone()],
        };
        match by_kind
            .iter_mut()
            .find(|(known, _)| known.kind == cause.kind)
        {
            Some((_, known)) => {
                names.retain(|name| !known.contains(name));
                known.append(&mut names);
            }
            None => by_kind.push((cause, names)),
        }
    }
    by_kind.sort_by(|a, b| b.0.probability.total_cmp(&a.0.probability));
    by_kind
        .into_iter()
        .filter_map(|(cause, names)| Some(NextStep::LookAt(look(case, cause.kind)?, names)))
        .collect()
}

/// What to look at where this is the leading cause.
fn look(case: &Case<'_>, kind: CauseKind) -> Option<Look> {
    Some(match kind {
        CauseKind::Valve => Look::Clearances,
        CauseKind::Gasket => Look::Head,
        CauseKind::Rings if case.kind.is_two_stroke() => Look::RingsByPort,
        CauseKind::Rings => Look::RingsByBreather,
        CauseKind::RingsOrValve => Look::ClearancesFirst,
        CauseKind::HighCompression => Look::Chamber,
        CauseKind::ValveTiming => Look::Timing,
        CauseKind::Healthy
        | CauseKind::ThrottleShut
        | CauseKind::SlowCranking
        | CauseKind::TesterLeak => return None,
    })
}

/// The test that finds where the air goes.
fn leak_down(case: &Case<'_>) -> NextStep {
    NextStep::LeakDown {
        two_stroke: case.kind.is_two_stroke(),
        diesel: case.kind.is_diesel(),
        fuel: case.kind.fuel,
    }
}
