//! Whether a sensor tells the truth: a check against a gauge that the user trusts, and the
//! correction that follows from it.
//!
//! [`Plateaus`] finds where the pressure stands still; a [`Check`] keeps what sensor and gauge told
//! there; [`Check::correction`] fits a straight line ([`fit`], GUM annex H.3) and gives the
//! [`Correction`] with its uncertainty; [`Drift`] compares a check with the one before. The
//! correction is worked out anew wherever it is used, from the points of the check, so that nothing
//! but what was read is kept.

mod applied;
mod check;
mod day;
mod drift;
mod line;
mod plateau;

pub use applied::Correction;
pub use check::{Check, CheckError, MOST_POINTS, Point};
pub use day::{Day, NoDay};
pub use drift::{Checked, Drift};
pub use line::{Line, Observation, fit};
pub use plateau::{Plateau, Plateaus};
