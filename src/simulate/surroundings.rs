//! The air around, and its place among the volumes.

/// Most volumes a network can have, with the surroundings.
pub(super) const VOLUMES: usize = 9;
/// The surroundings: the first volume, without an end.
pub(super) const OPEN_AIR: usize = 0;

/// The surroundings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ambient {
    /// Absolute pressure in Pa.
    pub(super) pressure: f64,
    /// Temperature in K.
    pub(super) kelvin: f64,
    /// Specific enthalpy in J/kg.
    pub(super) enthalpy: f64,
}
