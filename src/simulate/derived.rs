//! The volumes, pistons, valves and ports at one moment.

use super::air::{Air, Tangent};
use super::geometry::Slider;
use super::orifice::Expansion;
use super::surroundings::{Ambient, OPEN_AIR, VOLUMES};
use std::f64::consts::PI;

/// What follows from the unknowns without the openings. It is kept from one moment to the next:
/// what depends on the crank's angle or on a volume alone is not found anew while that stays.
#[derive(Clone, Debug)]
pub(super) struct Derived {
    pub(super) gas: [Gas; VOLUMES],
    /// Tangents at the temperatures of the last step, from which the next ones are found.
    pub(super) tangents: [Tangent; VOLUMES],
    /// The crank's angle (rad) that places and areas are for.
    pub(super) angle: f64,
    /// Where the piston of each cylinder is.
    pub(super) places: [Place; VOLUMES],
    /// Area (m²) of each valve and port.
    pub(super) areas: Vec<f64>,
    /// The chamber of each cylinder.
    pub(super) chambers: [Chamber; VOLUMES],
    /// How the gas of each volume flows out, and the temperature (K) that this is for.
    pub(super) expansions: [(f64, Expansion); VOLUMES],
}

impl Derived {
    /// Before anything is known but the surroundings.
    pub(super) fn new(ambient: &Ambient, air: &Air, timed: usize) -> Self {
        let mut gas = [Gas::default(); VOLUMES];
        gas[OPEN_AIR] = Gas {
            pressure: ambient.pressure,
            kelvin: ambient.kelvin,
            volume: f64::INFINITY,
            slope: 0.0,
            rt: air.gas_constant() * ambient.kelvin,
            enthalpy: ambient.enthalpy,
        };
        let mut expansions = [(f64::NAN, Expansion::new(1.4)); VOLUMES];
        expansions[OPEN_AIR].0 = ambient.kelvin;
        Self {
            gas,
            tangents: [air.tangent(ambient.kelvin); VOLUMES],
            angle: f64::NAN,
            places: [Place::default(); VOLUMES],
            areas: vec![0.0; timed],
            chambers: [Chamber::UNKNOWN; VOLUMES],
            expansions,
        }
    }
}

/// State of one volume.
#[derive(Clone, Copy, Debug, Default)]
#[repr(align(64))]
pub(super) struct Gas {
    pub(super) pressure: f64,
    pub(super) kelvin: f64,
    pub(super) volume: f64,
    /// Change of volume with crank angle, in m³/rad.
    pub(super) slope: f64,
    /// Gas constant × temperature, in J/kg.
    pub(super) rt: f64,
    /// Specific enthalpy in J/kg.
    pub(super) enthalpy: f64,
}

/// Where one piston is.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Place {
    /// Crank angle after the firing top dead centre, in rad.
    pub(super) angle: f64,
    /// How far the piston is below its highest point, in m.
    pub(super) travel: f64,
    /// Change of that with crank angle, in m/rad.
    pub(super) slope: f64,
}

impl Place {
    #[inline]
    pub(super) fn new(angle: f64, slider: &Slider) -> Self {
        let (sin, cos) = libm::sincos(angle);
        let (travel, slope) = slider.travel(sin, cos);
        Self {
            angle,
            travel,
            slope,
        }
    }
}

/// What the heat to the wall of a cylinder depends on, apart from the gas.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chamber {
    /// In m³.
    pub(super) volume: f64,
    /// Natural logarithm of the volume.
    pub(super) log_volume: f64,
    /// Surface of piston, head and wall, in m².
    pub(super) surface: f64,
}

impl Chamber {
    const UNKNOWN: Self = Self {
        volume: f64::NAN,
        log_volume: f64::NAN,
        surface: f64::NAN,
    };

    /// `volume` in m³, `area` of the piston in m², `bore` in m.
    #[inline]
    pub(super) fn new(volume: f64, area: f64, bore: f64) -> Self {
        Self {
            volume,
            log_volume: libm::log(volume),
            surface: 2.0 * area + PI * bore * (volume / area),
        }
    }
}
