//! One step of the integration.

use super::derived::Derived;
use super::network::{CREEP, Link, Network, Opening, SPEED, Shaft, Timed, Unknowns, Wall, content};
use super::orifice::{STEEPEST, fastest_rate};
use super::surroundings::{OPEN_AIR, VOLUMES};

/// Up to this decay within a step the scheme of fourth order is stable, and a check valve does not
/// chatter.
const SMOOTH: f64 = 1.35;
/// The most that may decay within a step of the scheme of second order.
const STIFF: f64 = 10.0;
/// In no more parts than this a step is made.
const MOST_PARTS: f64 = 200.0;

/// How fast things change.
struct Pace {
    /// Fastest decay, in 1/s.
    fastest: f64,
    /// A check valve is open or about to open.
    abrupt: bool,
    /// A valve or port is open or about to open.
    breathes: bool,
}

impl Network {
    /// Moves `x`, where the rates are `first`, on by one step: by a Runge-Kutta-Chebyshev scheme
    /// while a valve or port is open that is large for the volume behind it, by the classical
    /// Runge-Kutta scheme of fourth order in short parts otherwise. The former subtracts some of
    /// the rates it has seen. Where a flow has only one direction, or carries the heat of whichever
    /// side it comes from, that can take out what never went in: so it is kept from check valves
    /// and the tester's hose, and where it moves the state by a lot its result is dropped.
    pub(super) fn step(
        &self,
        x: &mut Unknowns,
        first: &Unknowns,
        derived: &mut Derived,
        seconds: f64,
    ) {
        self.keep_temperatures(derived);
        let pace = self.pace(x, first, derived, seconds);
        let decay = seconds * pace.fastest;
        if pace.breathes && !pace.abrupt && decay > SMOOTH {
            let (begin, tangents) = (*x, derived.tangents);
            self.in_parts(x, first, derived, seconds, decay, STIFF);
            if self.alike(&begin, x) {
                return;
            }
            (*x, derived.tangents) = (begin, tangents);
        }
        self.in_parts(x, first, derived, seconds, decay, SMOOTH);
    }

    /// Moves `x`, where the rates are `first`, on by `seconds`, within which the fastest opening
    /// decays by `decay`, in parts within which no more than `most` decays.
    fn in_parts(
        &self,
        x: &mut Unknowns,
        first: &Unknowns,
        derived: &mut Derived,
        seconds: f64,
        decay: f64,
        most: f64,
    ) {
        let parts = (decay / most).ceil();
        // What is no number is found out by whoever looks at the result.
        let parts = if parts.is_finite() {
            parts.clamp(1.0, MOST_PARTS)
        } else {
            1.0
        };
        let h = seconds / parts;
        let mut first = *first;
        for part in 0..parts as u32 {
            if part > 0 {
                first = self.rates(x, derived);
                self.keep_temperatures(derived);
            }
            if most > SMOOTH {
                self.chebyshev(x, &first, h, decay / parts, derived);
            } else {
                self.runge_kutta(x, &first, h, derived);
            }
        }
    }

    /// Whether mass and specific energy of each volume are much as they were.
    fn alike(&self, before: &Unknowns, after: &Unknowns) -> bool {
        (1..self.zones.len()).all(|zone| {
            let (was, is) = (content(before, zone), content(after, zone));
            let mass = is.0 / was.0;
            let heat = (is.1 / is.0) / (was.1 / was.0);
            (0.7..1.4).contains(&mass) && (0.95..1.05).contains(&heat)
        })
    }

    /// Moves `x`, where the rates are `first`, on by `h` (s).
    fn runge_kutta(&self, x: &mut Unknowns, first: &Unknowns, h: f64, derived: &mut Derived) {
        let second = self.rates(&ahead(x, first, h / 2.0), derived);
        let third = self.rates(&ahead(x, &second, h / 2.0), derived);
        let fourth = self.rates(&ahead(x, &third, h), derived);
        for (i, x) in x[..self.unknowns()].iter_mut().enumerate() {
            *x += h / 6.0 * (first[i] + 2.0 * (second[i] + third[i]) + fourth[i]);
        }
    }

    /// Moves `x`, where the rates are `first`, on by `h` (s), within which the fastest opening
    /// decays by `decay`.
    fn chebyshev(
        &self,
        x: &mut Unknowns,
        first: &Unknowns,
        h: f64,
        decay: f64,
        derived: &mut Derived,
    ) {
        let begin = *x;
        let mut before = begin;
        let mut rate = *first;
        for (i, by) in self.schemes.for_decay(decay).iter().enumerate() {
            if i > 0 {
                rate = self.rates(x, derived);
            }
            for k in 0..self.unknowns() {
                let next = by.begin * begin[k]
                    + by.last * x[k]
                    + by.before * before[k]
                    + h * (by.rate * rate[k] + by.first * first[k]);
                before[k] = x[k];
                x[k] = next;
            }
        }
    }

    /// How fast things change within the next `seconds`.
    fn pace(&self, x: &Unknowns, first: &Unknowns, derived: &Derived, seconds: f64) -> Pace {
        let r = self.air.gas_constant();
        let gas = &derived.gas;
        let mut fastest = match self.shaft {
            Shaft::Fixed => 0.0,
            Shaft::Free {
                inertia, friction, ..
            } => friction / (inertia * CREEP),
        };
        let mut rates = [0.0; VOLUMES];
        let mut root_rt = [0.0; VOLUMES];
        for (i, (zone, g)) in self.zones.iter().zip(gas).enumerate() {
            if let Wall::Conductance(conductance) = zone.wall {
                let heat_capacity =
                    g.pressure * g.volume / (g.kelvin * (self.air.gamma(g.kelvin) - 1.0));
                rates[i] = conductance / heat_capacity;
            }
            root_rt[i] = (r * g.kelvin.max(self.ambient.kelvin)).sqrt();
        }
        let (mut abrupt, mut breathes) = (false, false);
        for link in &self.links {
            let area = match link.opening {
                Opening::Fixed(area) => area,
                Opening::Hose { area, slope } => area * slope.min(STEEPEST) / STEEPEST,
                Opening::Check {
                    area,
                    cracking,
                    band,
                } => {
                    let drop = highest_drop(link, x, first, derived, seconds);
                    if drop <= cracking {
                        continue;
                    }
                    abrupt = true;
                    let from = gas[link.from].pressure;
                    area * quickness(drop, from, cracking, band)
                }
                Opening::Timed(which) => {
                    // The larger one, now and at the end.
                    let Timed { timing, cylinder } = &self.timed[which];
                    let turned = x[SPEED] * seconds;
                    let mut place = derived.places[*cylinder];
                    place.angle += turned;
                    place.travel += gas[*cylinder].slope / self.slider.area * turned;
                    let area = derived.areas[which].max(timing.area(&place, self.cycle));
                    breathes |= area > 0.0;
                    area
                }
            };
            if area == 0.0 {
                continue;
            }
            for end in [link.from, link.to] {
                rates[end] += fastest_rate(area, gas[end].volume, root_rt[end]);
            }
        }
        // Two volumes that answer to each other are as fast as both together.
        for link in &self.links {
            fastest = fastest.max(rates[link.from] + rates[link.to]);
        }
        Pace {
            fastest,
            abrupt,
            breathes,
        }
    }
}

/// Where `x` is after so many seconds at a rate.
#[inline]
fn ahead(x: &Unknowns, rate: &Unknowns, seconds: f64) -> Unknowns {
    std::array::from_fn(|i| x[i] + seconds * rate[i])
}

/// The highest pressure difference (Pa) along a link to be expected within `seconds`.
fn highest_drop(
    link: &Link,
    x: &Unknowns,
    first: &Unknowns,
    derived: &Derived,
    seconds: f64,
) -> f64 {
    // Pressure goes with energy over volume, but for the slow change of the specific heats.
    let change = |end: usize| {
        if end == OPEN_AIR {
            return 0.0;
        }
        let g = &derived.gas[end];
        let (rate, energy) = (content(first, end).1, content(x, end).1);
        g.pressure * (rate / energy - g.slope * x[SPEED] / g.volume)
    };
    let drop = derived.gas[link.from].pressure - derived.gas[link.to].pressure;
    drop + 2.0 * seconds * (change(link.from) - change(link.to)).max(0.0)
}

/// How fast gas answers to a check valve, as a share of how fast it can answer to a fixed opening
/// of the valve's area: more pressure means more flow, and while the valve opens more area too.
fn quickness(drop: f64, from: f64, cracking: f64, band: f64) -> f64 {
    let lost = drop / from;
    let flow = (STEEPEST * lost).min((2.0 * lost).sqrt());
    ((drop - cracking) / band + from / band * flow / STEEPEST).min(1.0)
}
