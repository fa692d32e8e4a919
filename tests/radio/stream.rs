//! Recording a live sensor, and what goes wrong on the way.

use crate::reference::ADDRESS;
use crate::stage::Stage;
use needlerest::recording::Event;

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
        if let Some(signal) = signal {
            let running = stage.recording(&[], 20).await;
            running.signal(signal);
            running.end().await.expect(0);
        } else {
            let file = stage.file();
            let args = ["record", file.to_str().expect("UTF-8"), "--for", "0.5"];
            stage.tool.run(&args).await.expect(0);
        }
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
        "--speed",
        "0",
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
        "--speed",
        "0",
    ];
    tool.run(&replay).await.expect(0);
    let read = |name: &str| std::fs::read(at(name)).expect("was written");
    assert!(
        read("first.nrs") == read("second.nrs"),
        "a replay gives the same recording"
    );
    let found = tool.run(&["replay", &at("second.nrs")]).await;
    found.expect(0);
    // In its own time, nothing comes before its moment.
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
    let passed_us = begun.elapsed().as_micros();
    let recorded = |name: &str| crate::stage::Recorded::read(tool.folder().join(name).as_path());
    let (first, third) = (recorded("first.nrs"), recorded("third.nrs"));
    let early = third
        .sealed()
        .packets
        .iter()
        .find(|p| u128::from(p.t_us) > passed_us);
    assert_eq!(early, None, "came before {passed_us} µs had passed");
    assert!(first.packets.starts_with(&third.packets) && !third.packets.is_empty());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_live_recording_is_assessed_at_once_and_later_alike() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let at = |name: &str| {
        let path = stage.tool.folder().join(name);
        path.to_str().expect("UTF-8").to_owned()
    };
    let card = include_str!("../../demo/finch.card.toml");
    std::fs::write(at("card.toml"), card).expect("writes");
    let (card, page) = (at("card.toml"), at("report"));
    let more = [
        "--card",
        &card,
        "--cylinder",
        "1",
        "--condition",
        "cold-dry",
        "--report",
        &page,
    ];
    let running = stage.recording(&more, 5).await;
    // Its whole climb, as fast as the bus takes it.
    stage.send_now(1000).await;
    running.signal("INT");
    let at_once = running.end().await;
    // The ninth stroke of a climb towards 10.00 bar.
    at_once.expect(0).says(&["Sealed", "9.98", "Report:"]);
    let recorded = stage.compare().await;
    recorded.sealed();
    let live = stage.file().to_str().expect("UTF-8").to_owned();
    let copied = ["record", &at("copy.nrs"), "--replay", &live, "--speed", "0"];
    stage.tool.run(&copied).await.expect(0);
    let later = stage
        .tool
        .run(&["replay", &at("copy.nrs"), "--report", &at("later")])
        .await;
    later.expect(0);
    let findings = |folder: &str| {
        std::fs::read(stage.tool.folder().join(folder).join("findings.json")).expect("was written")
    };
    assert!(findings("report") == findings("later"), "findings differ");
    let found: needlerest::pipeline::Findings =
        serde_json::from_slice(&findings("report")).expect("findings");
    let link = found.sensor.link.expect("it was live");
    assert_eq!((link.lost, link.rssi_dbm), (Some(0), Some(-58)));
    let reading = found.runs[0].result.reading.as_ref().expect("a reading");
    // What the sensor's firmware climbs to.
    let off = (reading.value.kpa() - 1000.0).abs();
    assert!(off <= reading.expanded.kpa(), "{reading:?}");
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
