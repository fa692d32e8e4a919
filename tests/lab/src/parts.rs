//! What the populations have in common: whoever turns an engine, testers, sensors, the radio.

use crate::draws::Draws;
use needlerest::signal::Rig;
use needlerest::simulate::{Bursts, CheckValve, Engine, Radio, Sensor, Tester, Turning};

/// What is odd about tester, sensor or radio.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Odd {
    TesterLeak,
    CheckValveLeak,
    LargeHose,
    PacketLoss,
    NoisySensor,
    Drifting,
}

/// Swept volume of a cylinder, cm³.
pub fn swept_cm3(engine: &Engine) -> f64 {
    std::f64::consts::PI / 4.0 * engine.bore_mm * engine.bore_mm * engine.stroke_mm / 1e3
}

/// Nobody's strength and habits are the same.
pub fn vary(d: &mut Draws, turning: Turning, charge: f64) -> Turning {
    let bursts = |d: &mut Draws, usual: Bursts| Bursts {
        torque_nm: usual.torque_nm * d.between(1.0, 1.6),
        free_rpm: usual.free_rpm * d.between(0.8, 1.15),
        turns: usual.turns * d.between(0.8, 1.4),
        pause_s: usual.pause_s * d.between(0.4, 1.8),
        variation: d.between(0.05, 0.2),
    };
    match turning {
        Turning::Electric {
            stall_nm, free_rpm, ..
        } => Turning::Electric {
            stall_nm: stall_nm * d.between(0.9, 1.3),
            free_rpm: free_rpm * d.between(0.85, 1.15),
            battery: charge,
        },
        Turning::Kick(usual) => Turning::Kick(bursts(d, usual)),
        Turning::PullCord(usual) => Turning::PullCord(bursts(d, usual)),
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            ..
        } => Turning::HandCrank {
            torque_nm: torque_nm * d.between(1.0, 1.5),
            free_rpm: free_rpm * d.between(0.8, 1.15),
            variation: d.between(0.03, 0.12),
        },
        steady @ Turning::Steady { .. } => steady,
    }
}

pub fn tester(d: &mut Draws, rig: Rig, odd: Option<Odd>, engine: &Engine) -> Tester {
    let clearance = swept_cm3(engine) / (engine.compression_ratio - 1.0);
    let holding = rig == Rig::Holding;
    let hose = match (holding, odd) {
        (false, _) => 0.0,
        (_, Some(Odd::LargeHose)) => clearance * d.between(1.5, 3.0),
        // Volume behind the valve as a share of the clearance sets the build-up.
        _ => clearance * d.decades(0.08, 0.9),
    };
    Tester {
        adapter_cm3: (clearance * 0.05).clamp(0.1, 2.0) * d.between(0.5, 1.5),
        hose_cm3: hose,
        way_mm2: if holding { d.between(2.0, 8.0) } else { 0.0 },
        check_valve: holding.then(|| CheckValve {
            cracking_kpa: d.between(3.0, 30.0),
            leak_mm2: if odd == Some(Odd::CheckValveLeak) {
                d.decades(0.001, 0.02) * hose / 20.0
            } else {
                0.0
            },
        }),
        leak_mm2: match odd {
            Some(Odd::TesterLeak) => d.decades(0.0005, 0.01) * hose / 20.0,
            _ => 0.0,
        },
        // 30 to 750 W/(m² K) in a bore of some 6 mm: still air to a jet.
        heat_w_per_k: hose * d.decades(0.02, 0.5),
        bleed_mm2: if holding { d.between(0.5, 2.0) } else { 0.0 },
    }
}

pub fn sensor(d: &mut Draws, rig: Rig, rate_hz: f64, coarse: bool, odd: Option<Odd>) -> Sensor {
    let range = d.pick(&[2500.0, 3500.0], 2500.0);
    let resolution = if coarse {
        d.pick(&[0.1, 1.0, 3.447, 6.895], 1.0)
    } else {
        d.pick(&[0.0001, 0.1, 0.345, 0.5, 0.689, 1.0], 0.5)
    };
    Sensor {
        rate_hz,
        // A slower sensor rounds off the peaks of a following rig; its data sheet says so.
        lag_ms: match rig {
            Rig::Holding => d.decades(0.2, 5.0),
            Rig::Following => d.decades(0.1, 0.6),
        },
        resolution_kpa: resolution,
        range_min_kpa: -100.0,
        range_max_kpa: range,
        noise_kpa: if odd == Some(Odd::NoisySensor) {
            d.between(1.5, 8.0)
        } else {
            d.decades(0.1, 1.0)
        },
        slow_noise_kpa: range * 0.0001,
        slow_noise_s: 1.0,
        offset_kpa: 4.0 * d.normal(),
        // Common to all runs of a sensor: no part of what a repeat reads.
        span_error: 0.0,
        warm_up_kpa: if odd == Some(Odd::Drifting) {
            range * d.between(0.002, 0.006)
        } else {
            0.0
        },
        warm_up_s: 30.0,
        clock_ppm: 30.0 * d.normal(),
    }
}

pub fn radio(d: &mut Draws, rate_hz: f64, odd: Option<Odd>) -> Radio {
    let lossy = odd == Some(Odd::PacketLoss);
    Radio {
        samples_per_packet: if rate_hz < 50.0 {
            1
        } else {
            (rate_hz * 0.04) as u32
        },
        interval_ms: 30.0,
        jitter_ms: 5.0,
        loss: if lossy { d.decades(0.01, 0.1) } else { 0.0005 },
        loss_bursts_per_min: if lossy { d.between(0.0, 6.0) } else { 0.0 },
        loss_burst_s: 0.15,
        repeated: 0.0,
        reordered: 0.0,
        outages: Vec::new(),
    }
}

/// For how many strokes, and how long at most (s), somebody goes on who has time.
pub fn goes_on_for(d: &mut Draws, turning: Turning) -> (f64, f64) {
    /// Time that a kick or a pull takes (s), about.
    const KICK_S: f64 = 0.8;
    match turning {
        Turning::Kick(usual) | Turning::PullCord(usual) => {
            (1000.0, d.between(9.5, 18.0) * (usual.pause_s + KICK_S))
        }
        Turning::HandCrank { .. } => (d.between(12.0, 26.0), 90.0),
        _ => (d.between(8.0, 18.0), 60.0),
    }
}
