//! Strokes of kept recordings against what an outside reader finds in them: SciPy's `find_peaks`
//! without a check valve, the change points of `ruptures` behind one. It unpacks the packets itself
//! (`fixtures/signal/recordings.py`). The four demo visits, and twelve of a model written by others
//! (`fixtures/other-model`): starters, kicks and pull cords, both rigs, 50 to 500 samples a second.

use needlerest::pipeline::{Options, analyse};
use needlerest::signal::{Rig, RunResult, Stroke, Turned};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

#[derive(Deserialize)]
struct Fixture {
    recordings: BTreeMap<String, Vec<Run>>,
}

#[derive(Deserialize)]
struct Run {
    rig: Rig,
    cylinder: String,
    /// When (s), and the highest sample or the level held after it (Pa).
    strokes: Vec<(f64, f64)>,
    needle_pa: Option<f64>,
    /// Mean and standard deviation of the samples of the first second, at rest.
    zero_pa: f64,
    noise_pa: f64,
}

/// Rises and peaks smaller than this share of the highest may be one reader's stroke and the other's
/// noise, and are left alone.
const BIG_RISE: f64 = 0.03;
const HIGH_PEAK: f64 = 0.45;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every kept run: its name, what the outside reader says, what we say.
fn all() -> Vec<(String, Run, RunResult)> {
    let text = include_str!("../../fixtures/signal/recordings.json");
    let fixture: Fixture = serde_json::from_str(text).expect("JSON");
    assert_eq!(fixture.recordings.len(), 16);
    let mut found = Vec::new();
    for (name, outside) in fixture.recordings {
        let folders = ["demo", "fixtures/other-model"];
        let paths = folders.map(|folder| root().join(folder).join(format!("{name}.jsonl")));
        let path: &PathBuf = paths
            .iter()
            .find(|path| path.is_file())
            .expect("a recording");
        let bytes = std::fs::read(path).expect("readable");
        let ours = analyse(bytes.as_slice(), Options::default()).expect("a sound recording");
        let ours = ours.findings.runs;
        assert_eq!(ours.len(), outside.len(), "{name}: runs");
        for (at, (theirs, ours)) in outside.into_iter().zip(ours).enumerate() {
            assert_eq!(theirs.cylinder, ours.cylinder, "{name}, run {at}");
            found.push((format!("{name}, run {at}"), theirs, ours.result));
        }
    }
    found
}

fn of(rig: Rig) -> Vec<(String, Run, RunResult)> {
    let mut runs = all();
    runs.retain(|(_, theirs, _)| theirs.rig == rig);
    assert!(runs.len() > 10);
    runs
}

/// Those of our strokes that lie within so many seconds.
fn near(strokes: &[Stroke], time: f64, within: f64) -> Vec<&Stroke> {
    let close = |stroke: &&Stroke| (stroke.time.s() - time).abs() <= within;
    strokes.iter().filter(close).collect()
}

#[test]
fn the_rig_is_told_as_the_outside_reader_tells_it() {
    for (name, theirs, ours) in all() {
        assert_eq!(ours.rig, Some(theirs.rig), "{name}");
    }
}

/// Behind a check valve: each rise of the held level is one stroke, and each stroke that lifts the
/// needle is such a rise, to one sample of the slowest sensor (50 a second).
#[test]
fn behind_a_check_valve_strokes_are_the_rises_between_change_points() {
    const SAMPLE_S: f64 = 0.021;
    for (name, theirs, ours) in of(Rig::Holding) {
        let highest = theirs.needle_pa.expect("a level");
        let mut before = 0.0;
        for (time, level) in &theirs.strokes {
            let found = near(&ours.strokes, *time, SAMPLE_S).len();
            let big = level - before > BIG_RISE * highest;
            assert!(!big || found == 1, "{name}: {found} strokes at {time} s");
            before = *level;
        }
        let mut before = 0.0;
        for stroke in &ours.strokes {
            let needle = stroke.needle.pa();
            let time = stroke.time.s();
            let rises = theirs.strokes.iter();
            let found = rises
                .filter(|rise| (rise.0 - time).abs() <= SAMPLE_S)
                .count();
            let big = needle - before > BIG_RISE * highest;
            assert!(
                !big || found == 1,
                "{name}: our stroke at {time} s is no rise"
            );
            before = needle;
        }
    }
}

/// The needle is the highest level between change points. A level is the middle of a stretch; the
/// top of the last step may lie a little above it, as the gas cools and the needle stays.
#[test]
fn behind_a_check_valve_the_needle_is_the_highest_level() {
    for (name, theirs, ours) in of(Rig::Holding) {
        let needle = ours.strokes.last().expect("strokes").needle.pa();
        let off = needle / theirs.needle_pa.expect("a level") - 1.0;
        assert!((-0.005..0.015).contains(&off), "{name}: {off}");
    }
}

/// Without one: the same peaks at the same sample. Ours are fitted between samples, so that they
/// lie at most as far above the highest sample as the slow rate may have cut off, and never below it by
/// more than noise.
#[test]
fn without_a_check_valve_strokes_are_the_peaks_that_scipy_finds() {
    const SAMPLE_S: f64 = 0.005;
    for (name, theirs, ours) in of(Rig::Following) {
        let noise = 4.0 * ours.noise.pa();
        for (time, height) in &theirs.strokes {
            let [stroke] = near(&ours.strokes, *time, SAMPLE_S)[..] else {
                panic!("{name}: not one stroke at {time} s");
            };
            let above = stroke.peak.pa() - height;
            let most = stroke.cut_off.pa() + noise;
            assert!(
                (-noise..most).contains(&above),
                "{name}, {time} s: {above} of {most} Pa"
            );
        }
        let peaks = ours.strokes.iter().map(|stroke| stroke.peak.pa());
        let highest = peaks.fold(0.0, f64::max);
        for stroke in &ours.strokes {
            let time = stroke.time.s();
            let theirs = theirs.strokes.iter();
            let found = theirs
                .filter(|peak| (peak.0 - time).abs() <= SAMPLE_S)
                .count();
            let high = stroke.peak.pa() > HIGH_PEAK * highest;
            assert!(
                !high || found == 1,
                "{name}: our stroke at {time} s is no peak"
            );
        }
    }
}

/// The zero is NumPy's mean of the first second: to three standard errors of both, its own being that
/// of 50 samples, and the 100 Pa by which the demo's sensor wanders (`demo/*.recipe.toml`).
#[test]
fn the_zero_is_the_mean_at_rest() {
    for (name, theirs, ours) in all() {
        assert!(ours.zero.measured, "{name}");
        let off = ours.zero.level.pa() - theirs.zero_pa;
        let error = libm::hypot(ours.zero.standard.pa(), theirs.noise_pa / libm::sqrt(50.0));
        assert!(
            off.abs() < 3.0 * error + 100.0,
            "{name}: {off} Pa, {error} Pa"
        );
    }
}

/// The sensor's noise is NumPy's standard deviation of the first second; of 50 samples that is itself
/// known to a tenth (1/√(2n)), and the zero warms up meanwhile.
#[test]
fn the_noise_is_the_scatter_at_rest() {
    for (name, theirs, ours) in all() {
        let share = ours.noise.pa() / theirs.noise_pa;
        assert!((0.6..1.5).contains(&share), "{name}: {share}");
    }
}

/// The cadence of a starter is the median of the intervals between SciPy's peaks.
#[test]
fn the_cadence_is_that_of_the_peaks() {
    let mut looked_at = 0;
    for (name, theirs, ours) in of(Rig::Following) {
        if ours.turned != Turned::ByStarter {
            continue;
        }
        let mut gaps: Vec<f64> = theirs.strokes.windows(2).map(|w| w[1].0 - w[0].0).collect();
        gaps.sort_by(f64::total_cmp);
        let period = gaps[gaps.len() / 2];
        let found = ours.cadence.expect("a cadence").median.hz();
        assert!(
            (found * period - 1.0).abs() < 0.02,
            "{name}: {found} Hz, {period} s"
        );
        looked_at += 1;
    }
    assert!(looked_at >= 6, "{looked_at}");
}
