//! What a run is judged by.

use crate::signal::results::{Rig, Zero};
use crate::signal::settings::Settings;
use crate::units::Pressure;

/// Strokes of a run that are kept and listed; later ones are analysed and counted.
pub const STROKES_KEPT: usize = 1000;

/// What a run needs to know to be judged.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Context<'a> {
    pub(crate) settings: &'a Settings,
    pub(crate) rig: Option<Rig>,
    pub(crate) zero: Zero,
    pub(crate) noise: f64,
}

pub(super) fn tolerance(context: &Context<'_>, level: f64) -> f64 {
    context.settings.tolerance(Pressure::from_pa(level)).pa()
}
