//! Records in, runs out: the way that live packets and recorded ones take alike.

use super::corrected::CorrectionFacts;
use super::findings::Run;
use super::labels::{Label, Labels};
use super::news::News;
use super::options::{self, Options};
use super::samples::Collector;
use super::trace::{Thinner, Trace};
use crate::assess::RuleSet;
use crate::correction::{CheckError, Correction};
use crate::engine::{CardError, Display, JobCard};
use crate::leakdown::{AirTest, Watch};
use crate::protocol::{Decoder, PacketCounts, ProtocolError, ProtocolFile, RawSample, Reference};
use crate::recording::{Event, Header, LinkQuality, Packet, Record, SensorIdentity};
use crate::signal::{self, Analyser, Live, RunResult, Sample, Settings};
use crate::units::{Pressure, Time};

/// Most runs that are kept of a recording: far more than a visit to any engine, and few enough
/// that no recording, however hostile, fills the memory.
pub const MOST_RUNS: usize = 400;
/// So many runs have traces as fine as they come; those of later ones are coarser. The report
/// draws so many runs with few points each, and a day's recording takes little memory.
const FINE_TRACES: usize = 96;
/// Once so many strokes were made in the runs that are kept, no other run is kept; and so many
/// strokes are the most of one run. A visit has some hundreds.
pub const MOST_STROKES: u64 = 20_000;
/// Most notes and marks that are kept.
pub const MOST_NOTES: usize = 1000;
/// Most bytes of them, and of the reasons for void runs, that are kept in all.
pub const MOST_TEXT: usize = 256 * 1024;

/// Least distance between two samples.
const APART: Time = Time::from_s(1e-6);

/// Why a recording cannot be analysed at all.
#[derive(Clone, Debug, thiserror::Error)]
pub enum PipelineError {
    /// The protocol file in the recording's header is not sound.
    #[error("the protocol file in the recording: {0}")]
    Protocol(#[from] ProtocolError),
    /// The check by which the sensor is corrected is not sound.
    #[error("the sensor's check in the recording: {0}")]
    Check(#[from] CheckError),
    /// The job card in the recording's header is not sound.
    #[error("the job card in the recording: {0}")]
    Card(#[from] CardError),
}

/// The way from records to runs. Feed it every record in order; memory does not grow with the
/// number of samples.
#[derive(Debug)]
pub struct Pipeline {
    pub(super) header: Header,
    pub(super) protocol: ProtocolFile,
    pub(super) card: Option<JobCard>,
    /// What the sensor tells is put right by this.
    correction: Option<Correction>,
    pub(super) correction_facts: Option<CorrectionFacts>,
    pub(super) options: Options,
    pub(super) rules: RuleSet,
    settings: Settings,
    /// The units of words.
    pub(super) units: Display,
    decoder: Decoder,
    /// Counts of decoders that were replaced when the session was resumed.
    counted: PacketCounts,
    /// Status bits and charge of the battery as last told on.
    status: u32,
    battery: Option<f64>,
    analyser: Analyser,
    /// What the analysis says, until it is told on; kept for its room.
    said: Vec<signal::Event>,
    labels: Labels,
    /// A test with air under way: the samples are its own.
    pub(super) watch: Option<Watch>,
    pub(super) air: Vec<AirTest>,
    thinner: Thinner,
    pub(super) collector: Collector,
    pub(super) runs: Vec<Run>,
    pub(super) traces: Vec<Trace>,
    pub(super) notes: Vec<String>,
    /// Strokes of the run in hand, and of those before.
    strokes: u64,
    strokes_before: u64,
    /// Bytes of notes, marks and reasons that are kept.
    text: usize,
    /// The recording holds more runs or strokes than are kept: none will be kept any more.
    pub(super) full: bool,
    /// Nobody hears the news: when it is full, nothing is left to be analysed for.
    unheard: bool,
    /// Notes and marks beyond what is kept.
    pub(super) notes_left_out: u64,
    pub(super) link: Option<LinkQuality>,
    /// Host time of the last record.
    pub(super) last_us: u64,
    /// Added to the stream's clock: where it began (again) on the recording's.
    offset: Time,
    /// The stream's clock has begun again, and where is not known yet.
    adrift: bool,
    /// First and last sample, on the stream's clock with offset, to measure the rate.
    first_sample: Option<Time>,
    last_sample: Option<Time>,
    /// Samples of the last record, on the stream's clock with offset.
    decoded: Vec<RawSample>,
    /// The same for the analysis; kept for its room.
    samples: Vec<Sample>,
    /// How many of them have been analysed.
    analysed: usize,
}

impl Pipeline {
    /// Prepares the analysis of what follows this header.
    ///
    /// # Errors
    /// The protocol file, the job card or the sensor's check in the header is not sound.
    pub fn new(header: Header, options: Options) -> Result<Self, PipelineError> {
        let protocol = ProtocolFile::parse(&header.protocol)?;
        let correction = correction(&header.sensor, &protocol)?;
        let checked = header.sensor.correction.as_ref();
        let correction_facts = checked
            .map(|checked| CorrectionFacts::new(checked, &header.started))
            .transpose()?;
        let card = match (&options.card, &header.card) {
            (Some(given), _) => Some(given.value.clone()),
            (None, Some(text)) => Some(JobCard::parse(text)?),
            (None, None) => None,
        };
        let units = options::units(&options, card.as_ref());
        let card = card.map(|card| JobCard {
            display: units,
            ..card
        });
        let settings = options::settings(&options, &protocol, card.as_ref(), correction.as_ref());
        Ok(Self {
            correction,
            correction_facts,
            decoder: Decoder::new(&protocol),
            analyser: Analyser::new(settings),
            labels: Labels::new(card.as_ref(), options.labels.clone()),
            settings,
            units,
            header,
            protocol,
            card,
            rules: options.rule_set(),
            collector: Collector::new(options.samples),
            options,
            counted: PacketCounts::default(),
            status: 0,
            battery: None,
            said: Vec::new(),
            watch: None,
            air: Vec::new(),
            thinner: Thinner::default(),
            runs: Vec::new(),
            traces: Vec::new(),
            notes: Vec::new(),
            strokes: 0,
            strokes_before: 0,
            text: 0,
            full: false,
            unheard: false,
            notes_left_out: 0,
            link: None,
            last_us: 0,
            offset: Time::ZERO,
            adrift: false,
            first_sample: None,
            last_sample: None,
            decoded: Vec::new(),
            samples: Vec::new(),
            analysed: 0,
        })
    }

    /// Says that nobody hears the news from here on, so that no more need be done than the findings
    /// ask for.
    pub fn unheard(&mut self) {
        self.unheard = true;
    }

    /// Takes the next record. What it brought is added to `news`; a run that is named there as kept
    /// has been added to [`Self::runs`].
    pub fn take(&mut self, record: &Record, news: &mut Vec<News>) {
        self.forget_samples();
        match record {
            Record::Header(_) | Record::Seal(_) => {}
            Record::Packet(packet) => {
                self.last_us = self.last_us.max(packet.t_us);
                self.packet(packet, news);
            }
            Record::Event(timed) => {
                self.last_us = self.last_us.max(timed.t_us);
                self.event(&timed.event, news);
            }
        }
    }

    /// Ends the last run, as when the recording ends.
    pub fn end(&mut self, news: &mut Vec<News>) {
        self.forget_samples();
        self.decoder.flush(&mut self.decoded);
        self.analyse(news);
        self.end_air(news);
        self.analyser.finish(&mut self.said);
        self.tell(news);
    }

    fn forget_samples(&mut self) {
        self.decoded.clear();
        self.analysed = 0;
    }

    /// The runs so far.
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// The samples that the last record brought: as the sensor gave them (no zero subtracted), put
    /// right where the sensor is corrected, and on the clock of the whole recording. Each is later than the one before.
    pub fn samples(&self) -> &[RawSample] {
        &self.decoded
    }

    /// A snapshot for the gauge.
    pub fn live(&self) -> Live {
        let live = self.analyser.live();
        match &self.watch {
            // The samples are the test's own.
            Some(watch) => Live {
                pressure: Some(watch.gauge()),
                ..live
            },
            None => live,
        }
    }

    /// The decoder, for what it knows of battery and status.
    pub fn decoder(&self) -> &Decoder {
        &self.decoder
    }

    /// The job card in use.
    pub fn card(&self) -> Option<&JobCard> {
        self.card.as_ref()
    }

    /// The correction in use.
    pub fn correction(&self) -> Option<&Correction> {
        self.correction.as_ref()
    }

    /// The protocol file in use.
    pub fn protocol(&self) -> &ProtocolFile {
        &self.protocol
    }

    /// How the packets decoded so far.
    pub fn packet_counts(&self) -> PacketCounts {
        let mut counts = self.counted;
        counts += self.decoder.counts();
        counts
    }

    /// Samples a second, as measured over the whole recording.
    pub(super) fn samples_per_s(&self) -> Option<f64> {
        let length = (self.last_sample? - self.first_sample?).s();
        let samples = self.packet_counts().samples;
        (length > 0.0 && samples > 1).then(|| (samples - 1) as f64 / length)
    }

    fn packet(&mut self, packet: &Packet, news: &mut Vec<News>) {
        let arrived = Time::from_us(packet.t_us);
        self.decoder
            .accept(&packet.from, arrived, &packet.hex, &mut self.decoded);
        self.mind_the_sensor(news);
        if let Some(last) = self.decoded.last().filter(|_| self.adrift) {
            // The last sample of a packet is as old as the packet.
            self.offset = arrived - last.time;
            self.adrift = false;
        }
        self.analyse(news);
    }

    /// Tells what the sensor says of itself, where it is new.
    fn mind_the_sensor(&mut self, news: &mut Vec<News>) {
        let set = self.decoder.status().unwrap_or(self.status);
        if set != self.status {
            let new = set & !self.status;
            news.push(News::Status { set, new });
            self.status = set;
        }
        let charge = self.decoder.battery().or(self.battery);
        if charge != self.battery {
            news.extend(charge.map(News::Battery));
            self.battery = charge;
        }
    }

    /// A decoder's time on the clock of the whole recording. The decoder sees to order; only where
    /// it was replaced may its first sample lie before the last of the one before it.
    fn on_one_clock(&mut self, time: Time) -> Time {
        let early = self.last_sample.filter(|last| time + self.offset <= *last);
        if let Some(last) = early {
            self.offset = last + APART - time;
        }
        time + self.offset
    }

    /// Hands what was decoded to the analysis.
    fn analyse(&mut self, news: &mut Vec<News>) {
        let correction = self.correction;
        let mut decoded = std::mem::take(&mut self.decoded);
        let mut samples = std::mem::take(&mut self.samples);
        samples.clear();
        samples.extend(decoded.iter_mut().skip(self.analysed).map(|raw| {
            let time = self.on_one_clock(raw.time);
            raw.time = time;
            if let Some(correction) = &correction {
                raw.pressure = correction.of(raw.pressure);
            }
            self.first_sample.get_or_insert(time);
            self.last_sample = Some(time);
            Sample {
                time,
                pressure: raw.pressure,
                clipped: raw.out_of_range,
                gap_before: raw.gap_before,
            }
        }));
        let mut left = samples.as_slice();
        if self.watched(left, news) {
            left = &[];
        }
        while !(left.is_empty() || self.full && self.unheard) {
            let (taken, rest) = left.split_at(self.analyser.push_all(left, &mut self.said));
            for sample in taken {
                self.thinner.push(sample.time, sample.pressure);
            }
            self.collector.push_all(taken);
            self.tell(news);
            if self.strokes > MOST_STROKES && !self.full {
                self.end_run(news);
                self.full = true;
            }
            left = rest;
        }
        self.analysed = decoded.len();
        self.decoded = decoded;
        self.samples = samples;
    }

    fn event(&mut self, event: &Event, news: &mut Vec<News>) {
        match event {
            Event::End => {
                self.end_air(news);
                self.end_run(news);
            }
            Event::LeakDown { .. } | Event::Decay { .. } => {
                self.end_air(news);
                self.end_run(news);
                self.begin_air(event);
            }
            Event::Air { stage } => self.direct_air(*stage),
            Event::Heard { places } => self.hear(places),
            Event::Run {
                cylinder,
                condition,
            } => {
                self.end_air(news);
                self.end_run(news);
                self.labels.announce(Label {
                    cylinder: cylinder.clone(),
                    condition: *condition,
                });
            }
            Event::Void { run, reason } => self.void(*run, reason),
            Event::Name {
                run,
                cylinder,
                condition,
            } => {
                if let Some(run) = self.runs.get_mut(*run) {
                    run.cylinder.clone_from(cylinder);
                    run.condition = *condition;
                    run.named = true;
                }
            }
            Event::Resumed { .. } => self.resume(news),
            Event::LinkLost => {
                self.decoder.link_lost(&mut self.decoded);
                self.analyse(news);
            }
            Event::LinkBack => {}
            Event::Link(quality) => self.link = Some(LinkQuality::clone(quality)),
            Event::Mark { text } | Event::Note { text } => {
                if self.notes.len() < MOST_NOTES && self.has_room(text) {
                    self.notes.push(text.clone());
                } else {
                    self.notes_left_out += 1;
                }
            }
        }
    }

    fn end_run(&mut self, news: &mut Vec<News>) {
        self.analyser.begin_run(&mut self.said);
        self.tell(news);
    }

    /// The run in hand, as long as it has no stroke, is not made: nobody is asked for it any more.
    fn void(&mut self, run: Option<usize>, reason: &str) {
        if run == Some(self.runs.len()) && self.strokes == 0 {
            return self.labels.take_back();
        }
        let index = run.or_else(|| self.runs.len().checked_sub(1));
        let reason = if self.has_room(reason) {
            reason.to_owned()
        } else {
            "the reason is left out: there are too many long ones".to_owned()
        };
        if let Some(run) = index.and_then(|index| self.runs.get_mut(index)) {
            run.void = true;
            run.void_reason = Some(reason);
        }
    }

    /// Whether a text is kept; then it counts.
    fn has_room(&mut self, text: &str) -> bool {
        let kept = self.text + text.len() <= MOST_TEXT;
        if kept {
            self.text += text.len();
        }
        kept
    }

    /// The sensor was connected anew: its clock and its numbers begin again. A stream without a
    /// clock of its own is on the host's, which goes on.
    fn resume(&mut self, news: &mut Vec<News>) {
        self.end(news);
        self.counted = self.packet_counts();
        self.decoder = Decoder::new(&self.protocol);
        self.analyser = Analyser::new(self.settings);
        self.thinner = Thinner::default();
        self.collector.drop_held();
        self.adrift = !self.decoder.is_on_host_clock();
    }

    /// Tells on what the analysis said; keeps the runs that have ended.
    fn tell(&mut self, news: &mut Vec<News>) {
        let mut said = std::mem::take(&mut self.said);
        for event in said.drain(..) {
            match event {
                signal::Event::RunEnded(result) => {
                    let strokes = std::mem::take(&mut self.strokes);
                    let kept = self.keep(&result, strokes);
                    news.push(News::RunEnded { result, kept });
                }
                event => {
                    self.strokes += u64::from(matches!(event, signal::Event::Stroke(_)));
                    news.push(News::Signal(event));
                }
            }
        }
        self.said = said;
    }

    /// A run counts when it has strokes, or when somebody announced it. Gives its index if it is
    /// kept.
    fn keep(&mut self, result: &RunResult, strokes: u64) -> Option<usize> {
        let mut thinner = std::mem::take(&mut self.thinner);
        let samples = self.collector.take(result);
        if result.strokes.is_empty() && !self.labels.is_announced() {
            return None;
        }
        let (label, named) = self.labels.take();
        self.full |= self.runs.len() >= MOST_RUNS || self.strokes_before >= MOST_STROKES;
        if self.full {
            return None;
        }
        let index = self.runs.len();
        self.strokes_before += strokes;
        if index >= FINE_TRACES {
            thinner.coarsen();
        }
        let zeroed = |(time, raw): (Time, Pressure)| (time, raw - result.zero.level);
        self.traces.push(Trace {
            run: index,
            points: thinner.points().into_iter().map(zeroed).collect(),
        });
        self.collector.count(samples.as_ref());
        self.runs.push(Run {
            cylinder: label.cylinder,
            named,
            condition: label.condition,
            void: false,
            void_reason: None,
            result: result.clone(),
            samples,
        });
        Some(index)
    }
}

/// The correction of this sensor, if it is to be corrected.
fn correction(
    sensor: &SensorIdentity,
    protocol: &ProtocolFile,
) -> Result<Option<Correction>, CheckError> {
    let Some(checked) = &sensor.correction else {
        return Ok(None);
    };
    if checked.last.absolute != (protocol.reference() == Reference::Absolute) {
        return Err(CheckError {
            field: "absolute".to_owned(),
            what: "the sensor that was checked is not of the kind that the protocol file describes"
                .to_owned(),
        });
    }
    checked.correction().map(Some)
}
