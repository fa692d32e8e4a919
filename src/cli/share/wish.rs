//! A button pressed, and what it asks for.

use crate::session::Command;

/// A button pressed on a phone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) struct Press {
    /// The number of the phone.
    pub phone: u32,
    /// What it asks for.
    pub wish: Wish,
}

/// What a button asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) enum Wish {
    /// Something of the session.
    Session(Command),
    /// Turn the practice engine over.
    Kick,
    /// Let the practice tester's pressure go.
    Bleed,
}

impl Press {
    /// What was pressed, in words.
    pub fn words(&self) -> String {
        let word = match &self.wish {
            Wish::Kick => "crank",
            Wish::Bleed => "bleed",
            Wish::Session(Command::Name(name)) => return format!("name {name}"),
            Wish::Session(Command::Go) => "go on",
            Wish::Session(Command::Redo) => "again",
            Wish::Session(Command::Skip) => "next",
            Wish::Session(Command::OilIn) => "oil is in",
            Wish::Session(Command::Pause) => "pause",
            Wish::Session(Command::Undo) => "undo",
            Wish::Session(Command::LeakDown(_)) => "leak-down test",
            Wish::Session(Command::Hear(place)) => place.word(),
            Wish::Session(Command::Warm) => "warm round",
            Wish::Session(_) => "finish",
        };
        word.to_owned()
    }
}
