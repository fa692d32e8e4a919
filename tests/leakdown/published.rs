//! The leak-down test as it is published: AC 43.13-1B, paragraph 8-14, and makers' manuals.

use needlerest::engine::Condition;
use needlerest::leakdown::{AirTest, Held, Leak, Plateau, Restrictor, Sides, Stage, words};
use needlerest::units::{Pressure, PressureUnit, Time};

fn psi(value: f64) -> Pressure {
    Pressure::new(value, PressureUnit::Psi)
}

fn sides(supply: f64, held: f64) -> Sides {
    Sides {
        supply: psi(supply),
        supply_standard: Pressure::ZERO,
        cylinder: psi(held),
        cylinder_standard: Pressure::ZERO,
        ambient_absolute: Pressure::ATMOSPHERE,
    }
}

/// 80 psi in, so much held: loss in per cent, area of the leak over that of the restrictor, and
/// diameter of the leak behind 0.040 in, mm (closed form of two orifices in series, γ = 1.4).
const TABLE: [(f64, f64, f64, f64); 10] = [
    (79.0, 1.25, 0.2133, 0.469),
    (78.0, 2.5, 0.3031, 0.559),
    (75.0, 6.25, 0.4867, 0.709),
    (72.0, 10.0, 0.6253, 0.803),
    (70.0, 12.5, 0.7067, 0.854),
    (65.0, 18.75, 0.8900, 0.959),
    (60.0, 25.0, 1.0586, 1.045),
    (55.0, 31.25, 1.2213, 1.123),
    (50.0, 37.5, 1.3836, 1.195),
    (40.0, 50.0, 1.7220, 1.333),
];

#[test]
fn eighty_psi_and_what_is_held() {
    let restrictor: Restrictor = "0.040 in".parse().expect("a restrictor");
    for (held, loss, ratio, hole_mm) in TABLE {
        let sides = sides(80.0, held);
        assert!((sides.loss() * 100.0 - loss).abs() < 1e-9);
        let leak = Leak::between(&sides, &restrictor, Condition::ColdDry).expect("flows");
        let found = leak.mm2 / restrictor.effective_mm2();
        assert!((found - ratio).abs() < 6e-5, "{held}: {found}");
        // The same coefficient for both holes.
        let across = 1.016 * found.sqrt();
        assert!((across - hole_mm).abs() < 6e-4, "{held}: {across}");
        assert!(leak.low_mm2 < leak.mm2 && leak.mm2 < leak.high_mm2);
    }
}

/// The ratio does not depend on the size of the restrictor: 60/80 leaks like 1.05 mm behind 0.040 in
/// and like 1.57 mm behind 0.060 in.
#[test]
fn the_restrictor_scales_the_leak() {
    let leak = |size: &str| {
        let restrictor: Restrictor = size.parse().expect("a restrictor");
        let found = Leak::between(&sides(80.0, 60.0), &restrictor, Condition::ColdDry);
        2.0 * (found.expect("flows").mm2 / restrictor.coefficient / std::f64::consts::PI).sqrt()
    };
    assert!((leak("0.040 in") - 1.045).abs() < 1e-3);
    assert!((leak("0.060 in") - 1.568).abs() < 1e-3);
}

/// AC 43.13-1B asks about a loss "in excess of 25 %": 60/80 is not over it. A car maker's service
/// manual of 2002: at 552 kPa in, at least 414 kPa held is at most 25 %.
#[test]
fn sixty_of_eighty_is_not_over_the_limit() {
    assert!(sides(80.0, 60.0).loss() <= words::MOST_LOSS);
    assert!(sides(80.0, 59.9).loss() > words::MOST_LOSS);
    let kpa = Pressure::from_kpa;
    let maker = Sides {
        supply: kpa(552.0),
        cylinder: kpa(414.0),
        ..sides(80.0, 60.0)
    };
    assert!((maker.loss() - 0.25).abs() < 1e-12);
}

/// A leak that holds 65, 60 or 50 of 80 psi behind 0.040 in (the table above), tested behind restrictors of
/// other sizes: another share is lost, and what is said of the limit is the same.
#[test]
fn the_limit_speaks_of_the_leak_whatever_the_restrictor() {
    for (ratio, wanted) in [
        (0.8900, "less than 25 %"),
        (1.0586, "too close"),
        (1.3836, "more than 25 %"),
    ] {
        for size in ["0.5 mm", "0.75 mm", "1.5 mm"] {
            let restrictor: Restrictor = size.parse().expect("a restrictor");
            let leak =
                |held: f64| Leak::between(&sides(80.0, held), &restrictor, Condition::ColdDry);
            let wanted_mm2 =
                ratio * restrictor.coefficient * std::f64::consts::FRAC_PI_4 * 1.016 * 1.016;
            // The more is held the smaller the leak: halved until it is this one.
            let (mut low, mut high) = (0.1, 79.99);
            for _ in 0..60 {
                let held = 0.5 * (low + high);
                if leak(held).is_some_and(|leak| leak.mm2 < wanted_mm2) {
                    high = held;
                } else {
                    low = held;
                }
            }
            let said = words::test(&tested(low, restrictor), PressureUnit::Psi).join(" ");
            assert!(said.contains(wanted), "{size}, {low:.2} psi held: {said}");
        }
    }
    let said = |held: f64| {
        let restrictor: Restrictor = "1.0 mm".parse().expect("a restrictor");
        words::test(&tested(held, restrictor), PressureUnit::Psi).join(" ")
    };
    assert!(said(65.0).contains("That is within 25 %"));
    assert!(said(50.0).contains("That is over 25 %"));
}

/// A test in which so much of 80 psi was held.
fn tested(held: f64, restrictor: Restrictor) -> AirTest {
    let sides = sides(80.0, held);
    let plateau = Plateau {
        level: psi(held),
        standard: Pressure::ZERO,
        called_after: Time::ZERO,
        stood: Time::from_s(5.0),
    };
    AirTest::LeakDown {
        cylinder: "1".to_owned(),
        condition: Condition::ColdDry,
        restrictor,
        supply: Vec::new(),
        held: vec![Held {
            stage: Stage::Top,
            supply: psi(80.0),
            plateau,
            loss: sides.loss(),
            loss_expanded: 0.01,
            leak: Leak::between(&sides, &restrictor, Condition::ColdDry),
            rounds: 0,
        }],
        heard: Vec::new(),
        flags: Vec::new(),
    }
}

#[test]
fn a_restrictor_is_read_with_its_unit() {
    let parsed = |text: &str| text.parse::<Restrictor>().map(|r| r.diameter_mm);
    assert!((parsed("1.0 mm").expect("mm") - 1.0).abs() < 1e-12);
    assert!((parsed("0.040in").expect("in") - 1.016).abs() < 1e-12);
    for wrong in [
        "1.0", "", "mm", "1.0 cm", "-1 mm", "NaN mm", "12 mm", "1..0 mm",
    ] {
        assert!(parsed(wrong).is_err(), "{wrong}");
    }
    let said = "12 mm"
        .parse::<Restrictor>()
        .expect_err("too large")
        .to_string();
    assert!(said.contains("12 mm") && said.contains("1.0 mm"), "{said}");
}

/// What is known worse makes the interval wider, never moves it off the value; a pressure held as
/// high as the supply is a leak of nothing up to something.
#[test]
fn an_interval_follows_what_is_known() {
    let restrictor: Restrictor = "1.0 mm".parse().expect("a restrictor");
    let found = |held: f64, standard: f64| {
        let sides = Sides {
            supply_standard: psi(standard),
            ..sides(80.0, held)
        };
        Leak::between(&sides, &restrictor, Condition::ColdDry).expect("flows")
    };
    let (sharp, blunt) = (found(60.0, 0.1), found(60.0, 1.0));
    assert!((sharp.mm2 - blunt.mm2).abs() < 1e-12);
    assert!(blunt.low_mm2 < sharp.low_mm2 && sharp.high_mm2 < blunt.high_mm2);
    let tight = found(80.0, 0.5);
    assert!(tight.mm2 <= 0.0 && tight.low_mm2 <= 0.0 && tight.high_mm2 > 0.05);
}

/// Walls of 80 °C warm air of 20 °C by 60 of 293 K at most: a hole that leaves it time for that is
/// √(353/293) larger than it looks (ideal gas), one that is fed too fast no larger.
#[test]
fn a_small_leak_warms_its_air_and_a_large_one_does_not() {
    let factor = |size: &str, held: f64| {
        let restrictor: Restrictor = size.parse().expect("a restrictor");
        let mm2 = |condition| {
            let found = Leak::between(&sides(80.0, held), &restrictor, condition);
            found.expect("flows").mm2
        };
        mm2(Condition::WarmDry) / mm2(Condition::ColdDry)
    };
    let all = libm::sqrt(353.0 / 293.0);
    let (small, middle, large) = (
        factor("0.3 mm", 70.0),
        factor("1.0 mm", 40.0),
        factor("3 mm", 20.0),
    );
    assert!((small - all).abs() < 0.01, "{small}");
    assert!(small > middle && middle > large, "{small} {middle} {large}");
    assert!(large < 1.02, "{large}");
}
