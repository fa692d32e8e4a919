//! When a plateau is called, and what is told of one that is none. Pressures are made here; the
//! simulator's come in `simulated`.

use needlerest::engine::Condition;
use needlerest::leakdown::{AirFlag, AirTest, Leak, Restrictor, Settings, Stage, Told, Watch};
use needlerest::signal::Sample;
use needlerest::units::{Pressure, Temperature, Time};

struct Bench {
    watch: Watch,
    now: f64,
    told: Vec<Told>,
}

fn bench() -> Bench {
    let settings = Settings {
        absolute: false,
        ambient_absolute: Pressure::ATMOSPHERE,
        air: Temperature::from_celsius(20.0),
        resolution: Pressure::from_pa(100.0),
        accuracy_standard: Pressure::from_kpa(2.0),
    };
    let restrictor: Restrictor = "1.0 mm".parse().expect("a restrictor");
    Bench {
        watch: Watch::leak_down(settings, "1".to_owned(), Condition::ColdDry, restrictor),
        now: 0.0,
        told: Vec::new(),
    }
}

impl Bench {
    /// So long (s), at a pressure in kPa that depends on the time since.
    fn pass(&mut self, seconds: f64, kpa: impl Fn(f64) -> f64) {
        let began = self.now;
        while self.now < began + seconds {
            self.now += 0.01;
            let sample = Sample {
                time: Time::from_s(self.now),
                pressure: Pressure::from_kpa(kpa(self.now - began)),
                clipped: false,
                gap_before: false,
            };
            self.watch.push(sample, &mut self.told);
        }
    }

    fn supply(&mut self) {
        self.pass(1.0, |_| 3.0);
        self.watch.set_stage(Stage::Supply);
        self.pass(4.0, |_| 555.0);
    }

    fn flags(&self) -> Vec<AirFlag> {
        let flags = self.told.iter().filter_map(|told| match told {
            Told::Flag(flag) => Some(*flag),
            _ => None,
        });
        flags.collect()
    }

    fn held(&self) -> usize {
        let held = self.told.iter();
        held.filter(|told| matches!(told, Told::Held(_))).count()
    }
}

fn filling(to: f64) -> impl Fn(f64) -> f64 {
    move |t| to * (1.0 - libm::exp(-3.0 * t))
}

/// The zero of 3 kPa is taken off; 552 in, 414 held is 25 %.
#[test]
fn a_plateau_is_found_and_its_loss_is_told() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(6.0, |t| 3.0 + filling(414.0)(t));
    assert_eq!(bench.held(), 1);
    let AirTest::LeakDown { held, supply, .. } = bench.watch.clone().finish() else {
        panic!("a leak-down test");
    };
    assert_eq!((held.len(), supply.len()), (1, 1));
    assert!((held[0].supply.kpa() - 552.0).abs() < 0.1);
    assert!((held[0].loss - 0.25).abs() < 0.005, "{}", held[0].loss);
    assert!(held[0].plateau.called_after.s() < 5.0);
    assert_eq!(bench.flags(), []);
}

/// Whoever says "connected" may take a while to open the valve: the supply still reads then, and is
/// not taken for a tight cylinder.
#[test]
fn a_valve_that_is_opened_late_is_waited_for() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(3.5, |_| 555.0);
    bench.pass(5.0, |t| 3.0 + filling(300.0)(t));
    let AirTest::LeakDown { held, .. } = bench.watch.clone().finish() else {
        panic!("a leak-down test");
    };
    assert!((held[0].plateau.level.kpa() - 300.0).abs() < 3.0);
    assert_eq!(bench.flags(), []);
}

#[test]
fn a_pressure_that_falls_away_is_told() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(0.8, |t| 3.0 + filling(400.0)(t));
    bench.pass(2.0, |t| 3.0 + 360.0 * libm::exp(-20.0 * t));
    assert!(
        bench
            .flags()
            .contains(&AirFlag::FellAway { stage: Stage::Top })
    );
}

#[test]
fn a_pressure_that_never_rests_is_told() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(15.0, |t| 3.0 + 300.0 + 45.0 * libm::sin(2.0 * t));
    assert_eq!(bench.held(), 0);
    assert_eq!(bench.flags(), [AirFlag::Wanders { stage: Stage::Top }]);
}

#[test]
fn a_cylinder_without_a_supply_gives_no_loss() {
    let mut bench = bench();
    bench.pass(1.0, |_| 3.0);
    bench.watch.set_stage(Stage::Top);
    bench.pass(6.0, filling(414.0));
    assert!(bench.watch.finish().at_top().is_none());
}

#[test]
fn an_open_cylinder_holds_nothing() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(5.0, |_| 3.5);
    assert_eq!(bench.flags(), [AirFlag::HoldsNothing { stage: Stage::Top }]);
}

fn advised(test: &AirTest) -> Option<f64> {
    test.flags().iter().find_map(|flag| match flag {
        AirFlag::RestrictorDoesNotSuit { take_mm } => Some(*take_mm),
        _ => None,
    })
}

/// A leak that lets everything through, behind a sensor that is not quite quiet: it is called, and the
/// largest of the usual restrictors is named beside the piston.
#[test]
fn a_large_restrictor_is_named_where_nothing_is_held() {
    let mut bench = bench();
    bench.supply();
    bench.watch.set_stage(Stage::Top);
    bench.pass(5.0, |t| 3.4 + 0.4 * libm::sin(4.0 * t));
    assert_eq!(bench.flags(), [AirFlag::HoldsNothing { stage: Stage::Top }]);
    assert_eq!(advised(&bench.watch.finish()), Some(1.5));
}

/// What a moving supply makes look like a leak of a third of the restrictor may be none: the smallest
/// restrictor tells it in any case, where the one that suits the look of it may not.
#[test]
fn the_smallest_restrictor_is_named_where_the_leak_is_lost() {
    let restrictor: Restrictor = "1.5 mm".parse().expect("a restrictor");
    let leak = |mm2: f64, low_mm2: f64| Leak {
        mm2,
        low_mm2,
        high_mm2: 2.0 * mm2,
    };
    assert_eq!(restrictor.better_mm(0.5), Some(0.75));
    assert_eq!(leak(0.5, 0.1).better_mm(&restrictor), Some(0.5));
    assert_eq!(leak(1.5, 0.3).better_mm(&restrictor), None, "it suits");
}
