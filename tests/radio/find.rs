//! Finding a sensor, and what is said when there is none.

use crate::bus::{Bus, DENY_BLUEZ};
use crate::daemon::Setup;
use crate::peripheral::Peripheral;
use crate::reference::{self, ADDRESS, Reference};
use crate::tool::Tool;
use crate::{daemon, peripheral};
use daemon::Daemon;

/// One adapter, switched on, and these devices in reach.
pub fn setup(peripherals: Vec<Peripheral>) -> Setup {
    Setup {
        adapters: vec![("hci0", true)],
        peripherals,
        firmware: Box::new(Reference::new(1000.0)),
        stream_uuid: reference::STREAM.to_owned(),
        command_uuid: reference::COMMAND.to_owned(),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_scan_lists_what_a_protocol_file_describes() {
    let Some(bus) = Bus::start("") else { return };
    let mut stranger = reference::peripheral();
    stranger.name = "Toaster".to_owned();
    stranger.address = "00:AA:01:01:00:02".to_owned();
    stranger.advertises = vec![peripheral::short(0x1816)];
    stranger.rssi = 127;
    let _daemon = Daemon::start(&bus.address, setup(vec![reference::peripheral(), stranger])).await;
    let tool = Tool::new(&bus.address);
    let ended = tool.run(&["scan", "--for", "1"]).await;
    ended.expect(0).says(&[
        "Needlerest 0042",
        ADDRESS,
        "-58 dBm",
        "needlerest reference sensor",
    ]);
    assert!(!ended.out.contains("Toaster"), "{}", ended.out);
    // Signal strength 127 means "not known" (Core Specification, Volume 4, Part E, 7.7.65.2).
    let ended = tool.run(&["scan", "--for", "1", "--all"]).await;
    ended.expect(0).says(&["Toaster", "unknown", "none"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_self_check_goes_step_by_step() {
    let Some(bus) = Bus::start("") else { return };
    let daemon = Daemon::start(&bus.address, setup(vec![reference::peripheral()])).await;
    let ended = Tool::new(&bus.address).run(&["self-check"]).await;
    ended.expect(0).says(&[
        "MC-0042",
        "battery: 87 %",
        "244 bytes",
        "0 lost",
        "All is well",
    ]);
    let state = daemon.state.lock().await;
    assert!(
        state.notifying.is_none() && !state.firmware.streaming(),
        "left a subscription"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_reason_to_find_nothing_is_told_apart() {
    let nowhere = Tool::new(&Bus::nowhere()).run(&["self-check"]).await;
    nowhere
        .expect(1)
        .says(&["failed  message bus", "start the system bus"]);

    let Some(bus) = Bus::start("") else { return };
    let tool = Tool::new(&bus.address);
    let no_service = tool.run(&["self-check"]).await;
    no_service
        .expect(1)
        .says(&["failed  Bluetooth service", "install BlueZ"]);

    let mut none = setup(vec![]);
    none.adapters.clear();
    let daemon = Daemon::start(&bus.address, none).await;
    tool.run(&["self-check"])
        .await
        .expect(1)
        .says(&["no Bluetooth adapter", "plug in"]);
    daemon.end().await;

    let mut off = setup(vec![]);
    off.adapters = vec![("hci0", false)];
    let daemon = Daemon::start(&bus.address, off).await;
    tool.run(&["self-check"])
        .await
        .expect(1)
        .says(&["hci0 is switched off", "rfkill"]);
    let elsewhere = tool.run(&["scan", "--adapter", "hci7"]).await;
    elsewhere
        .expect(1)
        .says(&["no Bluetooth adapter \"hci7\"; there is hci0"]);
    daemon.end().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refused_permission_is_told_as_such() {
    let Some(bus) = Bus::start("") else { return };
    let daemon = Daemon::start(&bus.address, setup(vec![reference::peripheral()])).await;
    let refusal = "org.bluez.Error.NotAuthorized".to_owned();
    daemon
        .state
        .lock()
        .await
        .refuse
        .insert("StartDiscovery".to_owned(), refusal);
    let ended = Tool::new(&bus.address).run(&["scan", "--for", "1"]).await;
    ended
        .expect(1)
        .says(&["not permitted to scan", "group bluetooth"]);

    let Some(closed) = Bus::start(DENY_BLUEZ) else {
        return;
    };
    let _daemon = Daemon::start(&closed.address, setup(vec![reference::peripheral()])).await;
    let ended = Tool::new(&closed.address).run(&["self-check"]).await;
    ended
        .expect(1)
        .says(&["failed  permission to use Bluetooth", "group bluetooth"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_several_sensors_none_is_taken_by_chance() {
    let Some(bus) = Bus::start("") else { return };
    let mut second = reference::peripheral();
    second.address = "00:AA:01:01:00:09".to_owned();
    second.name = "Needlerest 0099".to_owned();
    let _daemon = Daemon::start(&bus.address, setup(vec![reference::peripheral(), second])).await;
    let tool = Tool::new(&bus.address);
    let ended = tool.run(&["self-check"]).await;
    ended.expect(1).says(&[
        "several sensors fit",
        ADDRESS,
        "00:AA:01:01:00:09",
        "--sensor",
    ]);

    let remembered = tool
        .run(&["sensors", "remember", "shed", "--sensor", "Needlerest 0099"])
        .await;
    remembered.expect(0).says(&["Needlerest 0099", "shed"]);
    tool.run(&["sensors"])
        .await
        .expect(0)
        .says(&["shed: 00:AA:01:01:00:09 (Needlerest 0099)"]);
    tool.run(&["self-check", "--sensor", "shed"])
        .await
        .expect(0)
        .says(&["00:AA:01:01:00:09"]);
    tool.run(&["sensors", "forget", "shed"]).await.expect(0);
    tool.run(&["sensors", "forget", "shed"])
        .await
        .expect(2)
        .says(&["no sensor is remembered"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sensor_that_is_not_what_its_file_says_is_told_what_it_lacks() {
    let Some(bus) = Bus::start("") else { return };
    let mut deaf = reference::peripheral();
    for service in &mut deaf.services {
        for one in &mut service.characteristics {
            if one.uuid == reference::STREAM {
                one.flags = vec!["read"];
            }
        }
        service
            .characteristics
            .retain(|one| one.uuid != reference::COMMAND);
    }
    let daemon = Daemon::start(&bus.address, setup(vec![deaf])).await;
    let ended = Tool::new(&bus.address).run(&["self-check"]).await;
    ended.expect(6).says(&[
        "a35430c2-3478-42dd-93a6-67967aa01e94 (pressure) does not notify, it offers read",
        "a35430c3-3478-42dd-93a6-67967aa01e94 (commands) is missing",
    ]);
    let state = daemon.state.lock().await;
    assert!(
        state
            .journal
            .iter()
            .any(|line| line.ends_with(" Disconnect")),
        "the link is let go"
    );
}
