//! Where the link to the sensor was poor: the same words in every output. A good link is not
//! worth a line.

use super::view::Number;
use crate::pipeline::Findings;
use crate::recording::LinkQuality;

/// Lost packets worth telling, as a share of all (common practice, no source).
const MUCH_LOST: f64 = 0.01;
/// A signal worth telling, in dBm (common practice, no source). Every receiver must hear down to
/// -70 dBm (Bluetooth Core Specification, Volume 6, Part A, section 4.1, from memory); those that
/// are sold hear some 20 dB less.
const WEAK_DBM: i16 = -85;
/// A wait from one packet to the next worth telling, in microseconds (common practice, no source).
const LONG_WAIT_US: u64 = 1_000_000;
/// Lateness worth telling, in microseconds: half the time between strokes of a four-stroke engine
/// at 240 turns a minute (common practice, no source).
const LATE_US: u64 = 250_000;
/// The worst clock that the standard allows, in parts per million (Bluetooth Core Specification,
/// Volume 6, Part B, section 4.2.2, from memory).
const DRIFT_PPM: f64 = 500.0;

/// Something poor about the link.
pub(super) struct Poor {
    /// What it is.
    pub label: &'static str,
    /// How much.
    pub number: Number,
    /// Of what, and what to do.
    pub after: String,
}

impl Poor {
    fn new(label: &'static str, number: Number, after: impl Into<String>) -> Self {
        Self {
            label,
            number,
            after: after.into(),
        }
    }

    /// In one line of text.
    pub fn line(&self) -> String {
        format!("{}: {} {}", self.label, self.number.text, self.after)
    }
}

/// What was poor about the link; nothing if it was good, or not live.
pub(super) fn poor(findings: &Findings) -> Vec<Poor> {
    let packets = &findings.sensor.packets;
    let mut poor = Vec::new();
    if packets.link_losses > 0 {
        let from = "/sensor/packets/link_losses".to_owned();
        poor.push(Poor::new(
            "Link to the sensor lost",
            Number::plain(packets.link_losses as f64, 0, from),
            "time(s). What was cranked meanwhile is not in the recording",
        ));
    }
    let all = (packets.received + packets.lost) as f64;
    let share = packets.lost as f64 / all.max(1.0);
    if share > MUCH_LOST {
        let from = "/sensor/packets/lost".to_owned();
        poor.push(Poor::new(
            "Much lost on the way from the sensor",
            Number::plain(packets.lost as f64, 0, from),
            format!(
                "of {all:.0} packets ({:.1} %). Keep phone or computer near it, no metal between",
                share * 100.0
            ),
        ));
    }
    poor.extend(findings.sensor.link.iter().flat_map(live));
    poor
}

fn live(link: &LinkQuality) -> Vec<Poor> {
    let at = |name: &str| format!("/sensor/link/{name}");
    let milli = |us: u64, name: &str| Number {
        text: format!("{:.0}", us as f64 * 1e-3),
        value: us as f64,
        from: at(name),
    };
    let weak = link.rssi_dbm.filter(|dbm| *dbm < WEAK_DBM).map(|dbm| {
        Poor::new(
            "Weak signal from the sensor",
            Number::plain(f64::from(dbm), 0, at("rssi_dbm")),
            "dBm. Go nearer",
        )
    });
    let waited = link.spacing_us.filter(|spread| spread.max > LONG_WAIT_US);
    let waited = waited.map(|spread| {
        Poor::new(
            "Longest wait for a packet",
            milli(spread.max, "spacing_us/max"),
            "ms, though linked. Go nearer; keep other radios away",
        )
    });
    let late = link.latency_us.filter(|spread| spread.p99 > LATE_US);
    let late = late.map(|spread| {
        Poor::new(
            "One packet of 100 came late by more than",
            milli(spread.p99, "latency_us/p99"),
            "ms. The word to stop cranking came as late",
        )
    });
    let drift = link.drift_ppm.filter(|ppm| ppm.abs() > DRIFT_PPM);
    let drift = drift.map(|ppm| {
        Poor::new(
            "The sensor's clock is off by",
            Number::plain(ppm, 0, at("drift_ppm")),
            "parts per million, more than Bluetooth allows. Times and cranking speeds are off as \
             much; see that its protocol file states the clock's tick rightly",
        )
    });
    weak.into_iter()
        .chain(waited)
        .chain(late)
        .chain(drift)
        .collect()
}
