//! Writes what arrives, before anything else is done with it; then looks at it.

use crate::protocol::{Decoder, ProtocolFile, RawSample, STREAM, Severity, StatusBit};
use crate::recording::{
    Event, LinkQuality, Packet, Seal, Sink, StallWatch, TimedEvent, WriteError, Writer,
};
use crate::transport::{Arrival, LinkMeter, Notice};
use crate::units::{Pressure, Time};

/// Charge below which the user is told to charge the sensor, in percent.
const LOW_BATTERY: f64 = 15.0;

/// Something the user should be told, once.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::cli) enum Told {
    /// Good to know.
    Note(String),
    /// Something is wrong.
    Warning(String),
}

/// What the screen shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::cli) struct Now {
    /// The last reading, as the sensor tells it.
    pub pressure: Option<Pressure>,
    /// Charge of the battery in percent.
    pub battery: Option<f64>,
    /// How the link does.
    pub link: LinkQuality,
    /// Samples so far.
    pub samples: u64,
    /// Frames or lines whose check failed.
    pub spoilt: u64,
    /// Time without a link, over all its losses that ended, in microseconds.
    pub away_us: u64,
}

/// Writes and looks. When writing fails the user is told, and looking goes on.
pub(in crate::cli) struct Recorder<S> {
    writer: Writer<S>,
    failed: Option<WriteError>,
    stall: StallWatch,
    protocol: ProtocolFile,
    decoder: Decoder,
    meter: LinkMeter,
    samples: Vec<RawSample>,
    pressure: Option<Pressure>,
    status: u32,
    battery_told: bool,
    spoilt_told: bool,
    clocked: bool,
    lost_at_us: Option<u64>,
    away_us: u64,
}

impl<S: Sink> Recorder<S> {
    pub(in crate::cli) fn new(writer: Writer<S>, protocol: ProtocolFile) -> Self {
        Self {
            writer,
            failed: None,
            stall: StallWatch::default(),
            decoder: Decoder::new(&protocol),
            meter: LinkMeter::new(),
            samples: Vec::new(),
            pressure: None,
            status: 0,
            battery_told: false,
            spoilt_told: false,
            clocked: protocol.tick_us().is_some(),
            lost_at_us: None,
            away_us: 0,
            protocol,
        }
    }

    /// Writes an arrival, then looks at it; gives what the user should be told.
    pub(in crate::cli) fn take(&mut self, arrival: &Arrival) -> Vec<Told> {
        let (failure, mut told) = match arrival {
            Arrival::Packet(packet) => {
                let failure = self.keep(|writer| writer.packet(packet));
                (failure, self.look_at(packet))
            }
            Arrival::Event(event) => {
                let failure = self.keep(|writer| writer.event(event));
                (failure, self.happened(event))
            }
            Arrival::Notice(notice) => (None, self.noticed(notice).into_iter().collect()),
        };
        told.extend(failure);
        told
    }

    /// Writes an event of the user's or of this program's own.
    pub(in crate::cli) fn event(&mut self, t_us: u64, event: Event) -> Option<Told> {
        self.keep(|writer| writer.event(&TimedEvent { t_us, event }))
    }

    /// Brings what is due to the disk, and looks whether the disk still answers.
    pub(in crate::cli) fn sync(&mut self, now_us: u64) -> Vec<Told> {
        let words = self.stall.look(self.writer.behind());
        let mut told: Vec<Told> = words
            .map(|words| Told::Warning(words.to_owned()))
            .into_iter()
            .collect();
        if self.writer.needs_sync(now_us) {
            told.extend(self.keep(Writer::sync));
        }
        told
    }

    /// Nothing is kept any more.
    pub(in crate::cli) fn has_failed(&self) -> bool {
        self.failed.is_some()
    }

    /// Ends the recording.
    pub(in crate::cli) fn seal(self) -> Result<Seal, WriteError> {
        match self.failed {
            Some(error) => Err(error),
            None => self.writer.seal().map(|(_, seal)| seal),
        }
    }

    fn keep(
        &mut self,
        write: impl FnOnce(&mut Writer<S>) -> Result<(), WriteError>,
    ) -> Option<Told> {
        if self.failed.is_some() {
            return None;
        }
        let error = write(&mut self.writer).err()?;
        let told = Told::Warning(format!("nothing is kept from here on: {error}"));
        self.failed = Some(error);
        Some(told)
    }

    pub(in crate::cli) fn now(&self) -> Now {
        Now {
            pressure: self.pressure,
            battery: self.decoder.battery(),
            link: self.meter.report(),
            samples: self.decoder.counts().samples,
            spoilt: self.decoder.counts().spoilt,
            away_us: self.away_us,
        }
    }

    /// The samples that the last arrival gave.
    pub(in crate::cli) fn samples(&self) -> &[RawSample] {
        &self.samples
    }

    /// The samples that were held back until now: nothing more will come.
    pub(in crate::cli) fn rest(&mut self) -> &[RawSample] {
        self.samples.clear();
        self.decoder.flush(&mut self.samples);
        &self.samples
    }

    fn look_at(&mut self, packet: &Packet) -> Vec<Told> {
        self.samples.clear();
        let arrived = Time::from_us(packet.t_us);
        self.decoder
            .accept(&packet.from, arrived, &packet.hex, &mut self.samples);
        if packet.from == STREAM {
            let last = self.samples.last();
            let sensor_s = last.filter(|_| self.clocked).map(|last| last.time.s());
            self.meter.packet(packet.t_us, sensor_s);
            self.meter.lost_in_all(self.decoder.counts().lost);
            self.pressure = last.map(|last| last.pressure).or(self.pressure);
        }
        let mut told = self.new_status();
        if self.decoder.counts().spoilt > 0 && !self.spoilt_told {
            self.spoilt_told = true;
            told.push(Told::Warning(
                "a frame or line from the sensor failed its check; such ones are not used, and \
                 counted"
                    .to_owned(),
            ));
        }
        if let Some(percent) = self.decoder.battery()
            && percent < LOW_BATTERY
            && !self.battery_told
        {
            self.battery_told = true;
            told.push(Told::Warning(format!(
                "the sensor's battery is at {percent} %: charge it soon"
            )));
        }
        told
    }

    /// Status bits that were not set before.
    fn new_status(&mut self) -> Vec<Told> {
        let status = self.decoder.status().unwrap_or(self.status);
        let new = status & !self.status;
        self.status = status;
        let say = |bit: &StatusBit| match bit.severity {
            Severity::Note => Told::Note(format!("the sensor says: {}", bit.meaning)),
            Severity::Warning => Told::Warning(format!("the sensor says: {}", bit.meaning)),
            Severity::Fault => Told::Warning(format!(
                "the sensor says: {}; do not trust its readings now",
                bit.meaning
            )),
        };
        self.protocol.status_bits(new).map(say).collect()
    }

    fn happened(&mut self, event: &TimedEvent) -> Vec<Told> {
        match &event.event {
            Event::LinkLost => {
                self.lost_at_us.get_or_insert(event.t_us);
                self.meter.link_lost();
                self.samples.clear();
                self.decoder.link_lost(&mut self.samples);
                vec![Told::Warning(
                    "the link to the sensor is lost; trying to get it back".into(),
                )]
            }
            Event::LinkBack => {
                let lost_at_us = self.lost_at_us.take().unwrap_or(event.t_us);
                let away_us = event.t_us.saturating_sub(lost_at_us);
                self.away_us += away_us;
                vec![Told::Note(format!(
                    "the link is back after {:.1} s; go on",
                    away_us as f64 * 1e-6
                ))]
            }
            _ => Vec::new(),
        }
    }

    fn noticed(&mut self, notice: &Notice) -> Option<Told> {
        match notice {
            Notice::Silent { for_ms } => {
                let seconds = for_ms / 1000;
                Some(Told::Warning(format!(
                    "nothing from the sensor for {seconds} s, though linked"
                )))
            }
            Notice::Reconnecting {
                attempt,
                because: Some(why),
            } => Some(Told::Note(format!(
                "attempt {attempt} to get the link back; before: {why}"
            ))),
            Notice::Reconnecting { because: None, .. } => None,
            Notice::Signal { rssi_dbm } => {
                self.meter.signal(*rssi_dbm);
                None
            }
            Notice::Warning(text) => Some(Told::Warning(text.clone())),
        }
    }
}
