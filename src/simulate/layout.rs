//! Which part of the network is what, and how all of it begins.

use super::network::{Network, Unknowns, set_content, set_crank};
use super::surroundings::Ambient;

/// Which part of the network is what.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    /// The cylinder under test.
    pub(super) cylinder: usize,
    /// Where the sensor sits.
    pub(super) sensor: usize,
    /// Its angle relative to the crank's.
    pub(super) phase: f64,
    /// Its clearance without oil, with the adapter, in m³.
    pub(super) clearance: f64,
    /// The leak with its ring leak in it.
    pub(super) leak: Leak,
    /// The bleed valve: link and effective area.
    pub(super) bleed: Option<(usize, f64)>,
}

/// A leak that is partly one past the rings. Areas in m².
#[derive(Clone, Copy, Debug)]
pub(super) struct Leak {
    pub(super) link: usize,
    pub(super) rings: f64,
    pub(super) others: f64,
}

/// All gas at ambient pressure and temperature.
pub(super) fn at_rest(network: &Network, angle: f64) -> Unknowns {
    let mut state = Unknowns::default();
    set_crank(&mut state, angle, 0.0);
    for zone in 1..network.zones.len() {
        set_content(
            &mut state,
            zone,
            1.0,
            network.air.internal_energy(network.ambient.kelvin),
        );
    }
    // Volumes do not depend on what is in them.
    let mut derived = network.derived();
    network.gas_state(&state, &mut derived);
    let gas = &derived.gas[..network.zones.len()];
    for (zone, g) in gas.iter().enumerate().skip(1) {
        let Ambient {
            pressure, kelvin, ..
        } = network.ambient;
        let mass = pressure * g.volume / (network.air.gas_constant() * kelvin);
        set_content(
            &mut state,
            zone,
            mass,
            mass * network.air.internal_energy(kelvin),
        );
    }
    state
}
