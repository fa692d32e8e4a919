//! Tests with air within the visit: cautions first, step by step, into the recording, and back to
//! where the visit was.

use super::bench::{Bench, low, setup};
use needlerest::engine::Condition;
use needlerest::engine::cautions::before_air;
use needlerest::leakdown::{self, AirFlag, Filled, Held, Place, Plateau, Told};
use needlerest::session::{
    AirEngine, AirSetup, Announcement, Command, Entry, Input, Output, Setup, Stage,
};
use needlerest::units::{Pressure, Time};

fn plateau(kpa: f64) -> Plateau {
    Plateau {
        level: Pressure::from_kpa(kpa),
        standard: Pressure::from_kpa(0.5),
        called_after: Time::from_s(2.0),
        stood: Time::from_s(2.0),
    }
}

fn held(stage: leakdown::Stage) -> Held {
    Held {
        stage,
        supply: Pressure::from_kpa(552.0),
        plateau: plateau(440.0),
        loss: 1.0 - 440.0 / 552.0,
        loss_expanded: 0.01,
        leak: None,
        rounds: 0,
    }
}

/// Two cylinders cranked; nothing is planned any more.
fn offered() -> Bench {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    for _ in 0..2 {
        bench.make_run();
    }
    assert_eq!(bench.session.stage(), Stage::Offer);
    bench
}

fn since(bench: &Bench, from: usize) -> Vec<Entry> {
    bench.entries.iter().skip(from).cloned().collect()
}

fn stages(entries: &[Entry]) -> Vec<leakdown::Stage> {
    let stage = |entry: &Entry| match entry {
        Entry::Air { stage } => Some(*stage),
        _ => None,
    };
    entries.iter().filter_map(stage).collect()
}

fn go(bench: &mut Bench) {
    bench.command(Command::Go);
}

/// Cautions read, supply read, the cylinder opened and come to rest.
fn to_the_top(bench: &mut Bench) {
    bench.command(Command::LeakDown(Some("2".to_owned())));
    for _ in 0..3 {
        go(bench);
    }
    bench.push(Input::Air(&Told::Plateau(
        leakdown::Stage::Supply,
        plateau(552.0),
    )));
    bench.wait(4.0);
    go(bench);
    bench.push(Input::Air(&Told::Held(held(leakdown::Stage::Top))));
}

#[test]
fn the_cautions_about_air_come_before_anything_is_asked() {
    let mut bench = offered();
    let (said, entries) = (bench.out.len(), bench.entries.len());
    bench.command(Command::LeakDown(Some("2".to_owned())));
    assert_eq!(bench.session.stage(), Stage::AirCautions);
    let lines: Vec<&str> = bench.out[said..]
        .iter()
        .filter_map(|output| match output {
            Output::Say(text) => Some(text.as_str()),
            _ => None,
        })
        .collect();
    let kind = setup(&["1"]).kind;
    for caution in before_air(&kind) {
        assert!(lines.iter().any(|line| line.contains(caution.text)));
    }
    assert_eq!(bench.session.air_cautions().len(), before_air(&kind).len());
    assert_eq!(since(&bench, entries), [], "nothing has begun");
    go(&mut bench);
    assert_eq!(bench.session.stage(), Stage::Air);
    // Read once, they are not shown again.
    bench.command(Command::Finish);
    assert_eq!(bench.session.stage(), Stage::Offer);
    bench.command(Command::LeakDown(Some("2".to_owned())));
    assert_eq!(bench.session.stage(), Stage::Air);
}

#[test]
fn the_test_goes_into_the_recording_step_by_step_and_the_visit_goes_on() {
    use leakdown::Stage::{Shut, Supply, Top};

    let mut bench = offered();
    let from = bench.entries.len();
    to_the_top(&mut bench);
    assert_eq!(bench.session.places_asked(), []);
    bench.wait(4.0);
    assert_eq!(bench.session.places_asked(), Place::ALL);
    for place in [
        Place::Intake,
        Place::Exhaust,
        Place::Breather,
        Place::Intake,
    ] {
        bench.command(Command::Hear(place));
    }
    go(&mut bench);
    bench.command(Command::Skip);
    bench.command(Command::Skip);
    go(&mut bench);
    bench.push(Input::Air(&Told::Plateau(
        leakdown::Stage::Supply,
        plateau(550.0),
    )));
    bench.wait(4.0);
    assert_eq!(bench.session.view().headline, "AIR OFF");
    go(&mut bench);
    assert_eq!(bench.session.stage(), Stage::Offer);
    let entries = since(&bench, from);
    let restrictor = AirSetup::default().restrictor;
    let begin = Entry::LeakDown {
        cylinder: "2".to_owned(),
        condition: Condition::ColdDry,
        restrictor,
    };
    assert!(entries.contains(&begin), "{entries:?}");
    assert_eq!(stages(&entries), [Supply, Top, Shut, Supply, Shut]);
    let places = vec![Place::Exhaust, Place::Breather];
    assert!(entries.contains(&Entry::Heard { places }), "{entries:?}");
    assert_eq!(entries.last(), Some(&Entry::End));
}

/// The supply moves more than the leak takes: why is said, and both sides are asked for in turn until
/// the leak is known well. What is asked for goes into the recording, and that it is done.
#[test]
fn both_sides_are_read_in_turn_while_the_supply_hides_the_leak() {
    use leakdown::Stage::{Shut, Supply, Top};

    let mut bench = offered();
    let from = bench.entries.len();
    to_the_top(&mut bench);
    bench.push(Input::Air(&Told::Blurred(0.23)));
    bench.wait(4.0);
    go(&mut bench);
    let next = bench.session.view().next;
    assert!(next.contains("The supply moves"), "{next}");
    assert!(
        next.contains("±23 %") && next.contains("Crank locked"),
        "{next}"
    );
    let open_side = |bench: &mut Bench, blurred: bool| {
        go(bench);
        bench.push(Input::Air(&Told::Plateau(Supply, plateau(552.0))));
        bench.wait(6.0);
        assert_eq!(
            bench.session.view().headline,
            "WAIT",
            "the round is not over"
        );
        bench.push(Input::Air(&Told::Held(held(Top))));
        if blurred {
            bench.push(Input::Air(&Told::Blurred(0.12)));
        }
        bench.wait(0.2);
    };
    open_side(&mut bench, true);
    assert_eq!(bench.session.view().headline, "OPEN SIDE");
    assert!(bench.session.view().next.contains("everybody clear"));
    go(&mut bench);
    bench.push(Input::Air(&Told::Plateau(Top, plateau(440.0))));
    bench.wait(6.0);
    assert_eq!(bench.session.view().headline, "SHUT SIDE");
    let next = bench.session.view().next;
    assert!(!next.contains("The supply moves"), "once is enough: {next}");
    open_side(&mut bench, false);
    assert_eq!(bench.session.view().headline, "BEFORE TOP");
    bench.command(Command::Skip);
    bench.command(Command::Skip);
    // The last round has read the supply: it is not asked for once more.
    assert_eq!(bench.session.view().headline, "AIR OFF");
    let entries = since(&bench, from);
    let wanted = [
        Supply, Top, Supply, Supply, Top, Top, Supply, Supply, Shut, Shut,
    ];
    assert_eq!(stages(&entries), wanted);
}

/// Rounds end by themselves where they do not help, and whoever has enough of them skips.
#[test]
fn rounds_come_to_an_end() {
    use leakdown::Stage::{Supply, Top};

    let mut bench = offered();
    to_the_top(&mut bench);
    bench.push(Input::Air(&Told::Blurred(0.4)));
    bench.wait(4.0);
    go(&mut bench);
    let mut opened = 0;
    while bench.session.view().headline == "SHUT SIDE" {
        go(&mut bench);
        bench.push(Input::Air(&Told::Held(held(Top))));
        bench.push(Input::Air(&Told::Blurred(0.4)));
        bench.wait(0.2);
        if bench.session.view().headline == "OPEN SIDE" {
            opened += 1;
            go(&mut bench);
            bench.push(Input::Air(&Told::Plateau(Top, plateau(440.0))));
            bench.wait(6.0);
        }
    }
    assert_eq!((opened, bench.session.view().headline), (4, "BEFORE TOP"));

    let mut bench = offered();
    to_the_top(&mut bench);
    bench.push(Input::Air(&Told::Blurred(0.4)));
    bench.wait(4.0);
    go(&mut bench);
    assert!(bench.session.may_skip_air());
    bench.command(Command::Skip);
    assert_eq!(bench.session.view().headline, "BEFORE TOP");
    assert!(!stages(&bench.entries).ends_with(&[Supply]));
}

/// An engine is asked only for places that it has, by their numbers in a row; another one is refused,
/// and those that fit are named.
#[test]
fn air_is_heard_only_where_this_engine_has_a_place_for_it() {
    let mut bench = Bench::ready(Setup {
        air: AirSetup {
            engine: AirEngine {
                places: vec![Place::Intake, Place::Exhaust, Place::Nowhere],
                through_crankcase: true,
            },
            ..AirSetup::default()
        },
        ..setup(&["1", "2"])
    });
    for _ in 0..2 {
        bench.make_run();
    }
    to_the_top(&mut bench);
    bench.wait(4.0);
    let next = bench.session.view().next;
    assert!(next.contains("1 intake, 2 exhaust, 3 nowhere."), "{next}");
    assert_eq!(bench.session.places_asked().len(), 3);
    let from = bench.entries.len();
    bench.command(Command::Heard("coolant".to_owned()));
    let notice = bench.session.view().note.unwrap_or_default();
    assert!(notice.contains("intake, exhaust, nowhere"), "{notice}");
    bench.command(Command::Heard("4".to_owned()));
    assert_eq!(bench.entries.len(), from, "nothing is recorded");
    bench.command(Command::HearNth(1));
    go(&mut bench);
    let places = vec![Place::Exhaust];
    assert!(since(&bench, from).contains(&Entry::Heard { places }));
}

/// A visit that is resumed knows at once what its runs made suspect, and what was tested already.
#[test]
fn a_resumed_visit_proposes_at_once() {
    let assessment = low("2", "1", Condition::ColdDry);
    let resumed = |aired: &[&str]| {
        let aired = aired.iter().map(|&name| name.to_owned()).collect();
        needlerest::session::Session::new(setup(&["1", "2"])).taken_up(&assessment, aired)
    };
    let proposed = |session: &needlerest::session::Session| {
        session.worth_air().map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(proposed(&resumed(&[])), ["2"]);
    assert!(proposed(&resumed(&["2"])).is_empty());
}

/// What is low is proposed for a leak-down test once nothing else is planned; what was tested with air
/// is not proposed again.
#[test]
fn a_suspect_cylinder_is_proposed_until_it_was_tested() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    bench.make_run();
    bench.command(Command::Skip);
    assert_eq!(bench.session.stage(), Stage::Offer);
    let proposed: Vec<&str> = bench.session.worth_air().collect();
    assert_eq!(proposed, ["2"]);
    let next = bench.session.view().next;
    assert!(next.contains("leak-down test of cylinder 2"), "{next}");
    bench.command(Command::LeakDown(None));
    assert_eq!(bench.session.stage(), Stage::AirCautions);
    go(&mut bench);
    let next = bench.session.view().next;
    assert!(next.contains("Leak-down test of cylinder 2"), "{next}");
    // Left before anything was read: it is proposed still.
    bench.command(Command::Finish);
    assert_eq!(bench.session.worth_air().count(), 1);
    to_the_top(&mut bench);
    bench.command(Command::Finish);
    go(&mut bench);
    assert_eq!(bench.session.stage(), Stage::Offer);
    assert_eq!(bench.session.worth_air().count(), 0);
}

/// Between two runs the one that waits is put off, not lost.
#[test]
fn a_run_that_waits_is_asked_for_again_afterwards() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.make_run();
    to_the_top(&mut bench);
    bench.command(Command::Finish);
    go(&mut bench);
    assert_eq!(bench.session.stage(), Stage::Ready);
    let current = bench.session.current().expect("a run is asked for");
    assert_eq!(current.cylinder, "2");
    bench.make_run();
    assert_eq!(bench.session.stage(), Stage::Offer);
}

#[test]
fn a_pressure_that_falls_away_shuts_the_air_off_at_once() {
    let mut bench = offered();
    to_the_top(&mut bench);
    let (said, from) = (bench.out.len(), bench.entries.len());
    let stage = leakdown::Stage::Top;
    bench.push(Input::Air(&Told::Flag(AirFlag::FellAway { stage })));
    let loud = Output::Announce(Announcement::AirOff);
    assert!(bench.out[said..].contains(&loud));
    assert_eq!(stages(&since(&bench, from)), [leakdown::Stage::Shut]);
    let view = bench.session.view();
    assert_eq!(view.headline, "AIR OFF");
    assert!(view.next.contains("Hands off the crank"), "{}", view.next);
    go(&mut bench);
    assert_eq!(since(&bench, from).last(), Some(&Entry::End));
    let next = bench.session.view().next;
    assert!(next.contains("Leak-down test of cylinder 2"), "{next}");
}

#[test]
fn the_tester_is_checked_first_where_that_is_wanted() {
    let mut bench = Bench::new(Setup {
        air: AirSetup {
            tester_cm3: Some(12.0),
            check_tester: true,
            ..AirSetup::default()
        },
        ..setup(&["1", "2"])
    });
    go(&mut bench);
    bench.zero(0.0);
    assert_eq!(bench.session.stage(), Stage::AirCautions);
    for _ in 0..3 {
        go(&mut bench);
    }
    let begin = Entry::Decay {
        filled: Filled::Tester,
        cylinder: None,
        volume_cm3: Some(12.0),
    };
    assert!(bench.entries.contains(&begin));
    bench.wait(19.0);
    assert_eq!(stages(&bench.entries), [leakdown::Stage::Shut]);
    bench.wait(2.0);
    assert_eq!(stages(&bench.entries), [leakdown::Stage::Shut; 2]);
    go(&mut bench);
    assert_eq!(bench.session.stage(), Stage::Ready);
    assert_eq!(
        bench.session.current().map(|c| c.cylinder.as_str()),
        Some("1")
    );
}

#[test]
fn nothing_of_it_in_the_middle_of_a_run() {
    let mut bench = Bench::ready(setup(&["1", "2"]));
    bench.crank();
    let from = bench.entries.len();
    bench.command(Command::LeakDown(None));
    bench.command(Command::CheckTester);
    bench.command(Command::Hear(Place::Exhaust));
    assert_eq!(bench.session.stage(), Stage::Climbing);
    assert_eq!(since(&bench, from), []);
}

/// Whatever is asked is short enough to be read from afar, and said in as many words or fewer.
#[test]
fn each_step_has_words_for_eye_and_ear() {
    let mut bench = offered();
    to_the_top(&mut bench);
    let spoken: Vec<&str> = bench
        .out
        .iter()
        .filter_map(|output| match output {
            Output::Announce(Announcement::Next(text)) => Some(text.as_str()),
            _ => None,
        })
        .collect();
    let wanted = [
        "Cylinder two, test with air. Regulator at zero.",
        "Shut the cylinder's side. Regulator up slowly, eighty p s i at most.",
        "Hands off. Wait.",
        "Cylinder two to the top, compression stroke. Lock the crank. Wrench off. Stand clear. Then \
         open slowly.",
        "Stay clear. Wait.",
    ];
    for text in wanted {
        assert!(spoken.contains(&text), "{text}: {spoken:#?}");
    }
}
