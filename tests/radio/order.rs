//! The stand-in held against a real daemon, and the program against a real daemon's order.

use crate::daemon::HCI0;
use crate::peripheral::device_path;
use crate::reference::ADDRESS;
use crate::script::section;
use crate::stage::Stage;
use needlerest::recording::Event;

/// First occurrences, in order, of what both lists have.
fn common_order(ours: &[String], theirs: &[String]) -> (Vec<String>, Vec<String>) {
    let first = |lines: &[String], others: &[String]| {
        let mut seen: Vec<String> = Vec::new();
        for line in lines {
            if others.contains(line) && !seen.contains(line) {
                seen.push(line.clone());
            }
        }
        seen
    };
    (first(ours, theirs), first(theirs, ours))
}

/// A journal's line in a script's words.
fn in_short(line: &str) -> String {
    let device = device_path(HCI0, ADDRESS);
    let line = line.replace(&device, "dev").replace(HCI0, "hci0");
    let mut words: Vec<&str> = line.splitn(3, ' ').collect();
    if let Some(path) = words.get_mut(1)
        && path.starts_with("dev/")
    {
        *path = match path.matches('/').count() {
            1 => "service",
            2 => "characteristic",
            _ => "descriptor",
        };
    }
    words.join(" ")
}

/// The order of a real bluetoothd 5.66 (`fixtures/radio/bluez-order.txt`).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_stand_in_speaks_in_the_order_of_a_real_daemon() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    running.signal("INT");
    running.end().await.expect(0);
    let state = stage.daemon().state.lock().await;
    let ours: Vec<String> = state.journal.iter().map(|line| in_short(line)).collect();
    let theirs: Vec<String> = section("session")
        .iter()
        .map(|line| in_short(line))
        .collect();
    let (ours, theirs) = common_order(&ours, &theirs);
    assert_eq!(ours, theirs);
    for milestone in [
        "signal dev added",
        "signal dev -RSSI",
        "signal dev Connected=true",
        "return dev Connect",
        "signal service added",
        "signal dev UUIDs,ServicesResolved=true",
        "signal characteristic Notifying=true",
        "signal dev Connected=false",
    ] {
        assert!(
            ours.iter().any(|line| line == milestone),
            "{milestone} is not in {ours:#?}"
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_order_of_a_real_daemon_is_understood() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    stage.daemon().state.lock().await.script = section("session").into();
    let running = stage.recording(&[], 50).await;
    let pulled = section("adapter is pulled");
    for (lines, back) in [(section("link drops"), true), (pulled, false)] {
        for line in lines {
            stage
                .daemon()
                .state
                .lock()
                .await
                .play(&line)
                .await
                .expect("the bus holds");
        }
        if back {
            stage.until_sent(50).await;
        }
    }
    stage
        .until_recorded("the second loss", |recorded| {
            recorded.count(&Event::LinkLost) == 2
        })
        .await;
    running.signal("TERM");
    running.end().await.expect(3).says(&["the link is back"]);
    let recorded = stage.compare().await;
    recorded.sealed();
    // The name is the advertised one, not the one that the daemon takes from the sensor later.
    assert_eq!(recorded.header.sensor.name, "Needlerest 0042");
    assert_eq!(recorded.count(&Event::LinkLost), 2);
    assert_eq!(recorded.count(&Event::LinkBack), 1);
}
