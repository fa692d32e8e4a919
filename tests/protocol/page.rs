//! The figures of protocol/sensor-to-build.md, calculated anew.

const PAGE: &str = include_str!("../../protocol/sensor-to-build.md");

/// The page must hold each figure as it is rounded here.
fn says(figures: &[String]) {
    for figure in figures {
        assert!(PAGE.contains(figure.as_str()), "{figure}");
    }
}

/// Adiabatic compression, p₂/p₁ = rⁿ with n = 1.3, and the volume of a cylinder (both definitions).
#[test]
fn volumes_and_what_they_cost() {
    let chamber = 500.0 / 9.0;
    let hose = std::f64::consts::PI * 0.2 * 0.2 * 30.0;
    let makes = |more: f64| {
        let ratio = (500.0 + chamber + more) / (chamber + more);
        format!("{:.0} kPa", (libm::pow(ratio, 1.3) - 1.0) * 101.325)
    };
    says(&[format!("{chamber:.1} cm³"), format!("{hose:.1} cm³")]);
    says(&[makes(0.0), makes(hose), makes(10.0), makes(25.0)]);
}

/// The transducer gives 10 % of its supply at 0 and 90 % at 1600 kPa.
#[test]
fn the_ratiometric_trap() {
    let volts = |supply: f64, kpa: f64| supply * (0.1 + 0.8 * kpa / 1600.0);
    let read = |volts: f64| (volts / 5.0 - 0.1) / 0.8 * 1600.0;
    let sagged = volts(4.75, 1000.0);
    says(&[
        format!("{sagged:.2} V instead of {:.2} V", volts(5.0, 1000.0)),
        format!("that is {:.0} kPa", read(sagged)),
        format!(
            "{:.3} V reads as −{:.0} kPa",
            volts(4.75, 0.0),
            -read(volts(4.75, 0.0))
        ),
    ]);
}

#[test]
fn what_the_converter_costs() {
    let kpa_per_volt = 1600.0 / 4.0;
    let count_v = 3.3 / 4096.0;
    let count = 2.0 * count_v * kpa_per_volt;
    // The share at 1000 kPa is 0.6 of the supply; an error of the supply is one of the share.
    let of_share = |relative: f64| 0.6 * relative / 0.8 * 1600.0;
    let supply = of_share(4.0 * 2.0 * count_v / 5.0);
    // Two resistors of ±1 %, in halves: ±1 % of the ratio; two dividers, at worst against each other.
    let dividers = of_share(2.0 * 0.01);
    let current = 4.0 + 16.0 * 1000.0 / 1600.0;
    says(&[
        format!("{:.3} mV at the transducer = {count:.3} kPa", 2e3 * count_v),
        format!("{:.3} kPa", count / libm::sqrt(12.0)),
        format!("{:.2} kPa", 4.0 * count),
        format!("{supply:.2} kPa"),
        format!("{dividers:.0} kPa"),
        format!("{:.1} kPa", dividers / 10.0),
        format!("{:.3} kPa of 16 bar", count_v / 150.0 * 1e3 * 100.0),
        format!(
            "0.1 % of {current:.0} mA (1000 kPa) is {:.1} kPa",
            current * 0.001 * 100.0
        ),
        format!("1 % of it is {:.0} kPa", current * 0.01 * 100.0),
        format!(
            "{:.1} kHz",
            1e-3 / (2.0 * std::f64::consts::PI * 5e3 * 22e-9)
        ),
    ]);
}
