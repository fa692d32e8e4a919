//! Random orders of events: never a caution skipped, never a finished run lost, always a next
//! thing to do.

use crate::bench::{Bench, low, setup};
use needlerest::engine::Condition;
use needlerest::leakdown::Place;
use needlerest::session::{Command, Entry, Link, MadeRun, RunState, Stage, Trouble};
use needlerest::signal::Rig;
use proptest::prelude::*;

#[derive(Clone, Debug)]
enum Act {
    Wait(f64),
    Crank(u32),
    Stronger,
    MakeRun,
    Bleed,
    BleedPartly,
    Zero(f64),
    Leak(bool),
    Low(u32),
    Link(Link),
    Command(Command),
}

fn commands() -> impl Strategy<Value = Command> {
    prop_oneof![
        4 => Just(Command::Go),
        1 => Just(Command::Skip),
        1 => Just(Command::Redo),
        1 => "[a-c ]{0,3}".prop_map(Command::Name),
        1 => "[a-c ]{0,3}".prop_map(Command::Note),
        1 => Just(Command::Trouble(Trouble::Throttle)),
        1 => Just(Command::Trouble(Trouble::Battery)),
        1 => Just(Command::Warm),
        2 => Just(Command::Undo),
        1 => Just(Command::Say),
        1 => Just(Command::Wet),
        1 => Just(Command::OilIn),
        1 => Just(Command::Pause),
        1 => Just(Command::LeakDown(None)),
        1 => Just(Command::CheckTester),
        1 => Just(Command::Hear(Place::Exhaust)),
        1 => Just(Command::Finish),
    ]
}

fn acts() -> impl Strategy<Value = Act> {
    prop_oneof![
        2 => (0.0..8.0_f64).prop_map(Act::Wait),
        3 => (1..8_u32).prop_map(Act::Crank),
        1 => Just(Act::Stronger),
        3 => Just(Act::MakeRun),
        3 => Just(Act::Bleed),
        1 => Just(Act::BleedPartly),
        2 => prop_oneof![3 => Just(0.0), 1 => Just(90e3)].prop_map(Act::Zero),
        1 => any::<bool>().prop_map(Act::Leak),
        1 => (0..4_u32).prop_map(Act::Low),
        1 => prop_oneof![1 => Just(Link::Lost), 1 => Just(Link::Silent), 3 => Just(Link::Up)].prop_map(Act::Link),
        5 => commands().prop_map(Act::Command),
    ]
}

fn perform(bench: &mut Bench, act: Act) {
    match act {
        Act::Wait(seconds) => bench.wait(seconds),
        Act::Crank(strokes) => (0..strokes).for_each(|_| bench.crank()),
        Act::Stronger => bench.plateau = 1.7e6 - bench.plateau,
        Act::MakeRun => {
            if bench.stage() < Stage::Offer {
                bench.link(Link::Up);
            }
            bench.make_run();
        }
        Act::Bleed => bench.bleed(),
        Act::BleedPartly => bench.bleed_to(50e3),
        Act::Zero(level) => bench.zero(level),
        Act::Leak(leaks) => bench.leaks = leaks,
        Act::Low(0) => bench.assess_as = None,
        Act::Low(n) => {
            let condition = Condition::ALL[n as usize % 2];
            bench.assess_as = Some(low(&n.to_string(), "1", condition));
        }
        Act::Link(link) => bench.link(link),
        Act::Command(command) => bench.command(command),
    }
}

/// No run may begin before the cautions have been acknowledged.
fn cautions_come_first(bench: &Bench) {
    let read = bench
        .entries
        .iter()
        .position(|e| *e == Entry::Mark("cautions read".to_owned()));
    let run = bench
        .entries
        .iter()
        .position(|e| matches!(e, Entry::Run { .. }));
    if let Some(run) = run {
        assert!(read.is_some_and(|read| read < run));
    }
    let place = |wanted: &dyn Fn(&Entry) -> bool| bench.entries.iter().position(wanted);
    let about_air = place(&|e| *e == Entry::Mark("cautions about air read".to_owned()));
    let air = place(&|e| matches!(e, Entry::LeakDown { .. } | Entry::Decay { .. }));
    if let Some(air) = air {
        assert!(about_air.is_some_and(|read| read < air));
    }
    assert!(read.is_some() || bench.stage() == Stage::Cautions);
}

/// Every run of the findings is known, and a good one counts until a later one of the same
/// cylinder and condition, with a reading, has taken its place.
fn no_run_is_lost(bench: &Bench, before: &[MadeRun]) {
    let made = bench.session.made();
    assert_eq!(made.len(), bench.runs.len());
    assert!(made.iter().enumerate().all(|(at, m)| m.index == at));
    for (old, new) in before.iter().zip(made) {
        assert_eq!(old.reading, new.reading);
        let lost =
            !matches!(old.state, RunState::Void(_)) && matches!(new.state, RunState::Void(_));
        if lost {
            let stands_in = made.iter().skip(new.index + 1).any(|m| {
                m.reading.is_some()
                    && m.condition == new.condition
                    && !matches!(m.state, RunState::Void(_))
            });
            assert!(stands_in, "{new:?} is void and nothing stands in its place");
        }
    }
    let void = made
        .iter()
        .filter(|m| matches!(m.state, RunState::Void(_)))
        .count();
    assert_eq!(
        bench.voided, void,
        "what is void is void in the recording, once"
    );
}

fn there_is_a_next_thing(bench: &Bench) {
    let view = bench.session.view();
    assert!(!view.next.is_empty() && !view.headline.is_empty());
    assert!(!view.next.contains('\n'));
    assert!(view.count.0 <= view.count.1);
    if matches!(view.stage, Stage::Ready | Stage::Climbing | Stage::Hold) {
        assert!(view.run.is_some(), "{view:?}");
    }
}

/// Who does what the prompts say gets to the end.
fn doing_as_told_ends(bench: &mut Bench) {
    bench.assess_as = None;
    bench.leaks = false;
    bench.link(Link::Up);
    for _ in 0..200 {
        match bench.stage() {
            Stage::Cautions | Stage::Naming => bench.command(Command::Go),
            Stage::Zero => {
                bench.bleed();
                bench.zero(0.0);
            }
            Stage::Ready | Stage::Climbing => bench.make_run(),
            Stage::Hold => bench.wait(6.0),
            Stage::Bleed => {
                bench.bleed();
                bench.wait(5.0);
            }
            Stage::AirCautions | Stage::Air => {
                bench.command(Command::Finish);
                bench.command(Command::Go);
            }
            Stage::Offer => bench.command(Command::Finish),
            Stage::Finished => return,
        }
        if bench.runs.len() > 150 || (bench.no_plan() && bench.stage() == Stage::Ready) {
            bench.command(Command::Finish);
        }
    }
    panic!("stuck: {:?}", bench.session.view());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_order_of_events(
        acts in prop::collection::vec(acts(), 1..40),
        planned in any::<bool>(),
        following in any::<bool>(),
    ) {
        let cylinders: &[&str] = if planned { &["1", "2", "3"] } else { &[] };
        let mut bench = Bench::new(setup(cylinders));
        if following {
            bench.rig = Rig::Following;
        }
        for act in acts {
            let before = bench.session.made().to_vec();
            perform(&mut bench, act);
            cautions_come_first(&bench);
            no_run_is_lost(&bench, &before);
            there_is_a_next_thing(&bench);
        }
        doing_as_told_ends(&mut bench);
    }
}
