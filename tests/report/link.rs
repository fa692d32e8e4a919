//! What the outputs say of the link to the sensor.

use crate::fixture;
use needlerest::recording::Spread;
use needlerest::report::{Units, page, text};

#[test]
fn a_good_link_is_not_worth_a_line() {
    let mut good = fixture::poor_link();
    good.sensor.packets.lost = 12;
    good.sensor.packets.link_losses = 0;
    let link = good.sensor.link.as_mut().unwrap();
    link.rssi_dbm = Some(-85);
    link.drift_ppm = Some(-500.0);
    let at_most = |max| Spread {
        p50: 1000,
        p99: 250_000,
        max,
    };
    link.spacing_us = Some(at_most(1_000_000));
    link.latency_us = Some(at_most(400_000));
    let mut silent = good.clone();
    silent.sensor.link = None;
    let shown = |findings| text(findings, Units::default(), 100);
    assert_eq!(shown(&good), shown(&silent));
}

#[test]
fn a_poor_link_is_told_with_its_numbers_and_what_to_do() {
    let poor = fixture::poor_link();
    let shown = text(&poor, Units::default(), 200);
    for line in [
        "- Link to the sensor lost: 2 time(s). What was cranked meanwhile is not in the recording.",
        // 400 of 10 725 + 400.
        "- Much lost on the way from the sensor: 400 of 11125 packets (3.6 %). Keep",
        "- Weak signal from the sensor: -93 dBm. Go nearer.",
        "- Longest wait for a packet: 1834 ms, though linked.",
        "- One packet of 100 came late by more than: 310 ms. The word to stop cranking came as late.",
        "- The sensor's clock is off by: -812 parts per million, more than Bluetooth allows.",
    ] {
        assert!(shown.contains(line), "\"{line}\" is not in:\n{shown}");
    }
    // The page's numbers are held against the findings with those of every other fixture.
    let html = page(&poor, &[], Units::default()).unwrap();
    for pointer in [
        "packets/link_losses",
        "link/rssi_dbm",
        "link/spacing_us/max",
        "link/latency_us/p99",
        "link/drift_ppm",
    ] {
        let escaped = format!("/sensor/{pointer}").replace('/', "&#x2f;");
        assert!(html.contains(&escaped), "{pointer} is not on the page");
    }
}
