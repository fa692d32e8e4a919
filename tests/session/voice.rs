//! What a voice says: everything that is to be done, each thing when it is to be done, and again
//! after a while of nothing.

use crate::bench::{Bench, setup};
use needlerest::engine::{Decompressor, EngineKind, Start};
use needlerest::session::{Announcement, Command, Output, Setup, Stage};
use needlerest::signal::{Count, Event, Turned};
use needlerest::units::{Pressure, PressureUnit};

/// Everything that was said since the last time.
fn said(bench: &mut Bench) -> Vec<String> {
    let out = std::mem::take(&mut bench.out);
    let spoken = |output| match output {
        Output::Announce(announcement) => Some(announcement.spoken().to_owned()),
        Output::Say(_) | Output::Record(_) => None,
    };
    out.into_iter().filter_map(spoken).collect()
}

fn kicked() -> Setup {
    let usual = setup(&["1", "2"]);
    Setup {
        kind: EngineKind {
            start: Some(Start::Kick),
            ..usual.kind
        },
        unit: PressureUnit::Psi,
        ..usual
    }
}

fn to_go(bench: &mut Bench, more: u32) {
    let count = Count {
        made: 6 - more,
        unseen: 0,
        turned: Turned::InKicks,
        to_go: Some(more),
        needle: Pressure::from_kpa(790.0),
        heading: Pressure::from_kpa(793.0),
        tolerance: Pressure::from_kpa(16.0),
    };
    bench.push(needlerest::session::Input::Signal(&Event::Counted(count)));
}

#[test]
fn a_whole_run_can_be_made_by_ear() {
    let mut bench = Bench::new(kicked());
    bench.plateau = 793e3;
    bench.command(Command::Go);
    assert_eq!(
        said(&mut bench),
        ["Leave the sensor open to the air, and still."]
    );
    bench.zero(0.0);
    assert_eq!(said(&mut bench), ["Cylinder one. Throttle open. Kick."]);
    bench.crank();
    for more in [3, 3, 2, 1] {
        to_go(&mut bench, more);
    }
    assert_eq!(said(&mut bench), ["Three more.", "Two more.", "One more."]);
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    // 793 kPa less what is still to climb is 114 psi.
    assert_eq!(said(&mut bench), ["Stop. One hundred and fourteen."]);
    bench.wait(6.0);
    assert_eq!(said(&mut bench), ["Bleed."]);
    bench.bleed();
    assert_eq!(said(&mut bench), ["Cylinder two. Throttle open. Kick."]);
}

#[test]
fn a_decompressor_is_said_and_a_diesel_has_no_throttle() {
    let shut = EngineKind {
        decompressor: Some(Decompressor::Manual),
        ..kicked().kind
    };
    let mut bench = Bench::ready(Setup {
        kind: shut,
        ..kicked()
    });
    let words = said(&mut bench).pop();
    let expected = "Cylinder one. Decompressor shut. Throttle open. Kick.";
    assert_eq!(words.as_deref(), Some(expected));
    let diesel = EngineKind {
        ignition: Some(needlerest::engine::Ignition::Compression),
        ..setup(&[]).kind
    };
    let mut bench = Bench::ready(Setup {
        kind: diesel,
        ..setup(&[])
    });
    let words = said(&mut bench).pop();
    assert_eq!(
        words.as_deref(),
        Some("Next cylinder. Injection dead. Crank.")
    );
}

#[test]
fn it_is_said_again_on_a_key_and_after_a_while_of_nothing() {
    let asked = "Cylinder one. Throttle open. Kick.";
    let mut bench = Bench::ready(kicked());
    said(&mut bench);
    bench.command(Command::Say);
    assert_eq!(said(&mut bench), [asked]);
    bench.wait(19.0);
    assert_eq!(said(&mut bench), [""; 0]);
    bench.wait(2.0);
    assert_eq!(said(&mut bench), [asked]);
    // Whoever takes their time is not nagged: the pauses become longer.
    bench.wait(30.0);
    assert_eq!(said(&mut bench), [""; 0]);
    bench.wait(12.0);
    assert_eq!(said(&mut bench), [asked]);
    // A stroke is something.
    bench.crank();
    bench.wait(15.0);
    bench.crank();
    bench.wait(15.0);
    assert_eq!(said(&mut bench), [""; 0]);
}

#[test]
fn a_replay_repeats_nothing() {
    let replayed = Setup {
        replay: true,
        cautions_read: true,
        ..kicked()
    };
    let mut bench = Bench::ready(replayed);
    said(&mut bench);
    bench.wait(60.0);
    assert_eq!(said(&mut bench), [""; 0]);
}

#[test]
fn cranking_on_during_the_leak_check_is_told_once() {
    let mut bench = Bench::ready(kicked());
    while bench.stage() != Stage::Hold {
        bench.crank();
    }
    said(&mut bench);
    // An engine takes a moment to stand.
    bench.crank();
    assert_eq!(said(&mut bench), [""; 0]);
    bench.wait(2.0);
    bench.crank();
    bench.crank();
    assert_eq!(bench.stage(), Stage::Hold);
    assert_eq!(bench.announced(|a| *a == Announcement::StillCranking), 1);
    let note = bench.session.view().note;
    assert!(note.is_some_and(|note| note.contains("has settled")));
}
