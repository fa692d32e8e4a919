//! Who guides the visit, if anybody does, and what the guide wants in the recording.

use crate::recording::Event;
use crate::session::{Entry, Input, Output, Session};

/// Who is told of everything, and may want something done about it.
pub(in crate::cli) trait Guide {
    /// It tells of the link in words of its own, and wants to know what the runs mean.
    const GUIDES: bool;

    /// Takes what happened and adds to `out` what is to be done about it.
    fn push(&mut self, input: Input<'_>, out: &mut Vec<Output>);
}

impl Guide for Session {
    const GUIDES: bool = true;

    fn push(&mut self, input: Input<'_>, out: &mut Vec<Output>) {
        Self::push(self, input, out);
    }
}

/// Nobody guides: what comes is recorded, no more.
pub(in crate::cli) struct Unguided;

impl Guide for Unguided {
    const GUIDES: bool = false;

    fn push(&mut self, _: Input<'_>, _: &mut Vec<Output>) {}
}

/// As the recording has it.
pub(in crate::cli) fn event_of(entry: Entry) -> Event {
    match entry {
        Entry::Run {
            cylinder,
            condition,
        } => Event::Run {
            cylinder,
            condition,
        },
        Entry::End => Event::End,
        Entry::Void { run, reason } => Event::Void {
            run: Some(run),
            reason,
        },
        Entry::Name {
            run,
            cylinder,
            condition,
        } => Event::Name {
            run,
            cylinder,
            condition,
        },
        Entry::LeakDown {
            cylinder,
            condition,
            restrictor,
        } => Event::LeakDown {
            cylinder,
            condition,
            restrictor,
        },
        Entry::Decay {
            filled,
            cylinder,
            volume_cm3,
        } => Event::Decay {
            filled,
            cylinder,
            volume_cm3,
        },
        Entry::Air { stage } => Event::Air { stage },
        Entry::Heard { places } => Event::Heard { places },
        Entry::Mark(text) => Event::Mark { text },
        Entry::Note(text) => Event::Note { text },
    }
}
