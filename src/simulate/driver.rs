//! Who or what turns the crank: a starter, a leg, an arm.

use super::network::Shaft;
use super::random::Draws;
use super::spec::{Bursts, Turning};
use std::f64::consts::TAU;

/// A leg or an arm that gets nowhere gives up after this long, in seconds.
const GIVES_UP_AFTER: f64 = 0.8;

/// Turns the crank, with the moods of a starter, a leg or an arm.
#[derive(Clone, Debug)]
pub(super) struct Driver {
    turning: Turning,
    inertia: f64,
    friction: f64,
    draws: Draws,
    /// Nobody's strength varies any more.
    steady: bool,
    burst: Burst,
    turn: Turn,
}

#[derive(Clone, Copy, Debug)]
enum Burst {
    Pause {
        until: f64,
    },
    Push {
        since: f64,
        from: f64,
        strength: f64,
    },
}

/// Strength of the hand crank in the present turn.
#[derive(Clone, Copy, Debug)]
struct Turn {
    number: f64,
    strength: f64,
}

impl Driver {
    /// `inertia` in kg m², `friction` in N m.
    pub(super) fn new(turning: Turning, inertia: f64, friction: f64, draws: Draws) -> Self {
        Self {
            turning,
            inertia,
            friction,
            draws,
            steady: false,
            burst: Burst::Pause { until: 0.0 },
            turn: Turn {
                number: f64::NEG_INFINITY,
                strength: 1.0,
            },
        }
    }

    /// From now on every kick, pull and turn is an average one.
    pub(super) fn steady(&mut self) {
        self.steady = true;
    }

    /// Whether a kick or pull is under way.
    pub(super) fn pushing(&self) -> bool {
        matches!(self.burst, Burst::Push { .. })
    }

    /// The speed in rad/s that is forced on the crank, if one is.
    pub(super) fn forced_speed(&self) -> Option<f64> {
        match self.turning {
            Turning::Steady { rpm } => Some(rpm * TAU / 60.0),
            _ => None,
        }
    }

    /// What acts on the crank during the next step; `wanted` says whether to crank.
    pub(super) fn shaft(&mut self, wanted: bool, time: f64, angle: f64, speed: f64) -> Shaft {
        let (drive, free) = match self.turning {
            Turning::Steady { .. } => return Shaft::Fixed,
            Turning::Electric {
                stall_nm,
                free_rpm,
                battery,
            } => (stall_nm * battery * share(wanted), free_rpm * battery),
            Turning::HandCrank {
                torque_nm,
                free_rpm,
                variation,
            } => {
                let swell = 1.0 + 0.4 * libm::sin(angle);
                let strength = self.turn_strength(angle, variation);
                (torque_nm * swell * strength * share(wanted), free_rpm)
            }
            Turning::Kick(bursts) | Turning::PullCord(bursts) => (
                bursts.torque_nm * self.burst_strength(bursts, wanted, time, angle, speed),
                bursts.free_rpm,
            ),
        };
        Shaft::Free {
            inertia: self.inertia,
            friction: self.friction,
            drive,
            free: free * TAU / 60.0,
        }
    }

    fn turn_strength(&mut self, angle: f64, variation: f64) -> f64 {
        let number = (angle / TAU).floor();
        if number > self.turn.number {
            let strength = self.vary(variation);
            self.turn = Turn { number, strength };
        }
        self.turn.strength
    }

    /// Strength of the kick or pull, as a share of the average one; 0 in a pause.
    fn burst_strength(
        &mut self,
        bursts: Bursts,
        wanted: bool,
        time: f64,
        angle: f64,
        speed: f64,
    ) -> f64 {
        match self.burst {
            Burst::Pause { until } if wanted && time >= until => {
                let strength = self.vary(bursts.variation);
                self.burst = Burst::Push {
                    since: time,
                    from: angle,
                    strength,
                };
                0.0
            }
            Burst::Pause { .. } => 0.0,
            Burst::Push {
                since,
                from,
                strength,
            } => {
                let done = (angle - from) / (TAU * bursts.turns);
                let stuck = time - since > GIVES_UP_AFTER && speed < 1.0;
                if done >= 1.0 || stuck || time - since > 2.0 * GIVES_UP_AFTER {
                    let pause = self.pause(bursts);
                    self.burst = Burst::Pause {
                        until: time + pause,
                    };
                    return 0.0;
                }
                // The force comes on over the first tenth of the way.
                strength * (0.4 + 6.0 * done.max(0.0)).min(1.0)
            }
        }
    }

    /// How long until the next kick or pull.
    fn pause(&mut self, bursts: Bursts) -> f64 {
        /// Whoever is tireless needs no more than this.
        const TIRELESS: f64 = 0.3;
        if self.steady {
            return bursts.pause_s.min(TIRELESS);
        }
        bursts.pause_s * self.vary(1.5 * bursts.variation)
    }

    /// 1, give or take a share; never under a third.
    fn vary(&mut self, share: f64) -> f64 {
        if self.steady {
            return 1.0;
        }
        (1.0 + share * self.draws.normal()).max(1.0 / 3.0)
    }
}

fn share(wanted: bool) -> f64 {
    if wanted { 1.0 } else { 0.0 }
}

/// Factor on friction for oil that is not at 80 °C: twice for every 60 K below.
/// Common practice, no source.
pub(super) fn cold_factor(celsius: f64) -> f64 {
    libm::exp2((80.0 - celsius) / 60.0)
}
