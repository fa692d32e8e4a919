//! What the runs made cannot tell, what was taken for granted, and what to do next.

use super::case::{Case, Entry};
use super::causes::told_apart;
use super::level::{ambient_note, card_doubted};
use super::remedies::{leak_down, look, reading_only, turn_faster};
use super::results::{Cause, CauseKind, CylinderAssessment, Judgement};
use super::sentences::listed;
use super::verdict::{Verdict, test_fault};
use crate::engine::oil::{BY_HAND, MOST_CM3, measured};
use crate::engine::{Condition, Cycle, Geometry, Ignition};
use crate::signal::{Flag, Grade};

/// A share of the best cylinder from which a cylinder serves as a healthy control.
const CONTROL: f64 = 0.95;

/// What the runs made cannot tell.
pub(super) fn cannot_tell(case: &Case<'_>, cylinders: &[CylinderAssessment]) -> Vec<String> {
    let mut said = Vec::new();
    no_readings(case, &mut said);
    let measured: Vec<usize> = (0..case.cylinders.len())
        .filter(|at| case.dry_entry(*at).is_some())
        .collect();
    if measured.len() == 1 && case.cylinders.len() > 1 {
        said.push(
            "Only one cylinder was read: the cylinders cannot be compared with each other."
                .to_owned(),
        );
    } else if measured.len() == 1 {
        said.push(
            "With a single cylinder there is no other to compare with: only the card says what it \
             should read."
                .to_owned(),
        );
    }
    mixed_conditions(case, &mut said);
    only_wet(case, &mut said);
    rings_from_valve(case, cylinders, &mut said);
    layout(case, &mut said);
    thin_card(case, &mut said);
    said.extend(reading_only(case));
    said
}

fn no_readings(case: &Case<'_>, said: &mut Vec<String>) {
    let cylinders = case.cylinders.iter().enumerate();
    for (at, cylinder) in cylinders.filter(|(_, c)| c.entries.is_empty()) {
        if case.aired(at).is_some() {
            said.push(format!(
                "Cylinder {} was tested with air only: it was not read while it was cranked.",
                cylinder.name
            ));
            continue;
        }
        said.push(format!(
            "Cylinder {} has no usable reading: nothing is said about it.",
            cylinder.name
        ));
    }
    for (_, name, condition) in &case.unusable {
        let counted = case
            .cylinders
            .iter()
            .any(|c| &c.name == name && c.entries.contains_key(condition));
        if !counted {
            said.push(format!(
                "The {} run of cylinder {name} gave no reading (no strokes, or none that settled \
                 on anything).",
                condition.label()
            ));
        }
    }
    if case.card.is_some() {
        for cylinder in case.cylinders.iter().filter(|c| !c.on_card) {
            said.push(format!(
                "The recording names a cylinder {} that the job card does not know: its \
                 neighbours are unknown. Give the run the card's name, or add it to the card.",
                cylinder.name
            ));
        }
    }
}

fn mixed_conditions(case: &Case<'_>, said: &mut Vec<String>) {
    let Some(dry) = case.dry else { return };
    let other = match dry {
        Condition::WarmDry => Condition::ColdDry,
        _ => Condition::WarmDry,
    };
    let left_out: Vec<&str> = case
        .cylinders
        .iter()
        .filter(|c| !c.entries.contains_key(&dry) && c.entries.contains_key(&other))
        .map(|c| c.name.as_str())
        .collect();
    if !left_out.is_empty() {
        said.push(format!(
            "Cylinders were read in different conditions: {} only {}, the others {}. They are not \
             compared; read them all in one condition.",
            left_out.join(", "),
            other.label(),
            dry.label()
        ));
    }
}

fn only_wet(case: &Case<'_>, said: &mut Vec<String>) {
    let only_wet: Vec<&str> = case
        .cylinders
        .iter()
        .filter(|c| c.entries.contains_key(&Condition::Wet) && c.entries.len() == 1)
        .map(|c| c.name.as_str())
        .collect();
    if !only_wet.is_empty() {
        said.push(format!(
            "Of cylinder {} there is only a wet reading: without a dry one the change is unknown.",
            only_wet.join(", ")
        ));
    }
}

fn rings_from_valve(case: &Case<'_>, cylinders: &[CylinderAssessment], said: &mut Vec<String>) {
    let open: Vec<&str> = suspects(cylinders)
        .filter(|(at, _)| !told_apart(case, *at))
        .map(|(_, c)| c.name.as_str())
        .collect();
    if !open.is_empty() {
        said.push(format!(
            "No wet run of cylinder {}: rings and valves are not told apart.",
            open.join(", ")
        ));
    }
    if suspects(cylinders).any(|(at, _)| unheard(case, at)) && case.cycle != Some(Cycle::TwoStroke)
    {
        said.push(
            "A leaking intake valve and a leaking exhaust valve look the same from the plug hole."
                .to_owned(),
        );
    }
}

fn layout(case: &Case<'_>, said: &mut Vec<String>) {
    let several = case.cylinders.len() > 1;
    if several && case.cylinders.iter().all(|c| c.neighbours.is_empty()) {
        said.push(
            "The card names no neighbours: a gasket leaking between two cylinders is not looked \
             for. Neighbours are cylinders side by side on one bank, not in firing order."
                .to_owned(),
        );
    }
}

fn thin_card(case: &Case<'_>, said: &mut Vec<String>) {
    let Some(card) = case.card else {
        said.push(
            "There is no job card: the readings are compared with each other only, and nothing \
             says what this engine should read."
                .to_owned(),
        );
        return;
    };
    let spec = &card.engine;
    let absent: Vec<&str> = [
        ("bore", spec.bore_mm.is_none()),
        ("stroke", spec.stroke_mm.is_none()),
        ("compression ratio", spec.compression_ratio.is_none()),
    ]
    .into_iter()
    .filter_map(|(name, missing)| missing.then_some(name))
    .collect();
    if !absent.is_empty() {
        said.push(format!(
            "The card gives no {}: the expected reading, the leak area and the corrections for \
             cadence, tester and oil are not computed, and what all cylinders share (throttle, \
             valve timing, a leak of the tester) cannot be told.",
            absent.join(", no ")
        ));
    }
}

/// What the assessment takes for granted.
pub(super) fn notes(case: &Case<'_>) -> Vec<String> {
    let mut notes: Vec<String> = ambient_note(case).into_iter().collect();
    notes.extend(taken_back(case));
    // Nothing was computed that the rest could be taken for granted in.
    if case.kind.reading_only().is_some() {
        return notes;
    }
    if let Some(card) = case.card {
        let tester = card.tester.as_ref();
        if tester.and_then(|t| t.dead_volume_cm3).is_none() {
            notes.push(
                "The tester's volume at the plug hole is not on the card: it is taken as none. In \
                 a small cylinder a few cm³ lower every reading by some per cent."
                    .to_owned(),
            );
        }
        let wetted = !case.of(Condition::Wet).is_empty();
        if wetted && tester.and_then(|t| t.wet_oil_cm3).is_none() {
            notes.push(format!(
                "The card does not say how much oil was put in: for the causes a tenth of the \
                     chamber is taken, {MOST_CM3:.0} cm³ at most."
            ));
        }
        if Geometry::of(&card.engine).is_some_and(|geometry| !geometry.closing_known) {
            notes.push(
                "The card does not say when compression begins: a usual valve or port timing is \
                 taken."
                    .to_owned(),
            );
        }
    }
    notes.push(
        "Probabilities take causes to be as frequent as we think they are (nobody has published \
         how often): they rank what to look at and prove nothing."
            .to_owned(),
    );
    notes
}

/// Runs that do not count because the user took them back.
fn taken_back(case: &Case<'_>) -> Option<String> {
    let runs: Vec<String> = case
        .void
        .iter()
        .map(|(name, condition)| format!("the {} run of cylinder {name}", condition.label()))
        .collect();
    (!runs.is_empty()).then(|| format!("Taken back, and not counted: {}.", runs.join(", ")))
}

/// Whether nobody has listened yet where a cylinder's air goes.
fn unheard(case: &Case<'_>, at: usize) -> bool {
    case.aired(at).is_none_or(|aired| aired.heard.is_empty())
}

/// Cylinders whose leading cause is something the matter with them.
fn suspects(
    cylinders: &[CylinderAssessment],
) -> impl Iterator<Item = (usize, &CylinderAssessment)> {
    cylinders
        .iter()
        .enumerate()
        .filter(|(_, c)| c.causes.first().is_some_and(|cause| cause.kind.is_leak()))
}

/// Most steps: more than these nobody reads.
const MOST_STEPS: usize = 6;

/// What to do next, most telling first.
pub(super) fn next_steps(
    case: &Case<'_>,
    cylinders: &[CylinderAssessment],
    verdict: &Verdict,
) -> Vec<String> {
    let judgement = verdict.judgement;
    let mut steps: Vec<String> = test_first(case, cylinders).into_iter().collect();
    steps.extend(card_doubted(case).map(|_| {
        "Look up the card's compression ratio, timing and height: what rests on them is not to be \
         relied on until then."
            .to_owned()
    }));
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
    let suspects: Vec<(usize, &CylinderAssessment)> = suspects(cylinders).collect();
    wet_next(case, &suspects, &mut steps);
    if case.kind.is_diesel() && doubtful {
        steps.push(
            "Never put oil into a diesel's cylinder for a wet test: it can fire or lock."
                .to_owned(),
        );
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
        steps.push(
            "Read again at working temperature if the engine runs: the published rules are meant \
             for a warm engine."
                .to_owned(),
        );
    }
    if steps.is_empty() && judgement == Judgement::Pass {
        steps.push("Nothing more to do with a pressure gauge here.".to_owned());
    }
    steps.truncate(MOST_STEPS);
    steps
}

/// A bad test is put right before anything is made of it.
fn test_first(case: &Case<'_>, cylinders: &[CylinderAssessment]) -> Option<String> {
    let leaks = |flag: &Flag| matches!(flag, Flag::TesterLeaks { .. });
    let step = match test_fault(cylinders).map(|cause| cause.kind) {
        Some(CauseKind::ThrottleShut) => {
            "Block the throttle and choke wide open and repeat every run before judging the engine. \
             If they were open, say so on the card (checked.throttle_open)."
        }
        Some(CauseKind::SlowCranking) => turn_faster(case),
        Some(CauseKind::TesterLeak) => {
            "Check the tester's seal, hose and check valve, and repeat every run. If it was proved \
             tight, say so on the card (checked.tester_tight)."
        }
        _ if case
            .cylinders
            .iter()
            .flat_map(|c| c.entries.values())
            .any(|entry| entry.result.flags.iter().any(leaks)) =>
        {
            "Find the tester's leak: a held reading fell by itself."
        }
        _ => return None,
    };
    Some(step.to_owned())
}

/// The run that settles whether cylinders that are all low alike are so: what they share is put
/// out of doubt.
fn bear_out(case: &Case<'_>, alone: &[usize]) -> Option<String> {
    let names: Vec<&str> = alone.iter().map(|at| case.name(*at)).collect();
    let condition = case.dry?.label();
    let (runs, them) = match names.len() {
        0 => return None,
        1 => ("run", "it is the only one"),
        _ => ("runs", "they are low alike"),
    };
    let throttle = match case.ignition {
        Ignition::Spark => "with throttle and choke blocked wide open and ",
        Ignition::Compression => "with ",
    };
    Some(format!(
        "Repeat the {condition} {runs} of {} {throttle}the tester proved tight, and say so on the \
         card (checked.throttle_open, checked.tester_tight): {them}, and what all share reads the \
         same. Low again confirms it.",
        listed(&names)
    ))
}

/// Dry runs that are missing.
fn fill_in(case: &Case<'_>, verdict: &Verdict) -> Option<String> {
    let names: Vec<&str> = verdict.missing.iter().map(|at| case.name(*at)).collect();
    let condition = case.dry?.label();
    (!names.is_empty()).then(|| {
        format!(
            "Read {} {condition} as well: until then nothing is said of the engine as a whole.",
            listed(&names)
        )
    })
}

/// Runs to be made again, one line for each reason; without the dry runs of those that are to be
/// borne out.
fn repeats(case: &Case<'_>, alone: &[usize]) -> Vec<String> {
    let poor = |entry: &Entry<'_>| !entry.at_least && entry.result.grade == Grade::Poor;
    [
        again(
            case,
            alone,
            |entry| entry.at_least,
            "cranking ended before the reading settled",
        ),
        again(case, alone, poor, "the test itself was poor"),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// "Repeat the cold runs of cylinders 1 and 2, the wet run of cylinder 1: …".
fn again(
    case: &Case<'_>,
    alone: &[usize],
    wanted: impl Fn(&Entry<'_>) -> bool,
    why: &str,
) -> Option<String> {
    let runs: Vec<String> = Condition::ALL
        .into_iter()
        .filter_map(|condition| {
            let names: Vec<&str> = case
                .of(condition)
                .into_iter()
                .filter(|(at, entry)| {
                    let named = case.dry == Some(condition) && alone.contains(at);
                    wanted(entry) && !named
                })
                .map(|(at, _)| case.name(at))
                .collect();
            let label = condition.label();
            let plural = if names.len() > 1 { "s" } else { "" };
            (!names.is_empty()).then(|| format!("the {label} run{plural} of {}", listed(&names)))
        })
        .collect();
    (!runs.is_empty()).then(|| format!("Repeat {}: {why}.", runs.join(", ")))
}

/// The wet run, and a healthy cylinder wetted beside it as a control.
fn wet_next(case: &Case<'_>, suspects: &[(usize, &CylinderAssessment)], steps: &mut Vec<String>) {
    let Some(dose) = case.kind.dose_cm3().filter(|_| case.kind.is_worth_oil()) else {
        return;
    };
    let wet = |at: usize| {
        case.cylinders
            .get(at)
            .is_some_and(|c| c.entries.contains_key(&Condition::Wet))
    };
    let dry_only: Vec<&str> = suspects
        .iter()
        .filter(|(at, _)| !wet(*at))
        .map(|(_, c)| c.name.as_str())
        .collect();
    if !dry_only.is_empty() {
        let most = match case.kind.chamber_cm3 {
            Some(_) => String::new(),
            None => format!(", or {BY_HAND}"),
        };
        steps.push(format!(
            "Make a wet run of {}: {} of oil and no more{most}; turn it by hand first, then a few \
             turns to spread it. A clear rise points to rings.",
            listed(&dry_only),
            measured(dose)
        ));
    }
    // Of a gasket the neighbours tell: there oil has little to add.
    let by_oil = |cylinder: &CylinderAssessment| {
        let leading = cylinder.causes.first();
        leading.is_some_and(|cause| cause.kind != CauseKind::Gasket)
    };
    let wetted_suspect = suspects
        .iter()
        .any(|(at, cylinder)| by_oil(cylinder) && (wet(*at) || dry_only.contains(&case.name(*at))));
    let suspected = |control: &usize| suspects.iter().any(|(at, _)| at == control);
    let control = control(case).filter(|control| wetted_suspect && !suspected(control));
    if let Some(control) = control {
        steps.push(format!(
            "Wet cylinder {} as well, with the same amount of oil: it reads well, so its rise \
             shows what the oil's volume alone does.",
            case.name(control)
        ));
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
fn look_at(case: &Case<'_>, cylinders: &[CylinderAssessment]) -> Vec<String> {
    let mut by_kind: Vec<(&Cause, Vec<&str>)> = Vec::new();
    for (cylinder, cause) in cylinders
        .iter()
        .filter_map(|c| c.causes.first().map(|cause| (c, cause)))
    {
        let mut names: Vec<&str> = match cause.kind {
            CauseKind::Gasket => cause.cylinders.iter().map(String::as_str).collect(),
            _ => vec![cylinder.name.as_str()],
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
        .filter_map(|(cause, names)| look(case, cause.kind, &listed(&names)))
        .collect()
}
