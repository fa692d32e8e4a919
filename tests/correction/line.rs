//! The line against the calibration of a thermometer worked out in JCGM 100:2008 (GUM), annex H.3.

use needlerest::correction::{Observation, fit};

/// Readings and corrections of table H.6, in °C (as the documentation of the general-purpose
/// library GTC repeats them, gtc.readthedocs.io, page "GUM H3").
const READINGS: [f64; 11] = [
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
];
const CORRECTIONS: [f64; 11] = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
];
/// The example counts temperatures from here.
const FROM: f64 = 20.0;

fn observations() -> Vec<Observation> {
    let pairs = READINGS.iter().zip(CORRECTIONS);
    let one = |(reading, y): (&f64, f64)| Observation {
        x: reading - FROM,
        y,
        variance: 1.0,
    };
    pairs.map(one).collect()
}

fn near(found: f64, printed: f64, half_digit: f64) {
    assert!(
        (found - printed).abs() <= half_digit,
        "{found} where {printed} is printed"
    );
}

/// Results as printed in H.3.3 and H.3.4 (equations H.14 and H.15; the digits from memory, the
/// data above looked up).
#[test]
fn the_thermometer_of_the_gum() {
    let line = fit(&observations()).unwrap();
    near(line.scatter.unwrap().sqrt(), 0.0035, 0.000_05);
    let line = line.by_scatter();
    near(line.intercept, -0.1712, 0.000_05);
    near(line.slope, 0.002_18, 0.000_005);
    near(line.variances[0].sqrt(), 0.0029, 0.000_05);
    near(line.variances[1].sqrt(), 0.000_67, 0.000_005);
    near(line.correlation(), -0.930, 0.0005);
    near(line.at(30.0 - FROM), -0.1494, 0.000_05);
    near(line.standard_at(30.0 - FROM), 0.0041, 0.000_05);
}

/// What every sensitivity says is what happens.
#[test]
fn sensitivities_are_derivatives() {
    let mut unequal = observations();
    for (n, observation) in unequal.iter_mut().enumerate() {
        observation.variance = 1.0 + n as f64;
    }
    let line = fit(&unequal).unwrap();
    for (n, (of_intercept, of_slope)) in line.sensitivities.iter().enumerate() {
        let mut moved = unequal.clone();
        moved[n].y += 1.0;
        let moved = fit(&moved).unwrap();
        near(moved.intercept - line.intercept, *of_intercept, 1e-9);
        near(moved.slope - line.slope, *of_slope, 1e-9);
    }
}

#[test]
fn one_place_makes_no_line() {
    let same = [Observation {
        x: 1.0,
        y: 2.0,
        variance: 1.0,
    }; 3];
    assert_eq!(fit(&same), None);
    assert_eq!(fit(&same[..1]), None);
    assert_eq!(fit(&[]), None);
    let mut strange = observations();
    strange[3].y = f64::NAN;
    assert_eq!(fit(&strange), None);
}
