//! The same seed gives the same bytes, whatever runs beside it.

use needlerest::simulate::Fault::{ExhaustValve, IntakeValve, Rings, ThrottleShut};
use needlerest::simulate::{Origin, Recipe, draw, session, visit, visit_truths};
use rayon::prelude::*;

const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");

fn corpus(threads: usize) -> Vec<String> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    pool.install(|| {
        (0..12_u64)
            .into_par_iter()
            .map(|index| {
                let mut visit = visit(&Origin::Drawn, 5, index);
                visit.recipe.runs.truncate(1);
                // Where an engine does not turn over, the same is said of it.
                let bytes = session(&visit.recipe, PROTOCOL, None).map(|made| made.recording);
                format!("{:?} {bytes:?}", visit_truths(&visit))
            })
            .collect()
    })
}

#[test]
fn a_corpus_is_the_same_on_one_thread_and_on_two() {
    let one = corpus(1);
    assert!(one == corpus(2), "recordings and truths differ");
    assert_ne!(one[0], one[1]);
}

#[test]
fn a_visit_does_not_depend_on_those_before_it() {
    let alone = draw(9, 4);
    let among: Vec<_> = (0..6).map(|index| draw(9, index)).collect();
    assert_eq!(alone, among[4]);
    assert_ne!(draw(10, 4).recipe.seed, alone.recipe.seed);
}

#[test]
fn a_drawn_recipe_survives_being_written() {
    for index in 0..40 {
        let recipe = draw(2, index).recipe;
        let text = toml::to_string(&recipe).expect("TOML");
        assert_eq!(Recipe::parse(&text).expect("sound"), recipe);
    }
}

#[test]
fn another_seed_gives_another_recording() {
    let mut recipe = Recipe::parse(include_str!("../../demo/otter.recipe.toml")).expect("sound");
    recipe.runs.truncate(1);
    let first = session(&recipe, PROTOCOL, None).expect("a visit");
    assert_eq!(first, session(&recipe, PROTOCOL, None).expect("a visit"));
    recipe.seed += 1;
    assert_ne!(
        first.recording,
        session(&recipe, PROTOCOL, None).expect("a visit").recording
    );
}

/// Shares of the faults in a thousand drawn visits, against the documented distribution
/// (binomial, four standard deviations).
#[test]
fn faults_are_as_often_as_documented() {
    let drawn: Vec<_> = (0..1000).map(|index| draw(3, index)).collect();
    let share = |fault| drawn.iter().filter(|d| d.fault == fault).count() as f64 / 1000.0;
    for (fault, wanted) in [
        (Rings, 0.16),
        (IntakeValve, 0.09),
        (ExhaustValve, 0.11),
        (ThrottleShut, 0.06),
    ] {
        let allowed = 4.0 * (wanted * (1.0 - wanted) / 1000.0_f64).sqrt();
        assert!(
            (share(fault) - wanted).abs() < allowed,
            "{fault:?}: {}",
            share(fault)
        );
    }
}
