//! Peripherals that mean no good, or were never tested.

use crate::bus::Bus;
use crate::daemon::Daemon;
use crate::find::setup;
use crate::peripheral::{Characteristic, Peripheral, Service, short};
use crate::reference::{self, ADDRESS};
use crate::stage::{Recorded, Stage};
use crate::tool::Tool;

fn plain(uuid: String) -> Characteristic {
    Characteristic {
        uuid,
        flags: vec!["read", "notify"],
        value: vec![0xFF; 512],
        descriptors: Vec::new(),
        mtu: 23,
    }
}

/// Its own service is the last of `count`.
fn with_services(count: u32) -> Peripheral {
    let mut peripheral = reference::peripheral();
    let more = (1..count).map(|i| Service {
        uuid: format!("{i:08x}-0000-4000-8000-00000000beef"),
        characteristics: Vec::new(),
    });
    peripheral.services = more.chain(peripheral.services).collect();
    peripheral
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_of_any_kind_neither_break_the_list_nor_the_terminal() {
    let Some(bus) = Bus::start("") else {
        return;
    };
    let mut huge = reference::peripheral();
    huge.name = "\u{1b}[2J\u{7}\n".repeat(4) + &"😀".repeat(20_000);
    let mut empty = reference::peripheral();
    empty.address = "00:AA:01:01:00:02".to_owned();
    empty.name = String::new();
    let mut replaced = reference::peripheral();
    replaced.address = "00:AA:01:01:00:03".to_owned();
    // What the daemon makes of bytes that are no UTF-8.
    replaced.name = String::from_utf8_lossy(b"Needle\xFF\xFErest").into_owned();
    let _daemon = Daemon::start(&bus.address, setup(vec![huge, empty, replaced])).await;
    let ended = Tool::new(&bus.address)
        .run(&["scan", "--for", "1", "--all"])
        .await;
    ended
        .expect(0)
        .says(&["(no name)", "Needle\u{FFFD}\u{FFFD}rest", ADDRESS]);
    assert!(
        !ended.out.contains('\u{1b}') && !ended.out.contains('\u{7}'),
        "{:?}",
        ended.out
    );
    assert!(
        ended.out.lines().all(|line| line.chars().count() < 120),
        "{}",
        ended.out
    );
}

/// The live list steers the terminal: but only to draw itself anew.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_advertised_name_steers_a_terminal() {
    let evil = "x\u{1b}[2J\u{1b}]0;y\u{7}\u{9b}31m\u{8}\u{7f}\u{202e}\u{2067}\r\nFORGED";
    let mut peripheral = reference::peripheral();
    peripheral.name = format!("Needlerest {evil}");
    let Some(stage) = Stage::with(peripheral).await else {
        return;
    };
    for args in [
        &["scan", "--for", "2", "--all"][..],
        &["scan", "--for", "1", "--all", "--json"],
        &["self-check"],
        &["sensors", "remember", "shed"],
        &["sensors"],
    ] {
        let said = stage.tool.on_a_terminal(args).await;
        assert!(said.contains(ADDRESS), "{args:?} does not show it: {said}");
        let mut rest = said.replace("\u{1b}[J", "");
        for lines in 1..100 {
            rest = rest.replace(&format!("\u{1b}[{lines}A"), "");
        }
        let hidden = |c: char| {
            (c.is_control() && c != '\n')
                || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        };
        assert!(!rest.contains(hidden), "{args:?}: {rest:?}");
        assert!(!rest.lines().any(|line| line.starts_with("FORGED")));
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn long_short_empty_and_foreign_notifications_are_kept_as_they_came() {
    let mut peripheral = reference::peripheral();
    let details = &mut peripheral.services[0].characteristics;
    details[0].value = b"\xFF\xFE\x00\x1b[2J".to_vec();
    details[1].value = vec![b'x'; 512];
    let Some(stage) = Stage::with(peripheral).await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    for payload in [
        vec![0xFF; 512],
        vec![],
        vec![0; 1],
        vec![0x55; 13],
        vec![0xAA; 244],
    ] {
        let mut state = stage.daemon().state.lock().await;
        let path = state.notifying.clone().expect("subscribed");
        state
            .signal_value(&path, payload.clone())
            .await
            .expect("the bus holds");
        state.sent.push(payload);
    }
    stage.until_sent(20).await;
    running.signal("INT");
    let ended = running.end().await;
    assert!([0, 3].contains(&ended.code), "{ended:?}");
    assert!(!ended.err.contains('\u{1b}'), "{:?}", ended.err);
    let recorded = stage.compare().await;
    recorded.sealed();
    assert!(recorded.header.sensor.details["serial number"].len() <= 200);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn ten_thousand_services_are_survived() {
    let Some(stage) = Stage::with(with_services(10_000)).await else {
        return;
    };
    let file = stage.file();
    let args = ["record", file.to_str().expect("UTF-8"), "--for", "1"];
    let ended = stage.tool.run(&args).await;
    if ended.code == 0 {
        Recorded::read(&file).sealed();
    } else {
        // The list takes longer than the program waits, on a slow machine.
        ended
            .expect(1)
            .says(&["list the sensor's services", "bring the sensor nearer"]);
    }
    stage.nothing_is_left().await;
}

/// ATT's default MTU of 23 carries 20 bytes (Bluetooth Core Specification, Volume 3, Part G, section
/// 5.2.1, from memory).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_short_link_and_contradicting_descriptions_are_told() {
    let mut peripheral = reference::peripheral();
    peripheral.advertises = vec![short(0x181A)];
    peripheral.name = "Barometer".to_owned();
    let mut pressure = plain(short(0x2A6D));
    // A signed number of hundredths of a bar, where the protocol file has tenths of a pascal.
    pressure
        .descriptors
        .push((short(0x2904), vec![0x10, 0xFE, 0x80, 0x27, 1, 0, 0]));
    pressure.value = vec![0; 4];
    let mut temperature = plain(short(0x2A6E));
    temperature
        .descriptors
        .push((short(0x2904), vec![0x0E, 0xFE, 0x2F, 0x27, 1, 0, 0]));
    temperature.value = vec![0xC4, 0x09];
    let characteristics = vec![pressure, temperature];
    peripheral.services = vec![Service {
        uuid: short(0x181A),
        characteristics,
    }];
    let Some(stage) = Stage::with(peripheral).await else {
        return;
    };
    let ended = stage.tool.run(&["self-check"]).await;
    ended.expect(1).says(&[
        "Environmental Sensing Service",
        "pressure: the sensor writes it as i32, the protocol file as u32",
        "pressure: one step is",
        "the sensor's own description agrees: temperature",
        "nothing came in 3 s",
    ]);

    let mut peripheral = reference::peripheral();
    for service in &mut peripheral.services {
        for one in &mut service.characteristics {
            one.mtu = 23;
        }
    }
    let Some(stage) = Stage::with(peripheral).await else {
        return;
    };
    let ended = stage.tool.run(&["self-check"]).await;
    ended.expect(0).says(&[
        "20 bytes",
        "carries 20 bytes a notification, the sensor sends up to 244",
    ]);
}
