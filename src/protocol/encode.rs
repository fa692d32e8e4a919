//! Samples to payloads: what a simulated or virtual sensor sends.

use super::file::ProtocolFile;
use super::layout::{Layout, Repeat};
use super::number::Raw;
use super::slot::{Slot, Value};
use super::spec::{Role, TickOf};
use crate::units::{Pressure, Rate, Temperature};

/// A sample as a sensor takes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorSample {
    /// The sensor's clock, in ticks since it was switched on, not wrapped. A sensor without a
    /// clock counts samples.
    pub tick: u64,
    /// Gauge or absolute, as the protocol file says.
    pub pressure: Pressure,
    /// Temperature.
    pub temperature: Option<Temperature>,
    /// Charge of the battery in percent.
    pub battery: Option<f64>,
    /// Status bits.
    pub status: u32,
}

/// Packs samples into messages by a protocol file. What it makes, a [`super::Decoder`] reads.
///
/// A message is a payload, or where the stream is of frames or lines of text, one of those; then
/// [`Encoder::packets`] cuts it into what one notification carries.
#[derive(Clone, Debug)]
pub struct Encoder {
    layout: Layout,
    range: (Option<Pressure>, Option<Pressure>),
    around: u64,
    tick_of: TickOf,
    tick_us: Option<f64>,
    interval: u64,
    per_packet: usize,
    max_payload: usize,
    sequence: u64,
    first: Option<SensorSample>,
    last: Option<SensorSample>,
    block: Vec<u8>,
    held: usize,
}

impl Encoder {
    /// For a sensor that follows this protocol file, with as many samples a packet as fit.
    pub fn new(file: &ProtocolFile) -> Self {
        let layout = file.layout().clone();
        let highest = layout.tick.as_ref().and_then(|slot| slot.kind.limits());
        let clock = file.spec().clock.as_ref();
        let last_tick = clock.and_then(|clock| clock.last_tick).map(i64::from);
        let last_tick = last_tick.or(highest.map(|(_, high)| high)).unwrap_or(0);
        let mut encoder = Self {
            range: (file.range_low(), file.range_high()),
            around: last_tick.unsigned_abs() + 1,
            tick_of: clock.map_or(TickOf::First, |clock| clock.tick_of),
            tick_us: file.tick_us(),
            interval: 1,
            per_packet: layout.most.max(1),
            max_payload: file.spec().stream.max_payload,
            sequence: 0,
            first: None,
            last: None,
            block: Vec::new(),
            held: 0,
            layout,
        };
        if let Some(rate) = file.rate() {
            encoder.set_rate(rate);
        }
        encoder
    }

    /// Puts at most this many samples into a packet, if the layout leaves the choice.
    #[must_use]
    pub fn with_samples_per_packet(mut self, samples: usize) -> Self {
        if !matches!(self.layout.repeat, Repeat::Fixed(_)) {
            self.per_packet = samples.clamp(1, self.layout.most.max(1));
        }
        self
    }

    /// Samples in a full packet.
    pub fn samples_per_packet(&self) -> usize {
        self.per_packet
    }

    /// Ticks from one sample to the next.
    pub fn interval(&self) -> u64 {
        self.interval
    }

    /// Sets how far apart the samples to come are; a packet under way should be taken with
    /// [`Self::finish`] before.
    pub fn set_rate(&mut self, rate: Rate) {
        if let Some(tick_us) = self.tick_us {
            let ticks = 1e6 / (rate.hz() * tick_us);
            self.interval = (ticks.round() as u64).max(1);
        }
    }

    /// Takes a sample; gives the message that is complete with it, or that ended before it because
    /// it does not follow evenly. A sample whose pressure is not a number is passed over if the
    /// layout has no way to say so.
    pub fn push(&mut self, sample: &SensorSample) -> Option<Vec<u8>> {
        let pressure = self.pressure_code(sample.pressure)?;
        let follows = |last: &SensorSample| last.tick + self.interval == sample.tick;
        let uneven = self.tick_us.is_some() && !self.last.as_ref().is_none_or(follows);
        let before = if uneven { self.finish() } else { None };
        self.first.get_or_insert(*sample);
        let status = self.last.map_or(0, |last| last.status) | sample.status;
        self.last = Some(SensorSample { status, ..*sample });
        self.write_sample(pressure, sample);
        self.held += 1;
        if self.held >= self.per_packet {
            return self.finish();
        }
        before
    }

    /// The message under way, if there is one. Where a packet always holds the same number of
    /// samples, one that is not full is dropped.
    pub fn finish(&mut self) -> Option<Vec<u8>> {
        let (first, last) = (self.first.take()?, self.last.take()?);
        let block = std::mem::take(&mut self.block);
        let samples = std::mem::take(&mut self.held);
        if let Repeat::Fixed(count) = self.layout.repeat
            && samples < count
        {
            return None;
        }
        let mut payload = self.head(&first, &last, samples);
        if self.layout.start > 0 || self.layout.head.is_empty() {
            payload.extend_from_slice(&block);
        } else {
            // The one sample stands among the other fields.
            let slot = &self.layout.pressure;
            payload[slot.at..slot.end()].copy_from_slice(&block[slot.at..slot.end()]);
        }
        self.sequence += 1;
        Some(self.dressed(payload))
    }

    /// The message as it travels: a frame with start, length and check, or a line of text.
    fn dressed(&self, payload: Vec<u8>) -> Vec<u8> {
        match (&self.layout.frame, &self.layout.pattern) {
            (Some(frame), _) => frame.close(payload),
            (_, Some(pattern)) => pattern.write(&payload),
            _ => payload,
        }
    }

    /// Cuts a message into the notifications that carry it.
    pub fn packets(&self, message: Vec<u8>) -> Vec<Vec<u8>> {
        if self.layout.frame.is_none() && self.layout.pattern.is_none() {
            return vec![message];
        }
        message
            .chunks(self.max_payload.max(1))
            .map(<[u8]>::to_vec)
            .collect()
    }

    fn head(&self, first: &SensorSample, last: &SensorSample, samples: usize) -> Vec<u8> {
        let tick = match self.tick_of {
            TickOf::First => first.tick,
            TickOf::Last => last.tick,
        };
        let mut payload = vec![0; self.layout.head_size];
        for slot in &self.layout.head {
            let whole = |value: u64| Raw::Integer((value & 0xFFFF_FFFF).cast_signed());
            let raw = match slot.role {
                Role::Sequence => whole(self.sequence % (highest(slot) + 1)),
                Role::Tick => whole(tick % self.around),
                Role::Interval => whole(self.interval.min(highest(slot))),
                Role::Count => whole(samples as u64),
                Role::Status => whole(u64::from(last.status)),
                Role::Battery => slot.code(last.battery.map_or(Value::Nothing, Value::Number)),
                Role::Temperature => slot.code(temperature(slot, last)),
                Role::Other => match slot.must_be() {
                    Some(raw) => raw,
                    None => continue,
                },
                Role::Pressure => continue,
            };
            slot.put(raw, &mut payload);
        }
        payload
    }

    fn write_sample(&mut self, pressure: Raw, sample: &SensorSample) {
        let mut bytes = vec![0; self.layout.stride];
        self.layout.pressure.put(pressure, &mut bytes);
        if let Some(slot) = &self.layout.sample_temperature {
            slot.put(slot.code(temperature(slot, sample)), &mut bytes);
        }
        self.block.extend_from_slice(&bytes);
    }

    /// The number that stands for a pressure. Beyond the range it is the code for that, if there
    /// is one. None if it is not a number and nothing can say so.
    fn pressure_code(&self, pressure: Pressure) -> Option<Raw> {
        let slot = &self.layout.pressure;
        if pressure.pa().is_nan() {
            return slot.can_be_nothing().then(|| slot.code(Value::Nothing));
        }
        let (low, high) = self.range;
        let value = if slot.has_over() && high.is_some_and(|high| pressure > high) {
            Value::Over
        } else if slot.has_under() && low.is_some_and(|low| pressure < low) {
            Value::Under
        } else {
            Value::Number(slot.of_pressure(pressure))
        };
        Some(slot.code(value))
    }
}

fn temperature(slot: &Slot, sample: &SensorSample) -> Value {
    match (sample.temperature, slot.unit) {
        (Some(temperature), Some(unit)) => Value::Number(unit.of_temperature(temperature)),
        _ => Value::Nothing,
    }
}

fn highest(slot: &Slot) -> u64 {
    slot.kind
        .limits()
        .map_or(0, |(_, high)| high.unsigned_abs())
}
