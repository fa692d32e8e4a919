//! The session file: what is written is read again, damage is found, nothing is lost.

mod damage;
mod made;
mod round_trip;
mod strict;
