//! Every key that changes a run says so at once, and can be taken back.

use crate::bench::{Bench, low, setup};
use needlerest::engine::Condition;
use needlerest::session::{Command, Entry, Input, Output, RunState, Stage, Trouble};

fn is_asked(bench: &Bench, name: &str) -> bool {
    bench.asked() == Some((name.to_owned(), Condition::ColdDry))
}

/// The note on the screen, and the same as a line.
fn told(bench: &Bench) -> String {
    let note = bench.session.view().note.expect("it says so");
    let line = |output: &Output| matches!(output, Output::Say(text) if note.starts_with(text));
    assert!(bench.out.iter().any(line), "{note}");
    note
}

fn in_hold() -> Bench {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench
}

#[test]
fn a_run_in_hand_that_was_given_up_counts_again() {
    for (command, word) in [
        (Command::Skip, "is left out"),
        (Command::Redo, "made again"),
    ] {
        let mut bench = in_hold();
        bench.wait(6.0);
        assert_eq!(bench.stage(), Stage::Bleed);
        for _ in 0..2 {
            bench.command(command.clone());
            let note = told(&bench);
            assert!(note.contains(word) && note.contains("Undo: u"), "{note}");
        }
        assert!(bench.session.view().next.contains("does not count"));
        bench.command(Command::Undo);
        bench.bleed();
        assert_eq!(bench.session.made()[0].state, RunState::Good);
        assert!(is_asked(&bench, "2"));
        assert_eq!(bench.voided, 0);
    }
}

#[test]
fn a_mark_on_the_run_in_hand_is_taken_back() {
    let mut bench = in_hold();
    bench.command(Command::Trouble(Trouble::Battery));
    let note = told(&bench);
    assert!(
        note.contains("battery") && note.contains("Undo: u"),
        "{note}"
    );
    bench.command(Command::Undo);
    bench.wait(6.0);
    bench.bleed();
    assert_eq!(bench.session.made()[0].state, RunState::Good);
    let taken = |e: &Entry| matches!(e, Entry::Mark(text) if text.starts_with("taken back"));
    assert!(bench.entries.iter().any(taken), "the recording knows");
}

#[test]
fn what_was_changed_between_two_runs_is_taken_back() {
    let commands = [
        Command::Skip,
        Command::Redo,
        Command::Trouble(Trouble::Throttle),
        Command::Warm,
        Command::Wet,
    ];
    for command in commands {
        let mut bench = Bench::ready(setup(&["1", "2", "3"]));
        bench.make_run();
        let before = (bench.session.view().count, bench.asked());
        bench.command(command.clone());
        assert!(told(&bench).contains("Undo: u"), "{command:?}");
        bench.command(Command::Undo);
        let after = (bench.session.view().count, bench.asked());
        assert_eq!(before, after, "{command:?}");
        assert_eq!(bench.session.made().len(), 1);
        assert_eq!(bench.session.made()[0].state, RunState::Good);
        bench.make_run();
        bench.make_run();
        assert_eq!(bench.stage(), Stage::Offer, "{command:?}");
        assert_eq!(bench.voided, 0, "{command:?}");
    }
}

#[test]
fn nothing_is_taken_back_once_the_next_run_has_begun() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.command(Command::Skip);
    bench.crank();
    bench.command(Command::Undo);
    assert!(told(&bench).contains("Nothing to undo"));
    assert!(is_asked(&bench, "2"));
}

#[test]
fn no_run_stays_behind_when_the_user_goes_before_cranking() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.push(Input::Leaving);
    assert!(bench.runs.is_empty(), "{:?}", bench.runs);
    bench.push(Input::SourceEnded);
    assert!(bench.session.made().is_empty());
    // The same at the end of all runs that are wanted.
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.make_run();
    bench.command(Command::Finish);
    assert_eq!(bench.stage(), Stage::Finished);
    assert_eq!(bench.runs, [("1".to_owned(), Condition::ColdDry)]);
}

#[test]
fn a_wet_run_that_was_asked_for_stays_in_the_recording_for_its_oil_may_be_in() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.make_run();
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    assert_eq!(bench.asked(), Some(("2".to_owned(), Condition::Wet)));
    bench.push(Input::Leaving);
    assert_eq!(bench.runs.len(), 3);
    assert!(matches!(bench.session.made()[2].state, RunState::Void(_)));
}

/// What looked low after the first cylinder, with nothing beside it, does not stand in the way of
/// what is low at the end of the round.
#[test]
fn oil_is_proposed_by_what_the_whole_round_means() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.assess_as = Some(low("1", "1", Condition::ColdDry));
    bench.make_run();
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    assert_eq!(bench.asked(), Some(("2".to_owned(), Condition::Wet)));
    bench.make_run();
    assert_eq!(bench.stage(), Stage::Offer);
}
