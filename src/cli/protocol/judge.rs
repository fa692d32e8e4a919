//! What was heard of a sensor, held against its protocol file. No radio here.

use crate::protocol::{Decoder, PacketCounts, ProtocolFile, RawSample, Role};
use crate::recording::Packet;
use crate::transport::TransportError;
use crate::units::{Pressure, Rate, Time, median};
use std::time::Duration;

/// How far a rate may be off.
const RATE_OFF: f64 = 0.02;
/// How far a sensor's clock may be off, as a share: an uncompensated crystal is better by ten
/// (common practice, no source).
const CLOCK_OFF: f64 = 500e-6;
/// What a notification's way through the air adds to a stretch of time measured by its ends, in
/// seconds.
const AIR_S: f64 = 0.1;

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Verdict {
    pub what: String,
    /// None: not promised, or not to be judged.
    pub passed: Option<bool>,
    pub found: String,
}

impl Verdict {
    fn new(what: &str, passed: bool, found: String) -> Self {
        Self {
            what: what.to_owned(),
            passed: Some(passed),
            found,
        }
    }

    pub(super) fn not_promised(what: &str) -> Self {
        Self {
            what: what.to_owned(),
            passed: None,
            found: "not promised by the protocol file".to_owned(),
        }
    }

    pub(super) fn refused(what: &str, error: &TransportError) -> Self {
        Self::new(what, false, format!("the command was not taken: {error}"))
    }
}

/// What was heard in one go.
pub(super) struct Heard {
    packets: Vec<Packet>,
    samples: Vec<RawSample>,
    counts: PacketCounts,
    status: Option<u32>,
}

impl Heard {
    pub(super) fn new(file: &ProtocolFile, packets: Vec<Packet>) -> Self {
        let (mut decoder, mut samples) = (Decoder::new(file), Vec::new());
        for packet in &packets {
            let arrived = Time::from_us(packet.t_us);
            decoder.decode(arrived, &packet.hex, &mut samples);
        }
        decoder.flush(&mut samples);
        Self {
            counts: decoder.counts(),
            status: decoder.status(),
            packets,
            samples,
        }
    }

    /// Samples a second, by the times that samples carry.
    fn rate(&self) -> Option<f64> {
        let length = (self.samples.last()?.time - self.samples.first()?.time).s();
        (length > 0.0).then(|| (self.samples.len() - 1) as f64 / length)
    }

    /// From the first packet to the last, by the host's clock, in seconds.
    fn host_s(&self) -> f64 {
        match (self.packets.first(), self.packets.last()) {
            (Some(first), Some(last)) => (last.t_us - first.t_us) as f64 * 1e-6,
            _ => 0.0,
        }
    }
}

pub(super) fn services(lacking: &[String]) -> Verdict {
    let found = match lacking {
        [] => "all that the protocol file names".to_owned(),
        some => some.join("; "),
    };
    Verdict::new("services", lacking.is_empty(), found)
}

pub(super) fn silent_before_start(packets: usize) -> Verdict {
    Verdict::new(
        "waits for start",
        packets == 0,
        format!("{packets} notifications before the command"),
    )
}

pub(super) fn started(packets: usize, within: Duration) -> Verdict {
    let found = format!(
        "{packets} notifications in the first {} s",
        within.as_secs()
    );
    Verdict::new("starts", packets > 0, found)
}

pub(super) fn stopped(packets: usize, within: Duration) -> Verdict {
    let found = format!("{packets} notifications in {} s after it", within.as_secs());
    Verdict::new("stop", packets == 0, found)
}

/// Layout, packet numbers, rate and clock of a longer stretch.
pub(super) fn stream(file: &ProtocolFile, heard: &Heard) -> Vec<Verdict> {
    let counts = heard.counts;
    let spoilt = counts.short + counts.long + counts.spoilt + counts.unread + counts.unknown_status;
    let mut verdicts = vec![Verdict::new(
        "layout",
        spoilt == 0 && counts.samples > 0,
        format!(
            "{} samples in {} packets; too short {}, bytes left over {}, checks failed {}, lines \
             that do not fit {}, unknown status bits {}",
            counts.samples,
            counts.received,
            counts.short,
            counts.long,
            counts.spoilt,
            counts.unread,
            counts.unknown_status
        ),
    )];
    verdicts.push(numbers(file, counts));
    verdicts.push(match file.rate() {
        Some(rate) => self::rate("rate", rate, heard),
        None => Verdict::not_promised("rate"),
    });
    verdicts.push(clock(file, heard));
    verdicts
}

fn numbers(file: &ProtocolFile, counts: PacketCounts) -> Verdict {
    let what = "packet numbers";
    let fields = &file.spec().stream.fields;
    if !fields.iter().any(|field| field.role == Role::Sequence) {
        return Verdict::not_promised(what);
    }
    let wrong = counts.lost + counts.repeated + counts.reordered + counts.restarts;
    let found = format!(
        "missing {}, repeated {}, out of order {}, begun anew {}",
        counts.lost, counts.repeated, counts.reordered, counts.restarts
    );
    Verdict::new(what, wrong == 0 && counts.received > 1, found)
}

pub(super) fn rate(what: &str, wanted: Rate, heard: &Heard) -> Verdict {
    match heard.rate() {
        None => Verdict::new(what, false, "too few samples to tell".to_owned()),
        Some(hz) => Verdict::new(
            what,
            (hz / wanted.hz() - 1.0).abs() <= RATE_OFF,
            format!("{hz:.1} samples a second, {} wanted", wanted.hz()),
        ),
    }
}

/// The sensor's clock against the host's, as well as a stretch of this length can tell.
fn clock(file: &ProtocolFile, heard: &Heard) -> Verdict {
    let what = "clock";
    if file.tick_us().is_none() {
        return Verdict::not_promised(what);
    }
    let (Some(first), Some(last)) = (heard.samples.first(), heard.samples.last()) else {
        return Verdict::new(what, false, "no samples".to_owned());
    };
    let (host_s, sensor_s) = (heard.host_s(), (last.time - first.time).s());
    // The first packet's samples were taken before it came.
    let packet_s = file.most_samples() as f64 / heard.rate().unwrap_or(f64::INFINITY);
    let off_s = (sensor_s - host_s).abs();
    let bound_s = CLOCK_OFF * host_s + AIR_S + packet_s;
    let in_order = heard.counts.restarts == 0;
    Verdict::new(
        what,
        in_order && off_s <= bound_s,
        format!(
            "{sensor_s:.3} s by the sensor, {host_s:.3} s here; up to {bound_s:.3} s apart is as \
             good as can be told"
        ),
    )
}

/// After zero the pressure lies within the sensor's accuracy, or ten of its steps, of 0.
pub(super) fn zero(file: &ProtocolFile, heard: &Heard) -> Verdict {
    let what = "zero";
    let mut pressures: Vec<f64> = heard.samples.iter().map(|s| s.pressure.pa()).collect();
    let Some(middle) = median(&mut pressures) else {
        return Verdict::new(what, false, "nothing came after it".to_owned());
    };
    let steps = file.resolution().map_or(0.0, |step| 10.0 * step.pa());
    let bound = file.accuracy().map_or(steps, |a| a.pa().max(steps));
    let bits = &file.spec().status_bits;
    let bit = bits
        .iter()
        .find(|bit| bit.meaning == "zero was set by command");
    let told = bit.is_none_or(|bit| {
        heard
            .status
            .is_some_and(|status| status >> bit.bit & 1 == 1)
    });
    let said = match (bit, told) {
        (None, _) => "",
        (Some(_), true) => ", and its status says so",
        (Some(_), false) => ", but its status does not say so",
    };
    let kpa = |pa: f64| Pressure::from_pa(pa).kpa();
    let found = format!(
        "{:.3} kPa after it, {:.3} at most{said}",
        kpa(middle),
        kpa(bound)
    );
    Verdict::new(what, middle.abs() <= bound && told, found)
}
