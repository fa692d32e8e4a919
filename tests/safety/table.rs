//! The table: for each combination, what the screens, proposals and reports may and may not say.
//!
//! The words looked for are those of the dangers, not of one wording.

use crate::bench::{Bench, low};
use crate::engines::{Engine, all};
use crate::support::{Session as Readings, psi, run};
use needlerest::assess::{self, Assessment, Judgement, Role};
use needlerest::engine::expected::usual_crank;
use needlerest::engine::{Condition, Decompressor, EngineKind, Limits, Rating, Start};
use needlerest::session::{Command, Output, Stage, Trouble};
use needlerest::signal::Flag;
use needlerest::units::{PressureUnit, Rate};

/// Everything that a whole visit to it says, in which cylinder 2 is low, the oil is asked for, and
/// the throttle is complained of.
fn visit(engine: &Engine) -> (String, Vec<Condition>) {
    let mut bench = Bench::ready(engine.setup());
    let mut said = Vec::new();
    let look = |bench: &Bench, said: &mut Vec<String>| {
        let view = bench.session.view();
        said.push(view.next);
        said.extend(view.note);
    };
    look(&bench, &mut said);
    bench.make_run();
    look(&bench, &mut said);
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    for _ in 0..6 {
        bench.make_run();
        look(&bench, &mut said);
    }
    let proposed = bench.runs.iter().map(|(_, condition)| *condition).collect();
    bench.command(Command::Trouble(Trouble::Throttle));
    bench.command(Command::Warm);
    for _ in 0..6 {
        look(&bench, &mut said);
        bench.make_run();
    }
    assert!(
        bench.stage() >= Stage::Offer,
        "{engine:?} {:?}",
        bench.stage()
    );
    said.extend(bench.out.iter().filter_map(|output| match output {
        Output::Say(text) => Some(text.clone()),
        _ => None,
    }));
    (said.join("\n"), proposed)
}

/// The report on it: 150 and 90 psi cold; of a diesel 400 and 240 psi.
fn report(engine: &Engine) -> Assessment {
    let readings = if engine.diesel() {
        [400.0, 240.0]
    } else {
        [150.0, 90.0]
    };
    // Turned as fast as one that is started so usually is.
    let crank = usual_crank(engine.start).hz() / engine.cycle.turns_per_stroke();
    let of = |at: usize| run(psi(readings[at]), psi(2.0), Some(crank));
    Readings::default()
        .add("1", Condition::ColdDry, of(0))
        .add("2", Condition::ColdDry, of(1))
        .assessed(Some(&engine.card()))
}

fn words(report: &Assessment) -> String {
    let causes = report.cylinders.iter().flat_map(|c| &c.causes);
    let causes = causes.flat_map(|cause| {
        let evidence = cause.evidence_for.iter().chain(&cause.evidence_against);
        std::iter::once(&cause.text).chain(evidence.map(|e| &e.text))
    });
    let findings = report.findings.iter().map(|finding| &finding.text);
    let lines = report.notes.iter().chain(&report.cannot_tell);
    let lines = lines
        .chain(&report.next_steps)
        .chain(causes)
        .chain(findings);
    let lines: Vec<&str> = lines.map(String::as_str).collect();
    format!("{}\n{}", report.verdict, lines.join("\n"))
}

fn holds(text: &str, word: &str) -> bool {
    text.to_lowercase().contains(word)
}

#[test]
fn oil_is_proposed_for_four_strokes_with_spark_alone() {
    for engine in all() {
        let (said, proposed) = visit(&engine);
        let petrol_four = !engine.diesel() && !engine.two_stroke();
        assert_eq!(
            proposed.contains(&Condition::Wet),
            petrol_four,
            "{engine:?}"
        );
        assert_eq!(
            holds(&said, "oil into cylinder"),
            petrol_four,
            "{engine:?}\n{said}"
        );
        assert_eq!(
            said.contains("5 ml (a teaspoon)"),
            petrol_four,
            "{engine:?}\n{said}"
        );
        if engine.diesel() {
            assert!(said.contains("never given oil"), "{engine:?}\n{said}");
        } else if engine.two_stroke() {
            assert!(said.contains("crankcase"), "{engine:?}\n{said}");
        }
    }
}

/// On the explicit wish of the user a two-stroke gets its wet run, with the amount and what oil
/// does there; a diesel never.
#[test]
fn oil_on_the_users_wish() {
    for engine in all() {
        let mut bench = Bench::ready(engine.setup());
        bench.make_run();
        bench.make_run();
        bench.command(Command::Wet);
        let wet = bench
            .asked()
            .is_some_and(|(_, condition)| condition == Condition::Wet);
        assert_eq!(wet, !engine.diesel(), "{engine:?}");
        assert_eq!(bench.session.turns(), engine.verb());
        let view = bench.session.view();
        assert_eq!(view.next.contains("5 ml"), !engine.diesel(), "{view:?}");
        if engine.diesel() {
            assert!(
                view.note
                    .is_some_and(|note| note.contains("never given oil"))
            );
        }
    }
}

#[test]
fn each_engine_is_told_where_the_sensor_goes_and_what_is_open() {
    for engine in all() {
        let (said, _) = visit(&engine);
        assert_eq!(
            holds(&said, "glow-plug or injector hole of"),
            engine.diesel(),
            "{engine:?}"
        );
        assert_eq!(
            holds(&said, "throttle wide open"),
            !engine.diesel(),
            "{engine:?}\n{said}"
        );
        assert_eq!(
            holds(&said, &format!("injection dead, {}", engine.verb())),
            engine.diesel(),
            "{engine:?}"
        );
        let manual = engine.decompressor == Some(Decompressor::Manual);
        assert_eq!(
            said.contains(", decompressor shut,"),
            manual,
            "{engine:?}\n{said}"
        );
    }
}

/// 10:1 may read some 10 to 19 bar at a starter's speed, up to 23 bar at that of a kick or a pull;
/// a diesel of 21:1 some 26 to 56 bar (calculated).
#[test]
fn weak_sensors_are_warned_of_or_refused() {
    for engine in all() {
        let rating = Rating::of(Some(&engine.card()), engine.top());
        let unit = PressureUnit::Bar;
        // Of a two-stroke the exhaust port shuts late: it compresses less.
        let quick =
            matches!(engine.start, Some(Start::Kick | Start::PullCord)) && !engine.two_stroke();
        let refused = match engine.top_bar {
            None => engine.diesel(),
            Some(top) if engine.diesel() => top < 63.0,
            Some(top) => top < 10.0,
        };
        let warned = match engine.top_bar {
            None => true,
            Some(top) if engine.diesel() => top < 63.0,
            Some(top) => top < 18.0 || quick && top < 25.5,
        };
        assert_eq!(
            rating.refusal(unit).is_some(),
            refused,
            "{engine:?} {rating:?}"
        );
        assert_eq!(
            rating.warning(unit).is_some(),
            warned,
            "{engine:?} {rating:?}"
        );
        let why = rating.refusal(unit).unwrap_or("burst".to_owned());
        assert!(why.contains("burst"), "{why}");
        // The warning is the first thing said, with the cautions and to those who have read them.
        for cautions_read in [false, true] {
            let setup = needlerest::session::Setup {
                cautions_read,
                ..engine.setup()
            };
            let mut bench = Bench::new(setup);
            bench.wait(0.25);
            let told = bench.out.iter().any(|output| {
                matches!(output, Output::Say(text) if text.contains("burst.") && holds(text, "range"))
            });
            assert_eq!(told, warned, "{engine:?} {cautions_read}");
        }
    }
}

#[test]
fn expectation_rules_causes_and_score_yield_where_they_do_not_hold() {
    for engine in all() {
        let report = report(&engine);
        let yields = engine.diesel() || engine.automatic();
        assert_eq!(report.expected.is_empty(), yields, "{engine:?}");
        assert_eq!(report.score.is_none(), yields, "{engine:?}");
        assert_eq!(
            report.cylinders.iter().all(|c| c.causes.is_empty()),
            yields,
            "{engine:?}"
        );
        let readings = report.cylinders.iter().flat_map(|c| &c.readings);
        let modelled = readings.filter(|r| r.leak.is_some() || r.corrected.is_some());
        assert_eq!(modelled.count() == 0, yields, "{engine:?}");
        let rules: Vec<&str> = report
            .findings
            .iter()
            .filter(|finding| finding.role != Role::Note)
            .map(|finding| finding.rule.as_str())
            .collect();
        if engine.automatic() {
            assert!(rules.is_empty(), "{engine:?} {rules:?}");
            assert_eq!(report.judgement, Judgement::NotJudged, "{engine:?}");
            assert!(
                report.verdict.contains("automatic decompressor"),
                "{}",
                report.verdict
            );
        } else if engine.diesel() {
            // TM 5-2420-230-24-2: within 100 psi.
            assert_eq!(rules, ["diesel-spread-100-psi"], "{engine:?}");
        } else {
            assert!(rules.contains(&"within-a-tenth"), "{engine:?} {rules:?}");
            assert_eq!(report.judgement, Judgement::Fail, "{engine:?}");
        }
    }
}

/// What its own manual allows still counts for an engine with an automatic decompressor.
#[test]
fn the_cards_own_limit_stands_where_the_rules_yield() {
    for engine in all().into_iter().filter(Engine::automatic) {
        let mut card = engine.card();
        card.limits = Some(Limits {
            service_limit: Some(psi(60.0)),
            ..Limits::default()
        });
        let readings = Readings::bare(Condition::ColdDry, &[80.0, 70.0]);
        let report = readings.assessed(Some(&card));
        assert_eq!(report.judgement, Judgement::Pass, "{engine:?}");
        let decides = report
            .findings
            .iter()
            .filter(|finding| finding.role == Role::Decides);
        assert!(decides.clone().count() == 2 && decides.clone().all(|f| f.rule == "service-limit"));
    }
}

#[test]
fn nobody_is_sent_to_a_part_that_the_engine_has_not() {
    for engine in all() {
        let report = report(&engine);
        let said = words(&report);
        let none_of = |words: &[&str]| {
            for word in words {
                assert!(!holds(&said, word), "{engine:?}: {word}\n{said}");
            }
        };
        if engine.two_stroke() {
            none_of(&[
                "intake valve",
                "valve clearance",
                "breather",
                "cam ",
                "under a valve",
            ]);
        }
        if engine.diesel() {
            none_of(&[
                "carburettor",
                "throttle",
                "spark plug",
                "wet run of",
                "ml (",
            ]);
        }
        if engine.start.is_some_and(|start| start != Start::Electric) {
            none_of(&["battery"]);
        }
    }
}

/// What is said of how a run was made, of an engine without a throttle too.
#[test]
fn a_very_low_reading_is_put_down_to_what_the_engine_has() {
    let reading = psi(20.0);
    let low = Flag::ThrottleMayBeShut { reading };
    let median = Rate::from_hz(0.5);
    for engine in all() {
        let kind = EngineKind::of(Some(&engine.card()));
        let said = |flag: &Flag| {
            let advice = assess::flag(flag, PressureUnit::Psi, &kind);
            format!("{}. {}", advice.what, advice.advice)
        };
        let petrol = !engine.diesel();
        let to_blame = petrol && !engine.automatic();
        assert_eq!(holds(&said(&low), "throttle"), to_blame, "{engine:?}");
        assert_eq!(
            holds(&said(&low), "decompressor"),
            engine.automatic(),
            "{engine:?}"
        );
        let slow = said(&Flag::SlowCadence { median });
        assert_eq!(holds(&slow, "throttle"), petrol, "{engine:?}");
    }
}

/// Where the report advises a leak-down test, it says that the air turns the crank.
#[test]
fn leak_down_is_advised_with_its_caution() {
    let mut advised = 0;
    for engine in all() {
        let report = report(&engine);
        let steps = report.next_steps.join("\n");
        let test = holds(&steps, "leak-down test");
        assert_eq!(
            holds(&steps, "turns the crank"),
            test,
            "{engine:?}\n{steps}"
        );
        assert_eq!(steps.contains("AC 43.13-1B"), test, "{engine:?}");
        // Two petrol readings so far apart, and a diesel's beyond its rule.
        assert_eq!(test, !engine.automatic(), "{engine:?}\n{steps}");
        advised += usize::from(test);
    }
    assert!(advised > 0);
}
