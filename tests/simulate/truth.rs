//! The truth beside a run is true.

use super::common::{isothermal_hose, near, reference, run_of};
use needlerest::simulate::run;

#[test]
fn the_plateau_is_what_many_strokes_come_to() {
    let mut spec = run_of(reference(), 200.0);
    spec.tester = isothermal_hose(25.0);
    spec.tester.heat_w_per_k = 25.0;
    spec.program.strokes = 4;
    let few = run(&spec).expect("a run").truth;
    spec.program.strokes = 60;
    spec.program.crank_at_most_s = 100.0;
    let many = run(&spec).expect("a run").truth;
    let last = many.strokes[58];
    near(
        few.plateau.pa(),
        last.shown_peak.pa(),
        2e-3,
        "plateau from 4 strokes",
    );
    near(many.plateau_held.pa(), last.held.pa(), 2e-3, "held");
    assert!(few.plateau < few.perfect_gauge);
}

#[test]
fn the_oracle_stroke_is_the_first_within_one_percent() {
    let mut spec = run_of(reference(), 200.0);
    spec.tester = isothermal_hose(25.0);
    spec.tester.heat_w_per_k = 25.0;
    spec.program.strokes = 20;
    let truth = run(&spec).expect("a run").truth;
    let at = truth.oracle_stroke.expect("it came near") as usize;
    let share = |i: usize| truth.strokes[i].shown_peak / truth.plateau;
    assert!(share(at - 1) >= 0.99 && share(at - 2) < 0.99);
    spec.program.strokes = 2;
    assert_eq!(run(&spec).expect("a run").truth.oracle_stroke, None);
}

#[test]
fn strokes_come_once_in_two_turns_and_at_the_top() {
    let truth = run(&run_of(reference(), 240.0)).expect("a run").truth;
    for pair in truth.strokes.windows(2).take(6) {
        near((pair[1].time - pair[0].time).s(), 0.5, 2e-3, "interval");
    }
    assert!(truth.strokes[..7].iter().all(|s| s.complete));
    near(truth.strokes[3].crank.per_min(), 240.0, 1e-9, "speed");
}
