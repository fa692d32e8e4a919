//! Recording a live sensor, and what goes wrong on the way.

use crate::daemon::{Daemon, HCI0, until};
use crate::find::setup;
use crate::peripheral::OnConnect;
use crate::peripheral::device_path;
use crate::reference::{self, ADDRESS};
use crate::stage::Stage;
use needlerest::recording::Event;
use std::time::Duration;
use tokio::time::sleep;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_kilohertz_stream_is_recorded_whole() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let more = [
        "--rate",
        "1000",
        "--cylinder",
        "1",
        "--condition",
        "cold-dry",
        "--zero",
    ];
    let running = stage.recording(&more, 300).await;
    running.signal("INT");
    let ended = running.end().await;
    ended.expect(0).says(&["0 lost", "Sealed", "at rest"]);
    let recorded = stage.compare().await;
    recorded.sealed();
    assert_eq!(recorded.header.sensor.address, ADDRESS);
    assert_eq!(recorded.header.sensor.details["serial number"], "MC-0042");
    assert_eq!(recorded.header.sensor.details["firmware"], "1.4.0");
    assert!(
        recorded
            .packets
            .iter()
            .any(|p| p.from == "battery" && p.hex == [87])
    );
    assert!(
        recorded
            .events
            .iter()
            .any(|e| matches!(e, Event::Run { cylinder, .. } if cylinder == "1"))
    );
    let Some(Event::Link(link)) = recorded.events.last() else {
        panic!("no word on the link")
    };
    assert_eq!(
        (link.lost, link.link_losses, link.rssi_dbm),
        (Some(0), 0, Some(-58))
    );
    stage.nothing_is_left().await;
    let state = stage.daemon().state.lock().await;
    let written: Vec<&String> = state
        .journal
        .iter()
        .filter(|l| l.starts_with("written"))
        .collect();
    assert_eq!(
        written,
        [
            "written [03]",
            "written [04, e8, 03]",
            "written [01]",
            "written [02]"
        ]
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_way_to_end_it_stops_the_sensor_and_seals() {
    let way = async |signal: Option<&str>| {
        let Some(stage) = Stage::set().await else {
            return;
        };
        let more: &[&str] = if signal.is_none() {
            &["--for", "0.5"]
        } else {
            &[]
        };
        let running = stage.recording(more, 20).await;
        if let Some(signal) = signal {
            running.signal(signal);
        }
        running.end().await.expect(0);
        stage.compare().await.sealed();
        stage.nothing_is_left().await;
    };
    tokio::join!(
        way(Some("INT")),
        way(Some("TERM")),
        way(Some("HUP")),
        way(None)
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lost_link_comes_back_within_the_same_recording() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage
        .recording(&["--cylinder", "2", "--condition", "wet"], 50)
        .await;
    let path = device_path(HCI0, ADDRESS);
    for _ in 0..2 {
        stage
            .daemon()
            .state
            .lock()
            .await
            .drop_link(&path)
            .await
            .expect("the bus holds");
        stage.until_sent(50).await;
    }
    running.signal("INT");
    running.end().await.expect(3).says(&[
        "the link to the sensor is lost",
        "the link is back",
        "the link lost 2 time(s)",
    ]);
    let recorded = stage.compare().await;
    recorded.sealed();
    assert_eq!(recorded.count(&Event::LinkLost), 2);
    assert_eq!(recorded.count(&Event::LinkBack), 2);
    let runs = recorded
        .events
        .iter()
        .filter(|e| matches!(e, Event::Run { .. }))
        .count();
    assert_eq!(runs, 1, "the same run goes on");
    stage.nothing_is_left().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_old_word_of_a_lost_link_is_not_believed() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    // As when it waited in a queue until the link was back.
    let path = device_path(HCI0, ADDRESS);
    let old = stage
        .daemon()
        .state
        .lock()
        .await
        .say_disconnected(&path)
        .await;
    old.expect("the bus holds");
    stage.until_sent(100).await;
    running.signal("INT");
    running.end().await.expect(0);
    assert_eq!(stage.compare().await.count(&Event::LinkLost), 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_virtual_sensor_and_a_replay_go_through_the_same_command() {
    let tool = crate::tool::Tool::new(&crate::bus::Bus::nowhere());
    let at = |name: &str| tool.folder().join(name).to_str().expect("UTF-8").to_owned();
    std::fs::write(
        at("visit.toml"),
        include_str!("../../fixtures/radio/visit.toml"),
    )
    .expect("writes");
    let recipe = [
        "record",
        &at("first.nrs"),
        "--virtual",
        &at("visit.toml"),
        "--fast",
    ];
    tool.run(&recipe)
        .await
        .expect(0)
        .says(&["0 lost", "Sealed"]);
    let replay = [
        "record",
        &at("second.nrs"),
        "--replay",
        &at("first.nrs"),
        "--fast",
    ];
    tool.run(&replay).await.expect(0);
    let read = |name: &str| std::fs::read(at(name)).expect("was written");
    assert!(
        read("first.nrs") == read("second.nrs"),
        "a replay gives the same recording"
    );
    let found = tool.run(&["replay", &at("second.nrs")]).await;
    found.expect(0);
    // In its own time, a second of recording takes a second.
    let begun = std::time::Instant::now();
    let live = [
        "record",
        &at("third.nrs"),
        "--replay",
        &at("first.nrs"),
        "--for",
        "1",
    ];
    tool.run(&live).await.expect(0);
    assert!(begun.elapsed().as_secs_f64() > 0.9);
    let third = crate::stage::Recorded::read(tool.folder().join("third.nrs").as_path());
    assert!(
        third
            .sealed()
            .packets
            .iter()
            .all(|packet| packet.t_us <= 1_100_000)
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn packets_lost_on_the_way_are_counted() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 30).await;
    stage.daemon().state.lock().await.swallow = 7;
    stage.until_sent(30).await;
    running.signal("INT");
    running.end().await.expect(3).says(&["7 lost"]);
    stage.compare().await.sealed();
}

async fn silence_on_a_link_that_is_up_is_told_and_survived() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    stage.daemon().state.lock().await.silent = true;
    sleep(Duration::from_millis(3500)).await;
    stage.daemon().state.lock().await.silent = false;
    stage.until_sent(20).await;
    running.signal("INT");
    running
        .end()
        .await
        .expect(0)
        .says(&["nothing from the sensor for", "though linked"]);
    let recorded = stage.compare().await;
    assert_eq!(recorded.count(&Event::LinkLost), 0);
}

async fn a_sensor_that_forgot_to_stream_is_told_again() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    // As after a reset of the sensor's firmware behind a link that stays up.
    stage.daemon().state.lock().await.firmware.disconnected();
    stage.until_sent(20).await;
    running.signal("INT");
    running
        .end()
        .await
        .expect(0)
        .says(&["nothing from the sensor for"]);
    stage.compare().await.sealed();
}

async fn a_sensor_out_of_reach_is_found_again() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    stage
        .daemon()
        .state
        .lock()
        .await
        .vanish(0)
        .await
        .expect("the bus holds");
    sleep(Duration::from_secs(2)).await;
    stage
        .daemon()
        .state
        .lock()
        .await
        .come_back(0)
        .await
        .expect("the bus holds");
    stage.until_sent(20).await;
    running.signal("TERM");
    running
        .end()
        .await
        .expect(3)
        .says(&["attempt 2", "the link is back"]);
    stage.compare().await.sealed();
    stage.nothing_is_left().await;
}

async fn ending_while_the_link_is_away_seals_at_once() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    stage
        .daemon()
        .state
        .lock()
        .await
        .vanish(0)
        .await
        .expect("the bus holds");
    sleep(Duration::from_millis(700)).await;
    running.signal("INT");
    running.end().await.expect(3);
    let recorded = stage.compare().await;
    recorded.sealed();
    assert_eq!(
        (
            recorded.count(&Event::LinkLost),
            recorded.count(&Event::LinkBack)
        ),
        (1, 0)
    );
}

async fn an_adapter_switched_off_and_on_again() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    stage
        .daemon()
        .state
        .lock()
        .await
        .power(false)
        .await
        .expect("the bus holds");
    stage
        .daemon()
        .state
        .lock()
        .await
        .refuse
        .insert("Connect".into(), "org.bluez.Error.NotReady".into());
    sleep(Duration::from_millis(1500)).await;
    stage.daemon().state.lock().await.refuse.clear();
    stage
        .daemon()
        .state
        .lock()
        .await
        .power(true)
        .await
        .expect("the bus holds");
    stage.until_sent(20).await;
    running.signal("INT");
    running.end().await.expect(3);
    stage.compare().await.sealed();
    stage.nothing_is_left().await;
}

async fn a_bluetooth_service_that_died_and_came_back() {
    let Some(mut stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    let mut sent = stage
        .daemon
        .take()
        .expect("runs")
        .end()
        .await
        .expect("ends");
    sleep(Duration::from_secs(1)).await;
    let again = Daemon::start(&stage.bus.address, setup(vec![reference::peripheral()])).await;
    stage.daemon = Some(again);
    stage.until_sent(20).await;
    running.signal("INT");
    running.end().await.expect(3).says(&["the link is back"]);
    let recorded = crate::stage::Recorded::read(&stage.file());
    sent.extend(stage.daemon().state.lock().await.sent.clone());
    recorded.sealed().holds_all(&sent);
}

async fn a_bus_that_died_leaves_a_sealed_recording() {
    let Some(mut stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 50).await;
    let goal = stage.daemon().state.lock().await.sent.len();
    stage.bus.kill();
    sleep(Duration::from_secs(1)).await;
    running.signal("INT");
    let ended = running.end().await;
    // Whether the loss was noticed by then is a matter of how the calls fail.
    ended.expect(if ended.err.contains("the link to the sensor is lost") {
        3
    } else {
        0
    });
    let recorded = crate::stage::Recorded::read(&stage.file());
    recorded.sealed();
    // What the dying bus still held never reached the host.
    let sent = stage.daemon().state.lock().await.sent[..recorded
        .packets
        .iter()
        .filter(|p| p.from == "stream")
        .count()]
        .to_vec();
    assert!(sent.len() + 10 >= goal, "{} of {goal}", sent.len());
    recorded.holds_all(&sent);
}

async fn each_way_not_to_connect_is_told_apart() {
    let way = async |on_connect: OnConnect, says: &str| {
        let mut peripheral = reference::peripheral();
        peripheral.on_connect = on_connect;
        let Some(stage) = Stage::with(peripheral).await else {
            return;
        };
        let file = stage.file();
        let ended = stage
            .tool
            .run(&["record", file.to_str().expect("UTF-8")])
            .await;
        let cannot = "cannot connect to Needlerest 0042";
        ended
            .expect(1)
            .says(&[cannot, says, "no phone holds its link"]);
        assert!(!file.exists(), "no recording of nothing");
        until(stage.daemon(), "the host is told to let go", |state| {
            state
                .journal
                .iter()
                .any(|line| line.ends_with(" Disconnect"))
        })
        .await;
    };
    let refusal = "le-connection-abort-by-local";
    tokio::join!(
        way(OnConnect::Refuse(refusal), refusal),
        way(OnConnect::Hang, "no answer in 12 s"),
        way(OnConnect::NeverResolve, "no answer in 12 s"),
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refused_subscription_leaves_nothing_behind() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let refusal = "org.bluez.Error.NotPermitted".to_owned();
    stage
        .daemon()
        .state
        .lock()
        .await
        .refuse
        .insert("StartNotify".to_owned(), refusal);
    let file = stage.file();
    let ended = stage
        .tool
        .run(&["record", file.to_str().expect("UTF-8")])
        .await;
    ended.expect(1).says(&["not permitted to subscribe"]);
    stage.nothing_is_left().await;
}

/// Each of these waits for seconds, so they wait together.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_takes_patience() {
    tokio::join!(
        silence_on_a_link_that_is_up_is_told_and_survived(),
        a_sensor_that_forgot_to_stream_is_told_again(),
        a_sensor_out_of_reach_is_found_again(),
        ending_while_the_link_is_away_seals_at_once(),
        an_adapter_switched_off_and_on_again(),
        a_bluetooth_service_that_died_and_came_back(),
        a_bus_that_died_leaves_a_sealed_recording(),
        each_way_not_to_connect_is_told_apart(),
    );
}
