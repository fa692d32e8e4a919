//! Many checks of sensors with known truth: how often the stated uncertainty holds it.

use needlerest::correction::{Check, Correction, Point};
use needlerest::units::Pressure;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;

struct Draws(Pcg64);

impl Draws {
    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }
    /// Anywhere from −1 to 1.
    fn within(&mut self) -> f64 {
        2.0 * self.unit() - 1.0
    }
    /// Standard normal (Box and Muller 1958, Annals of Mathematical Statistics 29, 610).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        radius * libm::cos(2.0 * std::f64::consts::PI * self.unit())
    }
}

/// How the trusted gauge errs within its stated accuracy.
#[derive(Clone, Copy, Debug)]
enum Gauge {
    /// By the same pressure everywhere.
    Alike,
    /// In proportion to the pressure.
    BySpan,
    /// Anyhow, at each point.
    Anyhow,
}

/// A world: the gauge's errors, its accuracy and the sensor's noise at each point and
/// how far it may be bent, in pascal.
#[derive(Clone, Copy, Debug)]
struct World {
    gauge: Gauge,
    accuracy: f64,
    noise: f64,
    bend: f64,
}

const TOP: f64 = 8e5;

/// A sensor: what it tells of a pressure.
struct Sensor {
    gain: f64,
    offset: f64,
    /// How far off the straight line it is half-way up.
    bend: f64,
}

impl Sensor {
    fn tells(&self, pressure: f64) -> f64 {
        let part = pressure / TOP;
        pressure * self.gain + self.offset + self.bend * 4.0 * part * (1.0 - part)
    }
}

impl World {
    fn check(&self, sensor: &Sensor, loaded: u32, draws: &mut Draws) -> Correction {
        let common = draws.within();
        let points = (0..=loaded).map(|n| {
            let gauge = TOP * f64::from(n) / f64::from(loaded);
            let error = match self.gauge {
                _ if n == 0 => 0.0,
                Gauge::Alike => common,
                Gauge::BySpan => common * gauge / TOP,
                Gauge::Anyhow => draws.within(),
            };
            let truth = gauge - error * self.accuracy;
            Point {
                gauge: Pressure::from_pa(gauge),
                told: Pressure::from_pa(sensor.tells(truth) + self.noise * draws.normal()),
                standard: Pressure::from_pa(self.noise),
            }
        });
        let check = Check {
            date: "2026-11-28".to_owned(),
            reference: "made up".to_owned(),
            accuracy: Pressure::from_pa(self.accuracy),
            absolute: false,
            points: points.collect(),
        };
        check.correction().unwrap()
    }

    /// Per cent of pressures above zero, over many checks, that are what they should be within
    /// their uncertainty.
    fn covered(&self, loaded: u32) -> f64 {
        let mut draws = Draws(Pcg64::new(24, 7));
        let (mut held, mut tried) = (0_u32, 0_u32);
        for _ in 0..4000 {
            let sensor = Sensor {
                gain: 1.0 + 0.05 * draws.within(),
                offset: 2e4 * draws.within(),
                bend: self.bend * draws.within(),
            };
            let correction = self.check(&sensor, loaded, &mut draws);
            let truth = TOP * (0.1 + 0.9 * draws.unit());
            let of = |pressure: f64| correction.of(Pressure::from_pa(sensor.tells(pressure)));
            // As a reading is: above what the sensor told at rest.
            let read = of(truth) - of(0.0);
            let off = (read.pa() - truth).abs();
            held += u32::from(off <= correction.expanded(read).pa());
            tried += 1;
        }
        100.0 * f64::from(held) / f64::from(tried)
    }
}

/// The accuracy of a tyre gauge of class 1.6 to 10 bar (EN 837-1: ±1.6 % of its span), and a
/// sensor that is steady beside it: the error is bounded, and the uncertainty holds it always
/// (2 × a/√3 is more than a).
#[test]
fn a_gauge_that_errs_within_its_accuracy_is_covered() {
    for gauge in [Gauge::Alike, Gauge::BySpan, Gauge::Anyhow] {
        let world = World {
            gauge,
            accuracy: 1.6e4,
            noise: 50.0,
            bend: 0.0,
        };
        for loaded in 1..=5 {
            let covered = world.covered(loaded);
            assert!(covered >= 95.0, "{gauge:?}, {loaded} points: {covered} %");
        }
    }
}

/// A gauge almost without error, and a sensor whose noise decides: about 95 %; a
/// little more, because what scatters more than it should is taken to be wider, and never narrower.
#[test]
fn noise_is_covered_in_about_95_per_cent() {
    let world = World {
        gauge: Gauge::Anyhow,
        accuracy: 1.0,
        noise: 2e3,
        bend: 0.0,
    };
    for loaded in 1..=5 {
        let covered = world.covered(loaded);
        assert!(
            (94.5..=98.5).contains(&covered),
            "{loaded} points: {covered} %"
        );
    }
}

/// A sensor known to be off comes out corrected.
#[test]
fn a_known_sensor_comes_out_right() {
    let world = World {
        gauge: Gauge::Anyhow,
        accuracy: 2e3,
        noise: 20.0,
        bend: 0.0,
    };
    let sensor = Sensor {
        gain: 1.03,
        offset: -7e3,
        bend: 0.0,
    };
    let mut draws = Draws(Pcg64::new(3, 3));
    let correction = world.check(&sensor, 5, &mut draws);
    let near = |found: f64, truth: f64, within: f64| {
        assert!(
            (found - truth).abs() <= within,
            "{found} for {truth} ± {within}"
        );
    };
    near(correction.gain, 1.0 / 1.03, 2.0 * correction.gain_standard);
    near(
        correction.offset.pa(),
        7e3 / 1.03,
        2.0 * correction.offset_standard.pa(),
    );
    assert!(correction.gain_standard < 0.005 && correction.gain_standard > 0.0005);
    let told = Pressure::from_pa(sensor.tells(7e5));
    near(
        correction.of(told).pa(),
        7e5,
        correction.expanded(Pressure::from_pa(7e5)).pa(),
    );
    assert!((told.pa() - 7e5).abs() > correction.expanded(Pressure::from_pa(7e5)).pa());
}

/// A sensor that is bent, of which a straight line cannot know: from three points upwards it is
/// seen in how they lie, and covered.
#[test]
fn a_bend_is_covered_once_it_can_be_seen() {
    for accuracy in [100.0, 5e3] {
        let world = World {
            gauge: Gauge::Alike,
            accuracy,
            noise: 100.0,
            bend: 1e4,
        };
        for loaded in 2..=5 {
            let covered = world.covered(loaded);
            // Between zero and top one point alone can hide a bend behind the gauge's error.
            let least = if loaded == 2 { 94.0 } else { 95.0 };
            assert!(
                covered >= least,
                "±{accuracy} Pa, {loaded} points: {covered} %"
            );
        }
    }
}
