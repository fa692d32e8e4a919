//! Decay against a closed form and a separate integration.

use needlerest::leakdown::{Course, decay};
use needlerest::units::{Pressure, Temperature};

fn course(volume_cm3: f64) -> Course {
    Course {
        volume_m3: Some(volume_cm3 * 1e-6),
        ambient_absolute: Pressure::ATMOSPHERE,
        gas: Temperature::from_kelvin(293.15),
        zero_standard: Pressure::from_pa(20.0),
    }
}

/// As long as the leak is choked the absolute pressure falls as exp(−t/τ),
/// τ = V / (`CdA` · √(R·T) · 0.684731) (choked factor of γ = 1.4 by its formula).
#[test]
fn a_choked_fall_is_exponential() {
    let (volume, area) = (60e-6, 0.1e-6);
    let tau = volume / (area * (287.05_f64 * 293.15).sqrt() * 0.684_731);
    let fall: Vec<(f64, f64)> = (0..30)
        .map(|n| {
            let at = 0.1 * f64::from(n);
            (at, 600e3 * libm::exp(-at / tau) - 101_325.0)
        })
        .collect();
    let found = decay(&fall, &course(60.0)).expect("a fall");
    let time = found.time_constant.expect("falls").s();
    assert!((time / tau - 1.0).abs() < 1e-3, "{time} for {tau}");
    let leak = found.leak.expect("a volume");
    assert!((leak.mm2 / 0.1 - 1.0).abs() < 1e-3, "{leak:?}");
    assert!(leak.low_mm2 < 0.1 && 0.1 < leak.high_mm2);
}

/// Below 0.9 bar gauge it is not choked any more: small steps of V·dp = −flow·R·T·dt, with the flow
/// function written down here again.
#[test]
fn an_unchoked_fall_gives_the_same_leak() {
    let (volume, area, rt) = (80e-6, 0.05e-6, 287.05_f64 * 293.15);
    let mut absolute: f64 = 101_325.0 + 70e3;
    let mut fall = Vec::new();
    for n in 0..40_000 {
        if n % 1000 == 0 {
            fall.push((1e-4 * f64::from(n), absolute - 101_325.0));
        }
        let ratio = 101_325.0 / absolute;
        let driven = 7.0 * (libm::pow(ratio, 2.0 / 1.4) - libm::pow(ratio, 2.4 / 1.4));
        absolute -= 1e-4 * area * absolute * driven.sqrt() * rt.sqrt() / volume;
    }
    let found = decay(&fall, &course(80.0)).expect("a fall");
    let leak = found.leak.expect("a volume");
    assert!((leak.mm2 / 0.05 - 1.0).abs() < 5e-3, "{leak:?}");
}

/// A tight tester: nothing beyond noise falls, so there is no time constant, and the leak is at most
/// what the noise hides.
#[test]
fn a_level_that_stays_has_no_time_constant() {
    let fall: Vec<(f64, f64)> = (0..200)
        .map(|n| {
            (
                0.1 * f64::from(n),
                500e3 + if n % 2 == 0 { 40.0 } else { -40.0 },
            )
        })
        .collect();
    let found = decay(&fall, &course(40.0)).expect("watched");
    assert_eq!(found.time_constant, None);
    let leak = found.leak.expect("a volume");
    assert!(leak.low_mm2 <= 0.0 && leak.high_mm2 < 0.001, "{leak:?}");
    assert!(decay(&fall[..4], &course(40.0)).is_none(), "too short");
    assert!(decay(&[], &course(40.0)).is_none());
}
