//! What happens while the link is away, or seems to be.

use crate::daemon::{Daemon, HCI0, until};
use crate::find::setup;
use crate::peripheral::{OnConnect, device_path};
use crate::reference::{self, ADDRESS};
use crate::stage::{Recorded, Stage};
use needlerest::recording::Event;
use std::time::Duration;
use tokio::time::sleep;

/// Each of these waits for seconds, so they wait together.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_happens_while_the_link_is_away() {
    tokio::join!(
        a_lost_link_comes_back_within_the_same_recording(),
        an_old_word_of_a_lost_link_is_not_believed(),
        packets_lost_on_the_way_are_counted(),
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
    until(stage.daemon(), "the sensor is looked for", |state| {
        let gone = state
            .journal
            .iter()
            .rposition(|line| line.ends_with(" removed"));
        gone.is_some_and(|gone| {
            state.journal[gone..]
                .iter()
                .any(|line| line.ends_with(" StartDiscovery"))
        })
    })
    .await;
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
    stage
        .until_recorded("the lost link", |recorded| {
            recorded.count(&Event::LinkLost) == 1
        })
        .await;
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
    let recorded = Recorded::read(&stage.file());
    sent.extend(stage.daemon().state.lock().await.sent.clone());
    recorded.sealed().holds_all(&sent);
}

async fn a_bus_that_died_leaves_a_sealed_recording() {
    let Some(mut stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 50).await;
    let goal = stage.daemon().state.lock().await.sent.len();
    stage
        .until_recorded("what was sent", |recorded| recorded.notified() >= goal)
        .await;
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
    let recorded = Recorded::read(&stage.file());
    recorded.sealed();
    // What the dying bus still held never reached the host.
    let kept = recorded.notified();
    assert!(kept >= goal, "{kept} of {goal}");
    let sent = stage.daemon().state.lock().await.sent[..kept].to_vec();
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
