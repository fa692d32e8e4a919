use needlerest::pipeline::Findings;
use needlerest::signal::{Outcome, RunResult, STROKES_KEPT};

/// What holds for the findings of any recording whatever.
pub fn are_sane(findings: &Findings) {
    for run in &findings.runs {
        run_is_sane(&run.result);
    }
    let json = serde_json::to_string(findings).expect("plain data");
    let back: Findings = serde_json::from_str(&json).expect("what is written can be read");
    assert_eq!(&back, findings, "no number is lost on the way through JSON");
}

/// Numbers are finite, strokes in order, and a reading is there exactly when the outcome says so.
pub fn run_is_sane(run: &RunResult) {
    assert!(run.started.is_finite() && run.ended.is_finite() && run.started <= run.ended);
    assert!(run.strokes.len() <= STROKES_KEPT);
    let in_order = (run.strokes).is_sorted_by(|a, b| a.number < b.number && a.time <= b.time);
    assert!(in_order, "{:?}", run.strokes);
    assert!(
        run.strokes
            .iter()
            .all(|s| s.peak.is_finite() && s.rise.is_finite())
    );
    assert!(run.noise.is_finite() && run.zero.level.is_finite() && run.zero.standard.is_finite());
    assert_eq!(run.reading.is_some(), run.outcome != Outcome::NoReading);
    assert_eq!(run.call.is_some(), run.outcome == Outcome::Settled);
    assert!(run.call.is_none_or(|call| call.unseen < call.count));
    if let Some(reading) = &run.reading {
        assert_eq!(reading.is_at_least(), run.outcome == Outcome::StillClimbing);
        assert!(reading.value.is_finite(), "{reading:?}");
        assert!(
            reading.expanded.is_finite() && reading.expanded.pa() >= 0.0,
            "{reading:?}"
        );
        assert!(reading.expanded_relative <= reading.expanded, "{reading:?}");
    }
}
