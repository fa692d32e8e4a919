//! What the assessment takes for granted.

use super::case::Case;
use super::level::ambient_note;
use super::saying::Note;
use crate::engine::{Condition, Geometry};

/// What the assessment takes for granted.
pub(super) fn notes(case: &Case<'_>) -> Vec<Note> {
    let mut notes: Vec<Note> = ambient_note(case).into_iter().collect();
    if !case.void.is_empty() {
        notes.push(Note::TakenBack(case.void.clone()));
    }
    // Nothing was computed that the rest could be taken for granted in.
    if case.kind.reading_only().is_some() {
        return notes;
    }
    if let Some(card) = case.card {
        let tester = card.tester.as_ref();
        if tester.and_then(|t| t.dead_volume_cm3).is_none() {
            notes.push(Note::NoTesterVolume);
        }
        let wetted = !case.of(Condition::Wet).is_empty();
        if wetted && tester.and_then(|t| t.wet_oil_cm3).is_none() {
            notes.push(Note::NoOilAmount);
        }
        if Geometry::of(&card.engine).is_some_and(|geometry| !geometry.closing_known) {
            notes.push(Note::NoClosing);
        }
    }
    notes.push(Note::Frequencies);
    notes
}
