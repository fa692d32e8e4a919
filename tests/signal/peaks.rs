//! Strokes on the same arrays as `scipy.signal.find_peaks` by prominence; see
//! `fixtures/signal/make.py`.

use crate::synth::{runs, sample, settings};
use needlerest::signal::{Analyser, Rig};
use serde::Deserialize;

#[derive(Deserialize)]
struct Fixture {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    rate_hz: f64,
    noise_pa: f64,
    pressure_pa: Vec<f64>,
    peaks: Vec<usize>,
}

#[test]
fn strokes_are_the_peaks_that_scipy_finds() {
    let fixture: Fixture =
        serde_json::from_str(include_str!("../../fixtures/signal/peaks.json")).unwrap();
    assert!(!fixture.cases.is_empty());
    for case in fixture.cases {
        let mut settings = settings();
        settings.rig = Some(Rig::Following);
        let mut analyser = Analyser::new(settings);
        let mut events = Vec::new();
        for (i, pressure) in case.pressure_pa.iter().enumerate() {
            analyser.push(sample(i as f64 / case.rate_hz, *pressure), &mut events);
        }
        analyser.finish(&mut events);
        let runs = runs(&events);
        assert_eq!(runs.len(), 1, "{}", case.name);
        let strokes = &runs[0].strokes;
        assert_eq!(strokes.len(), case.peaks.len(), "{}", case.name);
        for (stroke, peak) in strokes.iter().zip(&case.peaks) {
            // The fit lies between samples; noise can shift SciPy's highest sample by a few.
            let off = stroke.time.s() * case.rate_hz - *peak as f64;
            let broad = 0.004 * case.rate_hz;
            assert!(off.abs() <= 1.0 + broad, "{}: {off} samples", case.name);
            let highest = case.pressure_pa[*peak];
            let above = stroke.peak.pa() - highest;
            assert!(
                above > -3.0 * case.noise_pa && above < 0.1 * highest,
                "{}: {above} Pa above the highest sample",
                case.name
            );
        }
    }
}
