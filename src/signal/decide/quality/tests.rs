//! Both sides of each limit from which a flag is raised.

use super::*;
use crate::signal::build_up::Turned;
use crate::signal::results::{BuildUp, Cadence, Droop, Grade, Stroke, Zero};
use crate::signal::settings::Settings;
use crate::units::{Rate, Time};

/// A run to which nothing is to object: 1200 kPa, 8 strokes, air of 100 kPa around.
fn sound() -> RunResult {
    RunResult {
        started: Time::from_s(0.0),
        ended: Time::from_s(9.0),
        rig: Some(Rig::Holding),
        zero: Zero {
            level: Pressure::from_pa(0.0),
            standard: Pressure::from_pa(10.0),
            measured: true,
        },
        noise: Pressure::from_pa(100.0),
        strokes: Vec::new(),
        turned: Turned::ByStarter,
        count: 8,
        build_up: Some(BuildUp {
            plateau: Pressure::from_pa(1.2e6),
            plateau_uncertainty: Pressure::from_pa(500.0),
            ratio: 0.3,
            ratio_uncertainty: 0.01,
            first_share: 0.7,
            first_share_uncertainty: 0.01,
            strokes: 8,
        }),
        outcome: Outcome::Settled,
        call: None,
        reading: None,
        cadence: Some(Cadence {
            median: Rate::from_hz(2.0),
            slowest: Rate::from_hz(1.9),
            fastest: Rate::from_hz(2.1),
            unevenness: 0.02,
            pauses: 0,
        }),
        droop: None,
        flags: Vec::new(),
        grade: Grade::Good,
    }
}

fn tally() -> Tally {
    Tally {
        strokes: 8,
        clipped_samples: 0,
        refused_samples: 0,
        withdrawn: 0,
        cut_off_share: 0.0,
    }
}

fn judged(absolute: bool, change: impl FnOnce(&mut RunResult, &mut Tally)) -> (Vec<Flag>, Grade) {
    let settings = Settings {
        absolute,
        ambient: Pressure::from_kpa(100.0),
        ..Settings::default()
    };
    let (mut run, mut tally) = (sound(), tally());
    change(&mut run, &mut tally);
    let context = Context {
        settings: &settings,
        rig: run.rig,
        zero: run.zero,
        noise: 100.0,
    };
    judge(&mut run, &context, &tally);
    (run.flags, run.grade)
}

fn flags(change: impl FnOnce(&mut RunResult, &mut Tally)) -> Vec<Flag> {
    judged(false, change).0
}

fn fit(change: impl FnOnce(&mut BuildUp)) -> Vec<Flag> {
    flags(|run, _| change(run.build_up.as_mut().unwrap()))
}

fn turning(change: impl FnOnce(&mut Cadence)) -> Vec<Flag> {
    flags(|run, _| change(run.cadence.as_mut().unwrap()))
}

#[test]
fn a_sound_run_has_no_flag() {
    assert_eq!(judged(false, |_, _| ()), (Vec::new(), Grade::Good));
}

/// The worst flag makes the grade: one to repeat makes it poor, one to mind fair, a note leaves it good.
#[test]
fn the_worst_flag_makes_the_grade() {
    assert_eq!(judged(false, |_, tally| tally.withdrawn = 1).1, Grade::Good);
    let mind = judged(false, |run, tally| {
        tally.withdrawn = 1;
        run.outcome = Outcome::StillClimbing;
    });
    assert_eq!(
        mind,
        (
            vec![
                Flag::StoppedEarly { strokes: 8 },
                Flag::Withdrawn { times: 1 }
            ],
            Grade::Fair
        )
    );
    let repeat = judged(false, |run, _| {
        run.outcome = Outcome::StillClimbing;
        run.rig = None;
    });
    assert_eq!(
        repeat,
        (
            vec![Flag::StoppedEarly { strokes: 8 }, Flag::RigUnclear],
            Grade::Poor
        )
    );
}

/// Three strokes are few but not too few; of less nothing is said of build-up or throttle.
#[test]
fn fewer_than_three_strokes_are_too_few() {
    assert_eq!(flags(|_, tally| tally.strokes = 3), []);
    let low = |strokes| {
        flags(|run, tally| {
            tally.strokes = strokes;
            run.build_up.as_mut().unwrap().plateau = Pressure::from_kpa(300.0);
        })
    };
    assert_eq!(
        low(3),
        [Flag::ThrottleMayBeShut {
            reading: Pressure::from_kpa(300.0)
        }]
    );
    assert_eq!(low(2), [Flag::TooFewStrokes { strokes: 2 }]);
    assert_eq!(low(1), [Flag::TooFewStrokes { strokes: 1 }]);
    assert_eq!(low(0), [Flag::NoStrokes]);
}

#[test]
fn strokes_beyond_the_list_and_lost_ones_are_counted() {
    assert_eq!(flags(|_, tally| tally.strokes = 1000), []);
    assert_eq!(
        flags(|_, tally| tally.strokes = 1001),
        [Flag::StrokesNotListed { strokes: 1 }]
    );
    let stroke = |packets_missing| Stroke {
        number: 1,
        time: Time::from_s(1.0),
        peak: Pressure::from_pa(1e6),
        rise: Pressure::from_pa(1e6),
        needle: Pressure::from_pa(1e6),
        count: 1,
        interval: None,
        cut_off: Pressure::from_pa(0.0),
        packets_missing,
        clipped: false,
    };
    assert_eq!(flags(|run, _| run.strokes = vec![stroke(false); 3]), []);
    let two = flags(|run, _| run.strokes = vec![stroke(true), stroke(false), stroke(true)]);
    assert_eq!(two, [Flag::LostInStroke { strokes: 2 }]);
}

/// A gauge sensor's zero is told from a twentieth of an atmosphere on, either way; an absolute sensor's
/// from two fifths on, from the air.
#[test]
fn a_zero_far_off_is_told() {
    let offset = |absolute: bool, level: f64| {
        let told = judged(absolute, |run, _| run.zero.level = Pressure::from_pa(level)).0;
        told.iter().find_map(|flag| match flag {
            Flag::ZeroOffset { offset } => Some(offset.pa()),
            _ => None,
        })
    };
    assert_eq!(
        (offset(false, 4900.0), offset(false, -4900.0)),
        (None, None)
    );
    assert_eq!(
        (offset(false, 5100.0), offset(false, -5100.0)),
        (Some(5100.0), Some(-5100.0))
    );
    assert_eq!(
        (offset(true, 139_000.0), offset(true, 61_000.0)),
        (None, None)
    );
    assert_eq!(
        (offset(true, 141_000.0), offset(true, 59_000.0)),
        (Some(41_000.0), Some(-41_000.0))
    );
    let assumed = flags(|run, _| {
        run.zero.measured = false;
        run.zero.level = Pressure::from_pa(9e4);
    });
    assert_eq!(assumed, [Flag::NotZeroed]);
}

#[test]
fn samples_at_the_end_and_bad_ones_are_counted() {
    let told = judged(false, |_, tally| {
        (tally.clipped_samples, tally.refused_samples) = (1, 2);
    });
    assert_eq!(
        told,
        (
            vec![
                Flag::Clipped { samples: 1 },
                Flag::BadSamples { samples: 2 }
            ],
            Grade::Poor
        )
    );
}

/// From a cut-off of a twentieth on, where the sensor follows.
#[test]
fn a_slow_sensor_is_told_where_it_follows() {
    let cut = |rig, share| {
        flags(|run, tally| {
            run.rig = Some(rig);
            tally.cut_off_share = share;
        })
    };
    assert_eq!(cut(Rig::Following, 0.049), []);
    assert_eq!(
        cut(Rig::Following, 0.051),
        [Flag::Undersampled {
            cut_off_share: 0.051
        }]
    );
    assert_eq!(cut(Rig::Holding, 0.5), []);
}

/// A fifth of unevenness; a hundred crank turns a minute, which are 50 strokes; in kicks neither.
#[test]
fn uneven_and_slow_cranking_is_told() {
    let rate = |per_minute: f64| Rate::from_hz(per_minute / 60.0);
    assert_eq!(turning(|cadence| cadence.unevenness = 0.19), []);
    assert_eq!(
        turning(|cadence| cadence.unevenness = 0.21),
        [Flag::UnevenCadence { unevenness: 0.21 }]
    );
    assert_eq!(turning(|cadence| cadence.median = rate(50.1)), []);
    assert_eq!(
        turning(|cadence| cadence.median = rate(49.9)),
        [Flag::SlowCadence { median: rate(49.9) }]
    );
    let kicked = flags(|run, _| {
        run.turned = Turned::InKicks;
        let cadence = run.cadence.as_mut().unwrap();
        (cadence.unevenness, cadence.median) = (0.5, rate(20.0));
    });
    assert_eq!(kicked, []);
}

/// Four atmospheres for the throttle; a ratio of 0.6 and half on the first stroke for the hose, which
/// only a check valve shows.
#[test]
fn low_readings_and_large_hoses_are_told() {
    assert_eq!(fit(|fit| fit.plateau = Pressure::from_kpa(401.0)), []);
    let low = Pressure::from_kpa(399.0);
    assert_eq!(
        fit(|fit| fit.plateau = low),
        [Flag::ThrottleMayBeShut { reading: low }]
    );
    let slow = |ratio, first_share| fit(|fit| (fit.ratio, fit.first_share) = (ratio, first_share));
    assert_eq!(slow(0.61, 0.49), [Flag::SlowBuildUp { first_share: 0.49 }]);
    assert_eq!(
        (slow(0.59, 0.49), slow(0.61, 0.51)),
        (Vec::new(), Vec::new())
    );
    let following = flags(|run, _| {
        run.rig = Some(Rig::Following);
        let fit = run.build_up.as_mut().unwrap();
        (fit.ratio, fit.first_share) = (0.7, 0.3);
    });
    assert_eq!(following, []);
}

/// A fall of 0.2 % of the level a second, known to a third.
#[test]
fn a_fall_is_a_leak_when_it_is_large_and_sure() {
    let fall = |per_second: f64, standard: f64| {
        flags(|run, _| {
            run.droop = Some(Droop {
                per_second: Pressure::from_pa(per_second),
                per_second_standard: Pressure::from_pa(standard),
                watched: Time::from_s(4.0),
            });
        })
    };
    let leaks = |pa| {
        vec![Flag::TesterLeaks {
            per_second: Pressure::from_pa(pa),
        }]
    };
    assert_eq!(
        (fall(2390.0, 10.0), fall(2410.0, 10.0)),
        (Vec::new(), leaks(2410.0))
    );
    assert_eq!(
        (fall(3000.0, 1001.0), fall(3000.0, 999.0)),
        (Vec::new(), leaks(3000.0))
    );
    assert_eq!(fall(-9000.0, 10.0), []);
}
