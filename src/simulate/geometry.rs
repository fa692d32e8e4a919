//! Crank-slider kinematics, valve lift and port windows.

use std::f64::consts::PI;

/// A piston on its crank. Lengths in m, angles in rad from the crank's top dead centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slider {
    /// Crank throw: half the stroke where the pin is not offset.
    pub throw: f64,
    /// Connecting rod, centre to centre.
    pub rod: f64,
    /// Offset of the piston pin.
    pub offset: f64,
    /// Piston area in m².
    pub area: f64,
    top: f64,
}

impl Slider {
    /// `bore`, `stroke`, `rod` and `offset` in m; the rod must be longer than throw plus offset.
    pub fn new(bore: f64, stroke: f64, rod: f64, offset: f64) -> Self {
        let throw = stroke / 2.0;
        let reach = rod + throw;
        Self {
            throw,
            rod,
            offset,
            area: PI / 4.0 * bore * bore,
            top: (reach * reach - offset * offset).sqrt(),
        }
    }

    /// How far the piston is below its highest point (m), and the change of that with crank
    /// angle (m/rad).
    #[inline]
    pub fn travel(&self, sin: f64, cos: f64) -> (f64, f64) {
        let side = self.throw * sin - self.offset;
        let along = (self.rod * self.rod - side * side).sqrt();
        let travel = self.top - self.throw * cos - along;
        let slope = self.throw * sin + side * self.throw * cos / along;
        (travel, slope)
    }

    /// Volume swept from the highest to the lowest point, in m³.
    pub fn swept(&self) -> f64 {
        let short = self.rod - self.throw;
        self.area * (self.top - (short * short - self.offset * self.offset).sqrt())
    }
}

/// A valve: open from one crank angle to another, with a lift of `sin²` between.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Valve {
    /// Opens, in rad after the firing top dead centre, within one cycle of 4π.
    pub(super) opens: f64,
    /// How long it is open, in rad.
    pub(super) open_for: f64,
    /// Effective area at full lift, in m².
    pub(super) area: f64,
}

impl Valve {
    /// Effective area in m² at a crank angle of the cycle (0 to 4π).
    #[inline]
    pub(super) fn area_at(&self, angle: f64) -> f64 {
        let mut into = angle - self.opens;
        if into < 0.0 {
            into += 4.0 * PI;
        }
        if into >= self.open_for {
            return 0.0;
        }
        let sin = libm::sin(PI * into / self.open_for);
        self.area * sin * sin
    }
}

/// A port in the cylinder wall, uncovered by the piston.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Port {
    /// Piston travel at which it begins to open, in m.
    pub(super) edge: f64,
    /// Effective width in m.
    pub(super) width: f64,
}

impl Port {
    /// Effective area in m² at a piston travel in m.
    #[inline]
    pub(super) fn area_at(&self, travel: f64) -> f64 {
        self.width * (travel - self.edge).max(0.0)
    }
}

/// An angle brought into one cycle, 0 to `cycle` (rad).
#[inline]
pub(super) fn wrap(angle: f64, cycle: f64) -> f64 {
    let turns = angle / cycle;
    // As `floor` does, without a call where the processor has no instruction for it.
    let whole = turns as i64 as f64;
    let whole = if whole > turns { whole - 1.0 } else { whole };
    angle - cycle * whole
}
