//! What a visit looks like when all goes well, and when the user changes the plan.

use crate::bench::{Bench, low, setup};
use needlerest::engine::Condition;
use needlerest::session::{
    Announcement, Command, Entry, Input, KeptRun, RunState, Setup, Stage, Tone, Trouble,
};
use needlerest::signal::Rig;

fn asked(bench: &Bench) -> (String, &'static str) {
    let (cylinder, condition) = bench.asked().expect("a run is asked for");
    (cylinder, condition.label())
}

fn cold(name: &str) -> (String, &'static str) {
    (name.to_owned(), "cold")
}

#[test]
fn moves_by_pressure_alone_from_cylinder_to_cylinder() {
    let mut bench = Bench::new(setup(&["1", "2"]));
    assert_eq!(bench.stage(), Stage::Cautions);
    bench.command(Command::Go);
    assert_eq!(bench.stage(), Stage::Zero);
    bench.zero(300.0);
    assert_eq!(asked(&bench), cold("1"));
    bench.crank();
    assert_eq!(bench.stage(), Stage::Climbing);
    while bench.stage() == Stage::Climbing {
        bench.crank();
    }
    assert_eq!(bench.stage(), Stage::Hold);
    assert_eq!(bench.session.view().tone, Tone::Stop);
    bench.wait(6.0);
    assert_eq!(bench.stage(), Stage::Bleed);
    bench.bleed();
    assert_eq!(asked(&bench), cold("2"));
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
    assert_eq!(
        bench.announced(|a| matches!(a, Announcement::Settled { .. })),
        2
    );
    bench.command(Command::Finish);
    assert_eq!(bench.stage(), Stage::Finished);
    assert!(
        bench
            .session
            .made()
            .iter()
            .all(|m| m.state == RunState::Good)
    );
}

#[test]
fn a_following_rig_needs_no_bleed() {
    let mut bench = Bench::new(setup(&["1", "2"]));
    bench.rig = Rig::Following;
    bench.command(Command::Go);
    bench.zero(0.0);
    bench.make_run();
    assert_eq!(asked(&bench), cold("2"));
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
    assert_eq!(bench.runs.len(), 2);
}

#[test]
fn a_low_cylinder_is_proposed_wet_and_says_why() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    bench.make_run();
    assert_eq!(asked(&bench), ("2".to_owned(), "wet"));
    let view = bench.session.view();
    assert!(view.next.contains("Oil into cylinder 2"), "{}", view.next);
    assert!(
        view.note
            .is_some_and(|why| why.contains("67 % of cylinder 1"))
    );
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
}

#[test]
fn warm_is_offered_after_cold_and_comes_on_asking() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.make_run();
    bench.make_run();
    assert!(bench.session.view().next.contains("warm"));
    bench.command(Command::Warm);
    assert_eq!(asked(&bench), ("1".to_owned(), "warm"));
    bench.make_run();
    assert_eq!(asked(&bench), ("2".to_owned(), "warm"));
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
}

#[test]
fn a_leaking_tester_is_offered_again_at_once_and_the_new_run_takes_its_place() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.leaks = true;
    bench.make_run();
    bench.leaks = false;
    assert_eq!(asked(&bench), cold("1"));
    assert!(
        bench
            .session
            .view()
            .note
            .is_some_and(|why| why.contains("leak"))
    );
    assert!(matches!(bench.session.made()[0].state, RunState::Wrong(_)));
    bench.make_run();
    assert!(matches!(bench.session.made()[0].state, RunState::Void(_)));
    assert_eq!(bench.session.made()[1].state, RunState::Good);
    assert_eq!(asked(&bench), cold("2"));
}

#[test]
fn an_offered_run_can_be_left_out_and_the_first_reading_stays() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.crank();
    bench.crank();
    bench.bleed();
    assert_eq!(asked(&bench), cold("1"));
    bench.command(Command::Skip);
    assert_eq!(asked(&bench), cold("2"));
    assert!(matches!(bench.session.made()[0].state, RunState::Wrong(_)));
}

#[test]
fn it_does_not_offer_the_same_run_for_ever() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.leaks = true;
    for _ in 0..3 {
        assert_eq!(asked(&bench), cold("1"));
        bench.make_run();
    }
    assert_eq!(asked(&bench), cold("2"));
}

#[test]
fn a_marked_throttle_makes_the_run_again() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.crank();
    bench.command(Command::Trouble(Trouble::Throttle));
    bench.make_run();
    assert_eq!(asked(&bench), cold("1"));
    bench.make_run();
    bench.command(Command::Trouble(Trouble::Battery));
    assert_eq!(asked(&bench), cold("1"));
    bench.make_run();
    assert_eq!(asked(&bench), cold("2"));
    let marks = bench.entries.iter().filter(|e| matches!(e, Entry::Mark(_)));
    assert_eq!(marks.count(), 3, "cautions, throttle, battery");
}

#[test]
fn redo_of_a_finished_run_puts_the_waiting_one_off() {
    let mut bench = Bench::ready(setup(&["1", "2", "3"]));
    bench.make_run();
    assert_eq!(asked(&bench), cold("2"));
    bench.command(Command::Redo);
    assert_eq!(asked(&bench), cold("1"));
    assert_eq!(
        bench.session.made()[0].state,
        RunState::Good,
        "still counts"
    );
    bench.make_run();
    assert!(matches!(bench.session.made()[0].state, RunState::Void(_)));
    assert_eq!(asked(&bench), cold("2"));
    bench.make_run();
    assert_eq!(asked(&bench), cold("3"));
}

#[test]
fn without_a_plan_runs_are_named_afterwards() {
    let mut bench = Bench::ready(setup(&[]));
    bench.make_run();
    bench.make_run();
    bench.crank();
    bench.command(Command::Name("right".to_owned()));
    bench.make_run();
    bench.command(Command::Finish);
    assert_eq!(bench.stage(), Stage::Naming);
    assert!(bench.session.view().next.contains("run 1"));
    bench.command(Command::Name("left".to_owned()));
    assert!(bench.session.view().next.contains("run 2"));
    bench.command(Command::Go);
    assert_eq!(bench.stage(), Stage::Finished);
    let names: Vec<&str> = bench
        .runs
        .iter()
        .map(|(name, _)| name.as_str())
        .take(3)
        .collect();
    assert_eq!(names, ["left", "run 2", "right"]);
}

#[test]
fn a_stopped_session_goes_on_with_what_is_missing() {
    let mut before = Bench::ready(setup(&["1", "2", "3"]));
    let mut results = Vec::new();
    before.make_run();
    for made in before.session.made() {
        results.push(KeptRun {
            cylinder: made.cylinder.clone(),
            named: true,
            condition: made.condition,
            void: false,
            result: before.result_of(made),
        });
    }
    let mut again = setup(&["1", "2", "3"]);
    again.kept = results;
    let mut bench = Bench::new(again);
    bench.runs.push(("1".to_owned(), Condition::ColdDry));
    assert_eq!(
        bench.stage(),
        Stage::Cautions,
        "a new visit reads the cautions again"
    );
    bench.command(Command::Go);
    bench.zero(0.0);
    assert_eq!(asked(&bench), cold("2"));
    bench.make_run();
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
    assert_eq!(bench.session.made().len(), 3);
    assert_eq!(bench.session.made()[0].index, 0);
}

#[test]
fn a_replayed_recording_names_runs_and_takes_them_back() {
    let replayed = Setup {
        replay: true,
        cautions_read: true,
        ..setup(&["1", "2"])
    };
    let mut bench = Bench::ready(replayed);
    bench.make_run();
    for void in [false, true] {
        bench.push(Input::Amended {
            index: 0,
            cylinder: "left",
            condition: Condition::WarmDry,
            void,
        });
        let made = &bench.session.made()[0];
        assert_eq!(made.cylinder, "left");
        assert_eq!(made.condition, Condition::WarmDry);
        assert_eq!(matches!(made.state, RunState::Void(_)), void);
    }
}
