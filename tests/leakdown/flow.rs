//! Flow through holes against CoolProp 8.0 (Lemmon et al., real air) and closed forms.

use needlerest::engine::flow::{mass_flow, series_ratio};
use needlerest::units::{Pressure, PressureUnit, Temperature};
use serde_json::Value;

fn fixture() -> Value {
    serde_json::from_str(include_str!("../../fixtures/leakdown/flow.json")).expect("JSON")
}

fn number(row: &Value, key: &str) -> f64 {
    row[key].as_f64().expect("a number")
}

fn psi(value: f64) -> Pressure {
    Pressure::new(value, PressureUnit::Psi)
}

/// Real air flows up to 0.6 % more than an ideal gas of γ = 1.4: at 8 bar it is denser.
#[test]
fn choked_and_unchoked_as_coolprop_has_it() {
    for row in fixture()["flows"].as_array().expect("rows") {
        let found = mass_flow(
            1e6,
            Pressure::from_pa(number(row, "from_pa")),
            Temperature::from_kelvin(number(row, "kelvin")),
            Pressure::from_pa(number(row, "to_pa")),
        );
        let wanted = number(row, "kg_s_m2");
        assert!((found / wanted - 1.0).abs() < 6e-3, "{row}: {found}");
    }
}

#[test]
fn two_holes_in_series_as_coolprop_has_them() {
    for row in fixture()["series"].as_array().expect("rows") {
        let found = series_ratio(
            psi(number(row, "supply_psi")) + Pressure::ATMOSPHERE,
            psi(number(row, "held_psi")) + Pressure::ATMOSPHERE,
            Pressure::ATMOSPHERE,
        );
        let found = found.expect("flows");
        let wanted = number(row, "ratio");
        assert!((found / wanted - 1.0).abs() < 6e-3, "{row}: {found}");
    }
}

/// γ = 1.4, R = 287.05: 0.040 in and 0.060 in holes from 80 psi at 293.15 K into the open and into
/// 60 psi, grams a second. Computed from NASA Glenn, *Mass Flow Choking*.
#[test]
fn restrictors_of_the_advisory_circular() {
    let cases = [
        (0.040, 0.0, 1.2495),
        (0.040, 60.0, 1.0433),
        (0.060, 0.0, 2.8113),
        (0.060, 60.0, 2.3474),
    ];
    for (inches, held, wanted) in cases {
        let mm = inches * 25.4;
        let found = 1e3
            * mass_flow(
                std::f64::consts::FRAC_PI_4 * mm * mm,
                psi(80.0) + Pressure::ATMOSPHERE,
                Temperature::from_kelvin(293.15),
                psi(held) + Pressure::ATMOSPHERE,
            );
        assert!(
            (found - wanted).abs() < 6e-4,
            "{inches} in, {held}: {found}"
        );
    }
}

/// From 80 psi upstream the flow is choked for every pressure behind it below 35.30 psi (a tutorial
/// on orifices; 94.7 psi × 0.528 − 14.7 psi).
#[test]
fn choked_below_35_psi() {
    let flow = |behind: f64| {
        mass_flow(
            1.0,
            psi(80.0) + Pressure::ATMOSPHERE,
            Temperature::from_kelvin(293.15),
            psi(behind) + Pressure::ATMOSPHERE,
        )
    };
    assert!((flow(35.2) / flow(0.0) - 1.0).abs() < 1e-12);
    assert!(flow(38.0) < flow(0.0) * 0.9999);
    assert!(flow(80.0).abs() < 1e-12, "nothing drives it");
}
