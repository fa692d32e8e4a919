//! A protocol file tried out: a virtual sensor packs samples as the file says, and they are read
//! back as a live sensor's would be; and what a reader of the file would miss.

use crate::engine::rating;
use crate::protocol::{Decoder, Encoder, ProtocolFile, RawSample, Reference, Role, SensorSample};
use crate::units::{Pressure, PressureUnit, Rate, Time};

/// Samples that are packed and read back.
const SAMPLES: u64 = 1000;

/// What came of packing and reading back.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub(super) struct Trial {
    /// Payloads made.
    pub(super) packets: u64,
    /// Bytes of the longest.
    pub(super) longest: usize,
    /// Samples read back.
    pub(super) samples: usize,
    /// Largest difference between what was packed and what was read, in pascal.
    pub(super) worst_pa: f64,
    /// It is no larger than the file's own steps explain.
    pub(super) alike: bool,
}

/// Packs an even ramp over the sensor's range and reads it back.
pub(super) fn trial(file: &ProtocolFile) -> Trial {
    let (low, high) = range(file);
    let mut encoder = Encoder::new(file);
    let mut decoder = Decoder::new(file);
    let hz = file.rate().map_or(100.0, Rate::hz);
    let step = if file.tick_us().is_some() {
        encoder.interval()
    } else {
        1
    };
    let mut read: Vec<RawSample> = Vec::new();
    let (mut packets, mut longest) = (0, 0);
    if file.spec().stream.text.is_some() {
        // As if it had been listened to for a while: the first line is a whole one.
        decoder.decode(Time::ZERO, b"\n", &mut read);
    }
    for number in 0..SAMPLES {
        let sample = SensorSample {
            tick: number * step,
            pressure: ramp(low, high, number),
            temperature: None,
            battery: None,
            status: 0,
        };
        let message = encoder.push(&sample).into_iter();
        for payload in message.flat_map(|whole| encoder.packets(whole)) {
            packets += 1;
            longest = longest.max(payload.len());
            let arrived = Time::from_s(number as f64 / hz);
            decoder.decode(arrived, &payload, &mut read);
        }
    }
    decoder.flush(&mut read);
    let told = (0..).map(|number| ramp(low, high, number));
    let apart = read.iter().zip(told);
    let worst_pa = apart
        .map(|(sample, told)| (sample.pressure - told).pa().abs())
        .fold(0.0, f64::max);
    // A thousandth of the range for formats whose steps grow with the number.
    let steps = file.resolution().map_or(0.0, Pressure::pa);
    let bound = steps.max((high - low).pa() * 1e-3);
    Trial {
        packets,
        longest,
        samples: read.len(),
        worst_pa,
        alike: worst_pa <= bound && !read.is_empty(),
    }
}

/// The range to try: the file's, else what an engine can make.
fn range(file: &ProtocolFile) -> (Pressure, Pressure) {
    let from = match file.reference() {
        Reference::Gauge => Pressure::ZERO,
        Reference::Absolute => Pressure::ATMOSPHERE,
    };
    (
        file.range_low().unwrap_or(from),
        file.range_high()
            .unwrap_or(from + Pressure::from_kpa(2000.0)),
    )
}

/// Within the ends, which may be told as "beyond the range".
fn ramp(low: Pressure, high: Pressure, number: u64) -> Pressure {
    let share = 0.01 + 0.98 * number as f64 / SAMPLES as f64;
    low + (high - low) * share
}

/// What the file does not say, or the sensor cannot do, and what that costs.
pub(super) fn lacking(file: &ProtocolFile) -> Vec<String> {
    let fields = &file.spec().stream.fields;
    let has = |role: Role| fields.iter().any(|field| field.role == role);
    let mut said = Vec::new();
    if !has(Role::Sequence) {
        said.push(
            "no field of role sequence: lost packets cannot be seen; one byte that counts \
             packets is enough"
                .to_owned(),
        );
    }
    if file.tick_us().is_none() {
        said.push(
            "no clock: samples are timed by when their packet arrives, which the radio shifts \
             by tens of milliseconds; a field of role tick mends that"
                .to_owned(),
        );
    }
    said.extend(check(file));
    said.extend(rate(file));
    said.extend(bears(file));
    if file.accuracy().is_none() {
        said.push(
            "no accuracy: readings carry no uncertainty for the sensor's own error, and say so"
                .to_owned(),
        );
    }
    said
}

/// Frames and lines that nothing checks.
fn check(file: &ProtocolFile) -> Option<String> {
    let stream = &file.spec().stream;
    let text = stream.text.as_ref().map(|text| text.check.is_none());
    let frame = stream.frame.as_ref().map(|frame| frame.check.is_none());
    text.or(frame)?.then(|| {
        "no check: where bytes are lost on the way, two halves can be taken for one reading"
            .to_owned()
    })
}

/// Half a sample step beside the peak at 250 turns a minute, a four-stroke cylinder of 500 cm³ and
/// 10:1 (calculated from slider-crank geometry and a polytropic exponent of 1.3).
const MISSED: [(f64, &str); 4] = [
    (25.0, "more than half"),
    (50.0, "up to 22 %"),
    (100.0, "up to 6.5 %"),
    (200.0, "up to 1.7 %"),
];

fn rate(file: &ProtocolFile) -> Option<String> {
    let Some(rate) = file.rate() else {
        return Some("no rate_hz: whether the sensor is quick enough is found out late".to_owned());
    };
    let fastest = file.settable_rates().map_or(rate, |(_, fastest)| fastest);
    let (_, missed) = MISSED
        .iter()
        .rev()
        .find(|(hz, _)| fastest.hz() >= *hz)
        .or(MISSED.first())?;
    (fastest.hz() < 200.0).then(|| {
        format!(
            "{} samples a second: without a check valve {missed} of a peak is missed when an \
             engine is cranked at 250 turns a minute (calculated); use it behind a check valve",
            fastest.hz()
        )
    })
}

/// What the range means for whoever cranks, by the rule that a visit keeps to.
fn bears(file: &ProtocolFile) -> Option<String> {
    let Some(top) = file.gauge_top() else {
        return Some(
            "no range_high: what the sensor bears is not known. A visit to a diesel is refused, \
             every other is warned, and a reading at the end of the range is not noticed"
                .to_owned(),
        );
    };
    (!rating::bears_a_diesel(top)).then(|| {
        format!(
            "a range up to {} above the air around: a visit to a diesel is refused, which makes 30 \
             to 40 bar and more (common practice, no source)",
            top.show(PressureUnit::Bar)
        )
    })
}
