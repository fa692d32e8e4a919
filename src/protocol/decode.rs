//! Payloads to samples.

use super::clock::{HostClock, Span, Stamp, TickClock};
use super::counts::PacketCounts;
use super::file::ProtocolFile;
use super::layout::{Layout, Repeat, reading_slot};
use super::limits;
use super::order::{Kept, Order, Place};
use super::plain::PlainBlock;
use super::sample::RawSample;
use super::slot::{Slot, Value};
use super::spec::{Clock, Role};
use super::wire::{Assembler, Item};
use crate::units::{Pressure, Temperature, Time};

/// Turns the payloads of one sensor into samples. Memory is bounded: at most three packets are
/// held back, for a quarter of a second, while one before them may still come.
#[derive(Clone, Debug)]
pub struct Decoder {
    layout: Layout,
    assembler: Option<Assembler>,
    /// What the last packet completed; kept for its room.
    items: Vec<Item>,
    /// When the last packet came, and the last one that completed something.
    came: Time,
    before: Option<Time>,
    plain: Option<PlainBlock>,
    readings: Vec<(String, Slot)>,
    known_status: u32,
    range: (Option<Pressure>, Option<Pressure>),
    period: Time,
    clock: SampleClock,
    order: Option<Order>,
    counts: PacketCounts,
    battery: Option<f64>,
    status: Option<u32>,
    temperature: Option<Temperature>,
    /// The bytes of the last head that told of these, most of which are like the ones before, …
    told: Vec<u8>,
    /// … and whether they hold status bits that the protocol file does not know.
    told_unknown: bool,
    gap: bool,
    last_time: Option<Time>,
}

#[derive(Clone, Debug)]
enum SampleClock {
    Sensor(TickClock),
    Host(HostClock),
}

/// Least distance between two samples.
const APART: Time = Time::from_s(1e-6);
/// Up to this time (three years) rounding is far below [`APART`].
const LONGEST: Time = Time::from_s(1e8);

impl Decoder {
    /// For a sensor that follows this protocol file.
    pub fn new(file: &ProtocolFile) -> Self {
        let layout = file.layout().clone();
        let highest = |slot: &Slot| slot.kind.limits().map_or(0, |(_, high)| high);
        let clock = match (&file.spec().clock, &layout.tick) {
            (Some(clock), Some(slot)) => SampleClock::Sensor(tick_clock(clock, highest(slot))),
            _ => SampleClock::Host(HostClock::default()),
        };
        let readings = &file.spec().readings;
        Self {
            readings: readings
                .iter()
                .map(|reading| (reading.from.clone(), reading_slot(reading)))
                .collect(),
            assembler: Assembler::new(file.spec(), &layout),
            items: Vec::new(),
            came: Time::ZERO,
            before: None,
            plain: PlainBlock::new(&layout, file.range_high()),
            known_status: file.known_status(),
            range: (file.range_low(), file.range_high()),
            period: Time::from_s(file.rate().map_or(0.0, |rate| 1.0 / rate.hz())),
            clock,
            order: layout
                .sequence
                .as_ref()
                .map(|slot| Order::new(highest(slot))),
            counts: PacketCounts::default(),
            battery: None,
            status: None,
            temperature: None,
            told: Vec::new(),
            told_unknown: false,
            gap: false,
            last_time: None,
            layout,
        }
    }

    /// Gives up the quick way, to compare it with the general one.
    #[cfg(test)]
    pub(super) fn read_generally(&mut self) {
        self.plain = None;
    }

    /// Takes a packet of any characteristic: `from` is what recordings call it. One that the
    /// protocol file does not know is passed over.
    pub fn accept(&mut self, from: &str, arrived: Time, payload: &[u8], out: &mut Vec<RawSample>) {
        if from == super::STREAM {
            self.decode(arrived, payload, out);
        } else {
            self.reading(from, payload);
        }
    }

    /// Takes a packet of the stream and appends the samples that are ready to `out`. `arrived` is
    /// the host's monotonic time.
    pub fn decode(&mut self, arrived: Time, payload: &[u8], out: &mut Vec<RawSample>) {
        self.counts.received += 1;
        let Some(assembler) = &mut self.assembler else {
            self.message(arrived, payload, out);
            return;
        };
        self.came = arrived;
        let mut items = std::mem::take(&mut self.items);
        assembler.take(payload, &mut items);
        self.messages(arrived, &items, out);
        items.clear();
        self.items = items;
    }

    /// Takes what a packet completed. Where the host's clock must tell when samples were taken,
    /// the last of them is as old as the packet, and those before it lie a sample's time apart,
    /// or closer where the packet before came less long ago.
    fn messages(&mut self, arrived: Time, items: &[Item], out: &mut Vec<RawSample>) {
        let samples = |item: &Item| match item {
            Item::Message { payload, .. } => self.layout.samples_that_fit(payload),
            _ => 0,
        };
        let mut after: usize = items.iter().map(samples).sum();
        let room = self
            .before
            .map(|before| (arrived - before).max(Time::ZERO) / after.max(1) as f64);
        let step = room.map_or(self.period, |room| room.min(self.period));
        for item in items {
            match item {
                Item::Message { payload, .. } => {
                    after -= self.layout.samples_that_fit(payload);
                    self.message(arrived - step * after as f64, payload, out);
                }
                other => self.trouble(other),
            }
        }
        if !items.is_empty() {
            self.before = Some(arrived);
        }
    }

    /// What came and is no message.
    fn trouble(&mut self, item: &Item) {
        let gap = match item {
            Item::Message { .. } => false,
            Item::Spoilt { .. } => {
                self.counts.spoilt += 1;
                true
            }
            Item::Unread { gap, .. } => {
                self.counts.unread += 1;
                *gap
            }
            Item::Skipped { bytes } => {
                self.counts.skipped_bytes += *bytes as u64;
                true
            }
        };
        self.gap |= gap && self.last_time.is_some();
    }

    /// Takes a message: a whole payload, a frame, a line.
    fn message(&mut self, arrived: Time, payload: &[u8], out: &mut Vec<RawSample>) {
        if !self.layout.is_about_pressure(payload) {
            self.counts.other_kind += 1;
            return;
        }
        let (Some(slot), Some(order)) = (&self.layout.sequence, &mut self.order) else {
            self.emit(arrived, payload, false, out);
            return;
        };
        let Some(sequence) = slot.count(payload) else {
            self.counts.short += 1;
            self.gap = true;
            return;
        };
        match order.place(sequence) {
            Place::Next => {
                // A packet that fills a gap was under way no longer than the ones after it.
                let since = order.waiting_since();
                let follows = order.is_under_way();
                self.counts.reordered += u64::from(order.is_waiting());
                order.advance_past(sequence);
                let arrived = since.map_or(arrived, |since| since.min(arrived));
                self.emit(arrived, payload, follows, out);
                self.release(false, out);
            }
            Place::Ahead(ahead) => match order.hold(ahead, arrived, payload) {
                Kept::Already => self.counts.repeated += 1,
                kept => {
                    self.counts.reordered += u64::from(kept == Kept::Before);
                    // In a stream of bytes nothing comes out of order.
                    let wait = self.assembler.is_none() && order.worth_waiting(arrived);
                    self.release(!wait, out);
                }
            },
            Place::Behind => self.counts.repeated += 1,
            Place::Elsewhere => {
                self.release(true, out);
                self.counts.restarts += 1;
                self.begin_anew();
                if let Some(order) = &mut self.order {
                    order.advance_past(sequence);
                }
                self.emit(arrived, payload, false, out);
            }
        }
    }

    /// Takes a packet of another characteristic: battery, temperature.
    fn reading(&mut self, from: &str, payload: &[u8]) {
        let Some((_, slot)) = self.readings.iter().find(|(name, _)| name == from) else {
            return;
        };
        if slot.end() > payload.len() {
            self.counts.short += 1;
            return;
        }
        // The next packet's head has its say again.
        self.told.clear();
        match (slot.role, slot.read(payload)) {
            (Role::Battery, Value::Number(percent)) => self.battery = Some(percent),
            (Role::Temperature, _) => {
                self.temperature = slot.temperature(payload).or(self.temperature);
            }
            _ => {}
        }
    }

    /// The link was lost: what is held back is given out, and the next packet begins anew.
    pub fn link_lost(&mut self, out: &mut Vec<RawSample>) {
        self.let_out(Assembler::begin_anew, out);
        self.release(true, out);
        self.counts.link_losses += 1;
        self.begin_anew();
        if let SampleClock::Sensor(clock) = &mut self.clock {
            clock.link_lost();
        }
    }

    /// Gives out what is held back: nothing more will come.
    pub fn flush(&mut self, out: &mut Vec<RawSample>) {
        self.let_out(Assembler::give_up, out);
        self.release(true, out);
    }

    /// Takes what the assembler gives out when nothing comes after what it holds.
    fn let_out(
        &mut self,
        how: impl FnOnce(&mut Assembler, &mut Vec<Item>),
        out: &mut Vec<RawSample>,
    ) {
        let Some(assembler) = &mut self.assembler else {
            return;
        };
        let mut items = Vec::new();
        how(assembler, &mut items);
        self.messages(self.came, &items, out);
    }

    /// What has been counted so far.
    pub fn counts(&self) -> PacketCounts {
        self.counts
    }

    /// Whether samples are timed by the host's clock, as the sensor has none; otherwise the first
    /// sample is at zero.
    pub fn is_on_host_clock(&self) -> bool {
        matches!(self.clock, SampleClock::Host(_))
    }

    /// Charge of the sensor's battery in percent, as last told.
    pub fn battery(&self) -> Option<f64> {
        self.battery
    }

    /// Status bits as last told; [`ProtocolFile::status_bits`] says what they mean.
    pub fn status(&self) -> Option<u32> {
        self.status
    }

    fn begin_anew(&mut self) {
        self.gap = self.last_time.is_some();
        if let Some(order) = &mut self.order {
            order.begin_anew();
        }
    }

    /// Gives out held packets whose turn it is; with `force`, all of them.
    fn release(&mut self, force: bool, out: &mut Vec<RawSample>) {
        while let Some(released) = self.order.as_mut().and_then(|order| order.release(force)) {
            self.counts.lost += released.lost;
            self.gap |= released.lost > 0;
            let packet = released.packet;
            self.emit(packet.arrived, &packet.payload, released.lost == 0, out);
        }
    }

    /// Decodes a packet whose turn it is.
    fn emit(&mut self, arrived: Time, payload: &[u8], consecutive: bool, out: &mut Vec<RawSample>) {
        let Some(samples) = self.samples_in(payload) else {
            self.counts.short += 1;
            self.gap = true;
            return;
        };
        self.note_head(payload);
        let span = self.span(arrived, payload, samples, consecutive);
        if span.anew {
            self.counts.restarts += 1;
            self.gap = true;
        }
        if self.is_in_step(span, samples) && self.append_plain(payload, samples, span, out) {
            return;
        }
        for index in 0..samples {
            let start = self.layout.start + index * self.layout.stride;
            let sample = payload.get(start..).unwrap_or_default();
            self.sample(span.first + span.step * index as f64, sample, out);
        }
    }

    /// Whether samples at these times come in order and apart, after the last one, so that none
    /// has to be moved.
    fn is_in_step(&self, span: Span, samples: usize) -> bool {
        let end = span.first + span.step * samples as f64;
        let after = self.last_time.is_none_or(|last| span.first >= last + APART);
        let exact = span.first.abs().max(end.abs()) < LONGEST;
        samples > 0 && span.step >= APART * 2.0 && after && exact
    }

    /// Gives out the samples of a packet without anything special; false if it is not of that
    /// kind.
    fn append_plain(
        &mut self,
        payload: &[u8],
        samples: usize,
        span: Span,
        out: &mut Vec<RawSample>,
    ) -> bool {
        let (start, stride) = (self.layout.start, self.layout.stride);
        let block = payload.get(start..start + samples * stride);
        let (Some(plain), Some(block)) = (&self.plain, block) else {
            return false;
        };
        let first = out.len();
        if !plain.read(block, span, self.temperature, out) {
            return false;
        }
        if let Some(first) = out.get_mut(first) {
            first.gap_before = std::mem::take(&mut self.gap);
        }
        self.counts.samples += samples as u64;
        self.last_time = out.last().map(|last| last.time);
        true
    }

    /// How many samples a payload holds; none if it is too short for what it should hold.
    fn samples_in(&mut self, payload: &[u8]) -> Option<usize> {
        let layout = &self.layout;
        let room = payload.len().checked_sub(layout.head_size)?;
        let fit = (payload.len() - layout.start) / layout.stride;
        let samples = match layout.repeat {
            Repeat::Fixed(count) => count,
            Repeat::ToTheEnd => fit,
            Repeat::Counted => {
                let count = layout.count.as_ref().and_then(|slot| slot.count(payload));
                usize::try_from(count?).ok()?
            }
        };
        if samples > fit || (samples == 0 && room > 0 && layout.repeat == Repeat::ToTheEnd) {
            return None;
        }
        let used = layout.start + samples * layout.stride;
        self.counts.long += u64::from(payload.len() > used.max(layout.head_size));
        Some(samples)
    }

    /// Battery, status and temperature of the packet, read where they are not the last one's.
    fn note_head(&mut self, payload: &[u8]) {
        let layout = &self.layout;
        let tells = payload.get(layout.tells.clone()).unwrap_or_default();
        if tells != self.told || tells.is_empty() {
            self.told.clear();
            self.told.extend_from_slice(tells);
            if let Some(Value::Number(percent)) = layout.battery.as_ref().map(|s| s.read(payload)) {
                self.battery = Some(percent);
            }
            let status = layout.status.as_ref().and_then(|slot| slot.count(payload));
            let status = status.map(|status| status as u32);
            self.status = status.or(self.status);
            self.told_unknown = status.is_some_and(|status| status & !self.known_status != 0);
            let temperature = layout
                .temperature
                .as_ref()
                .and_then(|s| s.temperature(payload));
            self.temperature = temperature.or(self.temperature);
        }
        self.counts.unknown_status += u64::from(self.told_unknown);
    }

    fn span(&mut self, arrived: Time, payload: &[u8], samples: usize, consecutive: bool) -> Span {
        let count = |slot: &Option<Slot>| slot.as_ref().and_then(|slot| slot.count(payload));
        let (tick, interval) = (count(&self.layout.tick), count(&self.layout.interval));
        let mut stamp = Stamp {
            arrived,
            tick: tick.unwrap_or(0),
            samples,
            step: self.period,
            consecutive,
        };
        match &mut self.clock {
            SampleClock::Sensor(clock) => {
                if let Some(ticks) = interval {
                    stamp.step = clock.length(ticks);
                }
                clock.span(stamp)
            }
            SampleClock::Host(clock) => clock.span(stamp),
        }
    }

    /// Decodes one sample. One that holds no number is left out, and leaves a gap.
    fn sample(&mut self, time: Time, bytes: &[u8], out: &mut Vec<RawSample>) {
        let (pressure, out_of_range) = self.pressure(bytes);
        self.counts.out_of_range += u64::from(out_of_range);
        let Some(pressure) = pressure else {
            self.gap = true;
            return;
        };
        let own = self.layout.sample_temperature.as_ref();
        let time = self.last_time.map_or(time, |last| time.max(last + APART));
        self.last_time = Some(time);
        self.counts.samples += 1;
        out.push(RawSample {
            time,
            pressure,
            temperature: own
                .and_then(|slot| slot.temperature(bytes))
                .or(self.temperature),
            out_of_range,
            gap_before: std::mem::take(&mut self.gap),
        });
    }

    /// The pressure of a sample, if it holds one, and whether it is out of range or no number.
    fn pressure(&self, bytes: &[u8]) -> (Option<Pressure>, bool) {
        let slot = &self.layout.pressure;
        let Some(raw) = slot.raw(bytes) else {
            return (None, true);
        };
        let (low, high) = self.range;
        let pressure = match slot.value(raw) {
            Value::Number(value) => slot.pressure(value),
            Value::Over => return (high.or_else(|| slot.edge(true)), true),
            Value::Under => return (low.or_else(|| slot.edge(false)), true),
            Value::Nothing => return (None, true),
        };
        if !pressure.is_finite() || pressure.pa().abs() > limits::PRESSURE_PA {
            return (None, true);
        }
        let at_end = high.is_some_and(|high| pressure >= high) || slot.is_saturated(raw);
        (Some(pressure), at_end)
    }
}

fn tick_clock(clock: &Clock, highest: i64) -> TickClock {
    let last = clock.last_tick.map_or(highest, i64::from);
    TickClock::new(clock.tick_us, last + 1, clock.tick_of)
}
