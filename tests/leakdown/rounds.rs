//! Rounds: supply and cylinder read in turn while the supply moves. Pressures are made here; what the
//! cylinder holds beside the supply is the closed form of two orifices in series (γ = 1.4), 80 psi to
//! 72 psi: 10 % lost, a leak of 0.6253 of the restrictor.

use needlerest::engine::Condition;
use needlerest::leakdown::{AirFlag, AirTest, Held, Restrictor, Settings, Stage, Told, Watch};
use needlerest::signal::Sample;
use needlerest::units::{Pressure, PressureUnit, Temperature, Time};

const RATIO: f64 = 0.6253;

fn kpa(psi: f64) -> f64 {
    Pressure::new(psi, PressureUnit::Psi).kpa()
}

/// How far the supply is from 80 psi at a time (s), as a share.
type Moves = fn(f64) -> f64;

struct Bench {
    watch: Watch,
    moves: Moves,
    /// What the cylinder holds of the supply.
    share: f64,
    now: f64,
    told: Vec<Told>,
}

impl Bench {
    fn new(share: f64, moves: Moves) -> Self {
        let settings = Settings {
            absolute: false,
            ambient_absolute: Pressure::ATMOSPHERE,
            air: Temperature::from_celsius(20.0),
            resolution: Pressure::from_pa(100.0),
            accuracy_standard: Pressure::from_kpa(2.0),
        };
        let restrictor = restrictor();
        let mut bench = Self {
            watch: Watch::leak_down(settings, "1".to_owned(), Condition::ColdDry, restrictor),
            moves,
            share,
            now: 0.0,
            told: Vec::new(),
        };
        bench.pass(1.0, |_, _| 0.0);
        bench
    }

    /// So long (s), at a pressure (kPa) that depends on the time since and on the supply.
    fn pass(&mut self, seconds: f64, kpa_of: impl Fn(f64, f64) -> f64) {
        let began = self.now;
        while self.now < began + seconds {
            self.now += 0.01;
            let supply = kpa(80.0) * (1.0 + (self.moves)(self.now));
            let sample = Sample {
                time: Time::from_s(self.now),
                pressure: Pressure::from_kpa(kpa_of(self.now - began, supply)),
                clipped: false,
                gap_before: false,
            };
            self.watch.push(sample, &mut self.told);
        }
    }

    fn supply(&mut self, seconds: f64) {
        self.watch.set_stage(Stage::Supply);
        self.pass(seconds, |_, supply| supply);
    }

    fn cylinder(&mut self, seconds: f64) {
        let share = self.share;
        self.watch.set_stage(Stage::Top);
        self.pass(seconds, |t, supply| {
            share * supply * (1.0 - libm::exp(-4.0 * t))
        });
    }

    /// Read once, as in every test.
    fn once(share: f64, moves: Moves) -> Self {
        let mut bench = Self::new(share, moves);
        bench.supply(15.0);
        bench.cylinder(15.0);
        bench
    }

    /// The side is asked for, the valve turned, and that said: whatever is read between does not count.
    fn turn(&mut self, stage: Stage) {
        let share = self.share;
        self.watch.set_stage(stage);
        self.pass(2.0, |t, supply| supply * (share - 0.3 * libm::sin(1.5 * t)));
        if stage == Stage::Top {
            self.cylinder(5.0);
        } else {
            self.supply(5.0);
        }
    }

    fn rounds(&mut self, rounds: usize) {
        self.turn(Stage::Supply);
        for _ in 0..rounds {
            self.turn(Stage::Top);
            self.turn(Stage::Supply);
        }
    }

    fn held(&self) -> Held {
        let AirTest::LeakDown { held, .. } = self.watch.clone().finish() else {
            panic!("a leak-down test");
        };
        assert_eq!(held.len(), 1, "one result at the top");
        held[0]
    }

    fn flags(&self) -> Vec<AirFlag> {
        self.watch.clone().finish().flags().to_vec()
    }

    /// The last that was told of how well the leak is known; none once that is well.
    fn blurred(&self) -> Option<f64> {
        let told = self.told.iter().rev();
        let mut told = told.filter(|told| matches!(told, Told::Held(_) | Told::Blurred(_)));
        match told.next() {
            Some(Told::Blurred(share)) => Some(*share),
            _ => None,
        }
    }
}

fn restrictor() -> Restrictor {
    "0.040 in".parse().expect("a restrictor")
}

/// Found over true.
fn over(held: &Held) -> f64 {
    let leak = held.leak.expect("a leak");
    leak.mm2 / restrictor().effective_mm2() / RATIO
}

fn holds_truth(held: &Held) -> bool {
    let truth = RATIO * restrictor().effective_mm2();
    let leak = held.leak.expect("a leak");
    leak.low_mm2 < truth && truth < leak.high_mm2
}

fn drifts(at: f64) -> f64 {
    -0.0008 * (at - 25.0)
}

fn wobbles(at: f64) -> f64 {
    0.015 * libm::sin(std::f64::consts::TAU * at / 37.0)
}

/// A straight line between two readings of the supply is what a steady drift follows: rounds take it
/// out altogether, where one reading of each is off by as much as it moved in between.
#[test]
fn a_drift_is_taken_out() {
    let mut bench = Bench::once(72.0 / 80.0, drifts);
    let before = over(&bench.held());
    bench.rounds(2);
    let held = bench.held();
    assert!((before - 1.0).abs() > 0.05, "{before}");
    assert!((over(&held) - 1.0).abs() < 0.01, "{}", over(&held));
    assert_eq!(held.rounds, 3);
    assert!(bench.flags().is_empty(), "{:?}", bench.flags());
}

/// Three per cent to and fro hide a leak that loses ten; what rounds leave open is said, and holds the
/// truth.
#[test]
fn what_a_wobble_hides_is_told_by_rounds() {
    let mut bench = Bench::once(72.0 / 80.0, wobbles);
    let before = bench.held().leak.and_then(|leak| leak.known_to());
    assert!(bench.blurred().is_some());
    bench.rounds(4);
    let held = bench.held();
    let after = held.leak.and_then(|leak| leak.known_to());
    assert!(after < before, "{after:?}, {before:?}");
    assert!((over(&held) - 1.0).abs() < 0.05, "{}", over(&held));
    assert!(holds_truth(&held), "{held:?}");
}

/// A supply that stands still: what rounds come to is what one reading comes to, and it is known well.
#[test]
fn a_steady_supply_is_soon_known() {
    let mut bench = Bench::once(72.0 / 80.0, |_| 0.0);
    bench.rounds(2);
    let held = bench.held();
    assert!((over(&held) - 1.0).abs() < 2e-3, "{}", over(&held));
    assert_eq!(bench.blurred(), None);
}

/// Rounds are no remedy where the leak is known well (60 of 80 psi), and none where the restrictor is
/// wrong for it (4 of 80 psi and 79.5 of 80 psi): that has an advice of its own.
#[test]
fn rounds_are_asked_for_only_where_they_help() {
    for (held_psi, suits) in [(60.0, true), (4.0, false), (79.5, false)] {
        let bench = Bench::once(held_psi / 80.0, wobbles);
        assert_eq!(bench.blurred(), None, "{held_psi} psi");
        let advised = |flag: &AirFlag| matches!(flag, AirFlag::RestrictorDoesNotSuit { .. });
        assert_eq!(!bench.flags().iter().any(advised), suits, "{held_psi} psi");
    }
}

/// Left in the middle, what was compared so far counts; a reading of the cylinder that no reading of
/// the supply followed does not.
#[test]
fn rounds_may_be_left_at_any_time() {
    let mut bench = Bench::once(72.0 / 80.0, drifts);
    bench.rounds(1);
    let two = bench.held();
    bench.turn(Stage::Top);
    assert_eq!(bench.held(), two);
    bench.watch.set_stage(Stage::Shut);
    bench.supply(5.0);
    assert_eq!(bench.held(), two);
}

/// Whoever goes on the moment that the supply is called has its reading none the less.
#[test]
fn a_supply_that_was_read_as_short_as_can_be_counts() {
    let mut bench = Bench::new(72.0 / 80.0, |_| 0.0);
    bench.watch.set_stage(Stage::Supply);
    while bench.told.is_empty() {
        bench.pass(0.01, |_, supply| supply);
    }
    bench.cylinder(15.0);
    bench.rounds(0);
    assert_eq!(bench.held().rounds, 1);
}

/// A piston that the air pushed off while its side was opened again.
#[test]
fn a_piston_pushed_off_in_a_round_is_told() {
    let mut bench = Bench::once(72.0 / 80.0, |_| 0.0);
    bench.rounds(0);
    bench.share = 0.2;
    bench.watch.set_stage(Stage::Top);
    bench.pass(1.0, |_, supply| 0.2 * supply);
    bench.cylinder(5.0);
    let away = AirFlag::FellAway { stage: Stage::Top };
    assert!(bench.flags().contains(&away), "{:?}", bench.flags());
}
