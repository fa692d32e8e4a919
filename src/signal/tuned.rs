//! Every constant of the way from strokes to the call and the reading, in one place. What becomes
//! of the decision where one is halved or doubled is measured: `tests/results/stop-decision.md`.

/// The needle has stopped when so many chances lifted it by no more than the tolerance.
/// (TM 1-1500-204-23-1 asks for five compression strokes; tuned on seed 1.)
pub(super) const CHANCES: usize = 3;
/// Fewest chances in all: one to begin with, and [`CHANCES`].
pub(super) const FEWEST: usize = 4;
/// Time without a rise counts when the last two chances that were seen lifted the needle by no more
/// than this multiple of the tolerance; …
pub(super) const SMALL: f64 = 0.75;
/// … or, of kicks, from this one on: whoever has kicked so often has not let go. Tuned on seed 1.
pub(super) const MANY_KICKS: usize = 7;

/// A level weighs this much of the next one in the line along which the needle climbs. Tuned on
/// seed 1.
pub(super) const FADE: f64 = 0.6;
/// Latest levels that the line is fitted to: those before weigh less than 1 in 400.
pub(super) const LOOKED_AT: usize = 12;
/// Steepest line.
pub(super) const STEEPEST: f64 = 0.97;

/// Without a check valve: latest tops that the needle is the level of.
pub(super) const TOPS_KEPT: usize = 64;

/// A kick is over when so long (s) no stroke was seen. Common practice, no source.
pub(super) const KICK_OVER_S: f64 = 0.62;
/// Time from kick to kick (s): the usual one until two were seen, shortest, longest. Common
/// practice, no source.
pub(super) const KICKS_S: Pace = Pace {
    usual: 2.0,
    shortest: 0.8,
    longest: 4.0,
};
/// Time from stroke to stroke until two were seen (s). Common practice, no source.
pub(super) const STEADY_FIRST_S: f64 = 0.5;
/// A chance counts as due so much later than usual (share of the usual time). Tuned on seed 1.
pub(super) const SLACK: f64 = 0.3;
/// An interval of at most this multiple of the shortest holds no stroke that was not seen.
pub(super) const USUAL: f64 = 1.6;
/// A stroke or kick below this share of the needle failed: the engine was coasting, a kick slipped.
/// Tuned on seed 1.
pub(super) const FAILED: f64 = 0.88;

/// Strokes that go on for so long (s) are no kick. Common practice, no source.
pub(super) const STEADY_S: f64 = 1.3;
/// Nor, whatever the card says, those that go on for so long (s).
pub(super) const UNDOUBTED_S: f64 = 3.0;
/// Strokes so far apart (s) and alike are none of a kick. Common practice, no source.
pub(super) const STEADY_STROKE_S: f64 = 0.3;
/// Intervals are alike when the longest is at most this multiple of the shortest.
pub(super) const ALIKE: f64 = 1.25;
/// A pause in steady cranking is longer than this multiple of the shortest interval.
pub(super) const KICK_APART: f64 = 2.2;
/// Steady strokes so far apart (s) or further are those of a hand crank, or of a starter as slow.
/// Common practice, no source.
pub(super) const HAND_STROKE_S: f64 = 0.6;
/// Strokes so far apart (s) or further are kicks, of which only one stroke is seen. Common practice,
/// no source.
pub(super) const KICKED_STROKE_S: f64 = 1.0;

/// How well the same person (or starter) repeats a reading, standard uncertainty as a share of it:
/// a starter, …
pub(super) const REPEAT: f64 = 0.003;
/// … behind a check valve a hand crank, and a share of the largest late rise, …
pub(super) const REPEAT_BY_HAND: (f64, f64) = (0.004, 0.2);
/// … and kicks or pulls; …
pub(super) const REPEAT_IN_KICKS: (f64, f64) = (0.0125, 0.2);
/// … without one, kicks: this multiple of the standard uncertainty of their level. All tuned on
/// seed 1.
pub(super) const REPEAT_TOPS: f64 = 1.9;

/// Time from kick to kick (s).
pub(super) struct Pace {
    pub(super) usual: f64,
    pub(super) shortest: f64,
    pub(super) longest: f64,
}
