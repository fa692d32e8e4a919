//! The session file: what is written is read again, damage is found, nothing is lost.

mod background;
mod command;
mod damage;
mod faults;
mod kept;
mod made;
mod misplaced;
mod recovering;
mod round_trip;
mod seals;
mod strict;
mod summary;
