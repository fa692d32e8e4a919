//! What goes wrong at an engine.

use crate::bench::{Bench, low, setup};
use needlerest::engine::Condition;
use needlerest::session::{Announcement, Command, Link, RunState, Stage, Tone};

/// The bench in each stage, reached as a user would.
fn in_every_stage() -> Vec<Bench> {
    let two = || setup(&["1", "2"]);
    let mut stages = vec![Bench::new(two())];
    let mut zero = Bench::new(two());
    zero.command(Command::Go);
    stages.push(zero);
    stages.push(Bench::ready(two()));
    let mut climbing = Bench::ready(two());
    climbing.crank();
    stages.push(climbing);
    let hold = || {
        let mut bench = Bench::ready(two());
        while bench.stage() != Stage::Hold {
            bench.crank();
        }
        bench
    };
    stages.push(hold());
    let mut bleed = hold();
    bleed.wait(6.0);
    stages.push(bleed);
    let mut offer = Bench::ready(two());
    offer.make_run();
    offer.make_run();
    stages.push(offer);
    let mut naming = Bench::ready(setup(&[]));
    naming.make_run();
    naming.command(Command::Finish);
    stages.push(naming);
    stages
}

#[test]
fn the_link_may_be_lost_in_any_stage() {
    for mut bench in in_every_stage() {
        let stage = bench.stage();
        let before = bench.session.view();
        bench.link(Link::Lost);
        bench.wait(20.0);
        assert_eq!(bench.stage(), stage, "nothing moves without the sensor");
        let view = bench.session.view();
        if stage > Stage::Cautions && stage < Stage::Offer {
            assert_eq!(view.tone, Tone::Trouble);
            assert!(view.next.contains("Link lost"), "{}", view.next);
        }
        bench.link(Link::Up);
        assert_eq!(bench.session.view().next, before.next);
        assert_eq!(bench.announced(|a| *a == Announcement::LinkLost), 1);
    }
}

#[test]
fn a_link_lost_while_climbing_goes_on_with_the_same_run() {
    let mut bench = Bench::ready(setup(&["1"]));
    bench.crank();
    bench.link(Link::Lost);
    bench.link(Link::Up);
    bench.make_run();
    assert_eq!(bench.runs.len(), 1);
    assert_eq!(bench.session.made()[0].state, RunState::Good);
}

#[test]
fn the_leak_check_starts_over_when_the_link_comes_back() {
    let mut bench = Bench::ready(setup(&["1"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench.wait(3.0);
    bench.link(Link::Silent);
    bench.wait(10.0);
    bench.link(Link::Up);
    bench.wait(3.0);
    assert_eq!(bench.stage(), Stage::Hold);
    bench.wait(2.0);
    assert_eq!(bench.stage(), Stage::Bleed);
}

#[test]
fn pressure_left_in_the_hose_at_the_start_is_no_zero() {
    let mut bench = Bench::new(setup(&["1"]));
    bench.command(Command::Go);
    bench.zero(200e3);
    assert_eq!(bench.stage(), Stage::Zero);
    let view = bench.session.view();
    assert_eq!(view.headline, "BLEED");
    assert!(view.next.contains("200.0 kPa"), "{}", view.next);
    bench.zero(400.0);
    assert_eq!(bench.stage(), Stage::Ready);
}

#[test]
fn pressure_left_in_the_hose_is_seen_before_there_is_a_zero() {
    let mut bench = Bench::new(setup(&["1"]));
    bench.leave_in_hose(500e3);
    bench.command(Command::Go);
    bench.wait(3.0);
    assert_eq!(bench.session.view().tone, Tone::Trouble);
    bench.leave_in_hose(0.0);
    bench.wait(1.0);
    assert_eq!(bench.session.view().tone, Tone::Calm);
    bench.zero(0.0);
    assert_eq!(bench.stage(), Stage::Ready);
}

#[test]
fn a_zero_that_is_far_off_can_be_taken_all_the_same() {
    let mut bench = Bench::new(setup(&["1"]));
    bench.command(Command::Go);
    bench.zero(50e3);
    assert_eq!(bench.stage(), Stage::Zero);
    bench.command(Command::Go);
    assert_eq!(bench.stage(), Stage::Ready);
}

#[test]
fn bleeding_too_early_offers_the_run_again() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.crank();
    bench.crank();
    bench.bleed();
    assert_eq!(bench.asked(), Some(("1".to_owned(), Condition::ColdDry)));
    assert_eq!(bench.announced(|a| *a == Announcement::Again), 1);
    bench.make_run();
    assert!(
        matches!(&bench.session.made()[0].state, RunState::Void(why) if why.contains("still climbing"))
    );
}

#[test]
fn bleeding_during_the_leak_check_keeps_the_reading() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench.bleed();
    assert_eq!(bench.session.made()[0].state, RunState::Good);
    assert_eq!(bench.asked(), Some(("2".to_owned(), Condition::ColdDry)));
}

#[test]
fn cranking_before_the_cautions_or_the_zero_does_not_count() {
    let mut bench = Bench::new(setup(&["1"]));
    bench.crank();
    bench.crank();
    assert_eq!(bench.stage(), Stage::Cautions);
    assert!(
        bench
            .session
            .view()
            .note
            .is_some_and(|n| n.contains("cautions"))
    );
    bench.command(Command::Go);
    bench.crank();
    assert!(
        bench
            .session
            .view()
            .note
            .is_some_and(|n| n.contains("zero"))
    );
    bench.bleed();
    bench.zero(0.0);
    assert_eq!(bench.stage(), Stage::Ready);
    assert_eq!(bench.runs.len(), 1);
    assert!(matches!(bench.session.made()[0].state, RunState::Void(_)));
    bench.make_run();
    assert_eq!(bench.session.made()[1].state, RunState::Good);
    assert_eq!(bench.runs[1].0, "1");
}

#[test]
fn stray_strokes_do_not_become_the_beginning_of_a_run() {
    let mut bench = Bench::new(setup(&["1"]));
    bench.command(Command::Go);
    bench.crank();
    bench.leave_in_hose(0.0);
    bench.wait(0.5);
    bench.zero(0.0);
    assert_eq!(bench.stage(), Stage::Ready);
    bench.make_run();
    assert!(matches!(bench.session.made()[0].state, RunState::Void(_)));
    assert_eq!(bench.session.made()[1].state, RunState::Good);
}

#[test]
fn two_cylinders_without_a_bleed_between_are_not_believed() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench.wait(6.0);
    bench.plateau *= 1.3;
    bench.crank();
    bench.crank();
    let view = bench.session.view();
    assert_eq!(view.stage, Stage::Bleed);
    assert!(view.note.is_some(), "it says so at once");
    bench.bleed();
    assert!(matches!(&bench.session.made()[0].state, RunState::Wrong(why) if why.contains("two")));
    assert_eq!(bench.asked(), Some(("1".to_owned(), Condition::ColdDry)));
}

#[test]
fn climbing_again_during_the_leak_check_goes_on_with_the_run() {
    let mut bench = Bench::ready(setup(&["1"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench.plateau *= 1.3;
    bench.crank();
    assert_eq!(bench.stage(), Stage::Climbing);
    assert_eq!(bench.announced(|a| *a == Announcement::Withdrawn), 1);
    bench.make_run();
    assert_eq!(bench.session.made()[0].state, RunState::Good);
}

#[test]
fn what_is_left_in_the_hose_after_a_run_is_bled_before_the_next() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    bench.wait(6.0);
    bench.bleed_to(60e3);
    assert_eq!(bench.stage(), Stage::Bleed);
    assert!(bench.session.view().next.contains("60.0 kPa"));
    bench.leave_in_hose(0.0);
    bench.wait(0.5);
    assert_eq!(bench.stage(), Stage::Ready);
}

#[test]
fn finishing_in_the_middle_of_a_run_keeps_what_was_made() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.assess_as = Some(low("1", "2", Condition::ColdDry));
    bench.make_run();
    bench.crank();
    bench.crank();
    bench.command(Command::Finish);
    assert_eq!(bench.stage(), Stage::Finished);
    assert_eq!(bench.session.made().len(), 2);
    assert!(matches!(bench.session.made()[1].state, RunState::Wrong(_)));
}
