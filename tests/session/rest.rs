//! A rest between two runs, and oil that is said to be in.

use crate::bench::{Bench, setup};
use needlerest::session::{Announcement, Command, Entry, Setup, Stage, Tone};

fn has_mark(bench: &Bench, text: &str) -> bool {
    let mark = |entry: &Entry| matches!(entry, Entry::Mark(mark) if mark == text);
    bench.entries.iter().any(mark)
}

fn headline(bench: &Bench) -> &'static str {
    bench.session.view().headline
}

#[test]
fn who_rests_is_asked_for_nothing_until_they_go_on() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.command(Command::Pause);
    assert_eq!(
        (headline(&bench), bench.session.view().tone),
        ("PAUSE", Tone::Calm)
    );
    let spoken = |bench: &Bench| bench.announced(|a| matches!(a, Announcement::Next(_)));
    let before = spoken(&bench);
    bench.wait(400.0);
    assert_eq!(spoken(&bench), before);
    bench.command(Command::Pause);
    assert_eq!(headline(&bench), "FIT & CRANK");
    assert!(has_mark(&bench, "paused") && has_mark(&bench, "goes on"));
    bench.wait(21.0);
    assert!(spoken(&bench) > before + 1, "asked for again");
}

#[test]
fn a_stroke_or_undo_ends_the_rest() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.command(Command::Pause);
    assert!(bench.session.can_undo());
    bench.command(Command::Undo);
    assert_eq!(headline(&bench), "FIT & CRANK");
    bench.command(Command::Pause);
    bench.crank();
    assert_eq!(bench.stage(), Stage::Climbing);
    assert_eq!(headline(&bench), "CRANK");
    bench.bleed();
    assert_ne!(headline(&bench), "PAUSE");
}

#[test]
fn nobody_rests_with_pressure_on_the_tester() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
        bench.command(Command::Pause);
        assert_ne!(headline(&bench), "PAUSE");
    }
    bench.command(Command::Pause);
    assert_eq!(headline(&bench), "STOP");
    assert!(!has_mark(&bench, "paused"));
    bench.command(Command::Finish);
}

#[test]
fn the_end_is_the_end_also_of_a_rest() {
    let mut bench = Bench::ready(setup(&["1"]));
    bench.command(Command::Pause);
    bench.command(Command::Finish);
    assert_eq!(headline(&bench), "FINISHED");
}

#[test]
fn oil_that_is_in_is_not_asked_for_and_that_is_taken_back() {
    let mut bench = Bench::ready(Setup {
        kind: needlerest::engine::EngineKind {
            chamber_cm3: Some(40.0),
            ..setup(&[]).kind
        },
        ..setup(&["1"])
    });
    bench.command(Command::OilIn);
    assert!(!has_mark(&bench, "oil is in"), "a dry run takes none");
    bench.make_run();
    bench.command(Command::Wet);
    let dose = bench.session.oil_to_pour().expect("a wet run");
    assert!(dose > 0.0);
    let asked = bench.session.view().next;
    bench.command(Command::OilIn);
    assert_eq!(bench.session.oil_to_pour(), None);
    let next = bench.session.view().next;
    assert!(
        next.contains("add none") && next.contains("by hand"),
        "{next}"
    );
    assert!(has_mark(&bench, "oil is in"));
    bench.command(Command::Undo);
    assert_eq!(bench.session.oil_to_pour(), Some(dose));
    assert_eq!(bench.session.view().next, asked);
    bench.command(Command::OilIn);
    bench.crank();
    assert_eq!(bench.stage(), Stage::Climbing);
}
