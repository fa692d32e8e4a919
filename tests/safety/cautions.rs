//! Each caution appears where its condition holds, and nowhere else.

use crate::bench::Bench;
use crate::engines::{Engine, all};
use needlerest::engine::cautions::{CAUTIONS, FIRST, before_air, before_cranking, in_a_report};
use needlerest::engine::{Decompressor, EngineKind, Fuel, Start};
use needlerest::session::Output;
use std::collections::BTreeSet;

/// For a test with air, and for no engine that is cranked.
const AIR: [&str; 4] = ["leak-down", "air-bolt", "air-zero", "air-limit"];

/// Whether a caution is for an engine, said here once more and apart from the program: what is
/// not known counts as so.
fn wanted(id: &str, engine: &Engine) -> bool {
    let petrol = !engine.diesel();
    let fuel = |fuel| petrol && engine.fuel.is_none_or(|known| known == fuel);
    let electric = engine.start.is_none_or(|start| start == Start::Electric);
    let by_hand = engine.start.is_none_or(|start| start != Start::Electric);
    let fitted = |wanted| engine.decompressor.is_none_or(|known| known == wanted);
    match id {
        "fuel" | "flame" | "driven-off" | "turns" | "eyes" | "hot" | "sensor" => true,
        "ignition" | "fires-by-itself" => petrol,
        "diesel-fires" | "diesel-hole" | "diesel-oil" => !petrol,
        "float-bowl" => fuel(Fuel::Carburettor),
        "injection" => fuel(Fuel::Injection),
        "hydrogen" | "starter" => electric,
        "kick-back" => by_hand,
        "manual-decompressor" => fitted(Decompressor::Manual),
        "automatic-decompressor" => fitted(Decompressor::Automatic),
        "oil" => petrol && !engine.two_stroke(),
        "two-stroke-oil" => petrol && engine.two_stroke(),
        air if AIR.contains(&air) => false,
        other => panic!("{other}: for which engines is it?"),
    }
}

#[test]
fn each_where_its_condition_holds_and_nowhere_else() {
    for engine in all() {
        let kind = EngineKind::of(Some(&engine.card()));
        let shown: BTreeSet<&str> = before_cranking(&kind).iter().map(|c| c.id).collect();
        let should: BTreeSet<&str> = CAUTIONS
            .iter()
            .map(|c| c.id)
            .filter(|id| wanted(id, &engine))
            .collect();
        assert_eq!(shown, should, "{engine:?}");
        let told: BTreeSet<&str> = in_a_report(&kind).iter().map(|c| c.id).collect();
        assert_eq!(told.len(), shown.len() + 1);
        assert!(told.contains("leak-down"));
    }
}

/// A visit without the page of cautions (plain mode, a screen reader) says each of them.
#[test]
fn a_visit_says_them_before_anything_else() {
    for engine in all() {
        let mut bench = Bench::new(engine.setup());
        bench.wait(0.25);
        let lines: Vec<&str> = bench
            .out
            .iter()
            .filter_map(|output| match output {
                Output::Say(text) => Some(text.as_str()),
                _ => None,
            })
            .collect();
        assert_eq!(lines.first(), Some(&FIRST));
        for caution in &CAUTIONS {
            let said = lines.iter().any(|line| line.contains(caution.text));
            assert_eq!(
                said,
                wanted(caution.id, &engine),
                "{engine:?} {}",
                caution.id
            );
        }
    }
}

/// Of an engine of which nothing is known, all that cranking any engine asks for.
#[test]
fn without_a_card_nothing_is_left_out() {
    let shown = before_cranking(&EngineKind::default());
    assert_eq!(shown.len(), CAUTIONS.len() - AIR.len());
}

/// Before air comes: what air does, first, then what any engine with its plugs out asks for.
#[test]
fn a_test_with_air_has_its_own_and_those_of_the_engine() {
    for engine in all() {
        let kind = EngineKind::of(Some(&engine.card()));
        let shown: Vec<&str> = before_air(&kind).iter().map(|c| c.id).collect();
        let (air, rest) = shown.split_at(AIR.len());
        assert_eq!(air, AIR);
        assert!(rest.contains(&"turns") && rest.contains(&"eyes") && rest.contains(&"fuel"));
        assert!(
            rest.iter().all(|id| wanted(id, &engine)),
            "{engine:?} {rest:?}"
        );
    }
}

#[test]
fn each_says_what_to_do_and_who_says_so() {
    let ids: BTreeSet<&str> = CAUTIONS.iter().map(|c| c.id).collect();
    assert_eq!(ids.len(), CAUTIONS.len());
    for caution in &CAUTIONS {
        assert!(caution.text.ends_with('.') && !caution.about.is_empty());
        let source = ["TM ", "AC 43", "common practice, no source", "own rule"];
        assert!(
            source.iter().any(|s| caution.source.contains(s)),
            "{}",
            caution.id
        );
    }
}
