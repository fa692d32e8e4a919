//! The desk between sensor, recording, analysis and whoever guides the visit: everything that
//! arrives is written first, then analysed, then told to the guide; what the guide decides goes the
//! same way. No terminal here: what the user should see or hear is handed back.

mod guide;
mod keeper;
mod radio;

pub(in crate::cli) use guide::{Guide, Unguided, event_of};
pub(in crate::cli) use keeper::Keeper;

use super::told::{self, Told};
use crate::engine::Condition;
use crate::leakdown;
use crate::pipeline::{self, Pipeline, Soundness};
use crate::protocol::{STREAM, Severity};
use crate::recording::{Event, LinkQuality, Packet, Record, Seal, TimedEvent, WriteError};
use crate::session::{Announcement, Command, Entry, Input, Link, Output, Session};
use crate::signal;
use crate::transport::{Arrival, Notice};
use crate::units::{Pressure, Time};
use radio::Radio;

/// From one note on the link in the recording to the next, in microseconds.
const LINK_EVERY_US: u64 = 10_000_000;

/// What the user should see or hear.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::cli) enum News {
    /// A line of the guide's.
    Line(String),
    /// About sensor, link or disk.
    Told(Told),
    /// Loudly.
    Announce(Announcement),
    /// A run is asked for: a practice engine is set up for it.
    Asked(String, Condition),
    /// A test with air has something to say.
    Air(leakdown::Told),
    /// A test with air is over, and has come to this.
    AirTested(Box<leakdown::AirTest>),
    /// An event, as the recording has it.
    Written(TimedEvent),
}

/// How it goes with sensor and link.
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

/// The desk.
pub(in crate::cli) struct Desk<G> {
    pub(in crate::cli) guide: G,
    pub(in crate::cli) pipeline: Pipeline,
    keeper: Keeper,
    radio: Radio,
    /// A sensor is at the other end, not a recording that is played.
    live: bool,
    /// Added to the source's times: where the recording that goes on had stopped.
    offset_us: u64,
    now_us: u64,
    /// When the recording is next told how the link does.
    link_due_us: u64,
    pressure: Option<Pressure>,
    /// Status bits of the sensor that are set.
    status: u32,
    battery_told: bool,
    spoilt_told: bool,
    /// The last warning, and when it was told.
    warned: Option<(u64, String)>,
    /// Peaks of the run in hand.
    shown: Vec<Pressure>,
    news: Vec<News>,
}

impl<G: Guide> Desk<G> {
    /// A desk at a live sensor, or at one that is simulated as if it were.
    pub(in crate::cli) fn live(guide: G, pipeline: Pipeline, keeper: Keeper) -> Self {
        Self {
            guide,
            pipeline,
            keeper,
            radio: Radio::new(),
            live: true,
            offset_us: 0,
            now_us: 0,
            link_due_us: LINK_EVERY_US,
            pressure: None,
            status: 0,
            battery_told: false,
            spoilt_told: false,
            warned: None,
            shown: Vec::new(),
            news: Vec::new(),
        }
    }

    /// A desk at a recording that is played: only its own times and events count, so that it goes
    /// the same way at any speed.
    pub(in crate::cli) fn played(guide: G, pipeline: Pipeline, keeper: Keeper) -> Self {
        Self {
            live: false,
            ..Self::live(guide, pipeline, keeper)
        }
    }

    /// Goes on behind a recording of this length.
    pub(in crate::cli) fn behind(self, offset_us: u64) -> Self {
        Self {
            offset_us,
            now_us: offset_us,
            link_due_us: offset_us + LINK_EVERY_US,
            ..self
        }
    }

    /// What the user should see or hear since the last time this was asked.
    pub(in crate::cli) fn news(&mut self) -> Vec<News> {
        std::mem::take(&mut self.news)
    }

    /// Why nothing is kept any more, if so.
    pub(in crate::cli) fn failure(&self) -> Option<&WriteError> {
        self.keeper.failure()
    }

    /// What is wrong with keeping now.
    pub(in crate::cli) fn keeping_trouble(&self) -> Option<&str> {
        self.keeper.trouble()
    }

    /// What the sensor says is wrong with it, as long as it does.
    pub(in crate::cli) fn sensor_trouble(&self) -> Option<String> {
        let protocol = self.pipeline.protocol();
        let bad = protocol.severity(self.status) >= Some(Severity::Warning);
        let told = bad.then(|| told::status(protocol, self.status));
        let worst = told?.into_iter().next()?;
        Some(worst.text().to_owned())
    }

    /// The last warning, and when it was told.
    pub(in crate::cli) fn warned(&self) -> Option<(u64, &str)> {
        self.warned.as_ref().map(|(at, text)| (*at, text.as_str()))
    }

    /// The link, and in words.
    pub(in crate::cli) fn link(&self) -> (Link, String) {
        (self.radio.link(), self.radio.words())
    }

    /// How it goes with sensor and link.
    pub(in crate::cli) fn now(&self) -> Now {
        Now {
            pressure: self.pressure,
            battery: self.pipeline.decoder().battery(),
            link: self.radio.quality(),
            samples: self.pipeline.packet_counts().samples,
            spoilt: self.pipeline.packet_counts().spoilt,
            away_us: self.radio.away_us(),
        }
    }

    /// Peaks of the run in hand.
    pub(in crate::cli) fn shown(&self) -> &[Pressure] {
        &self.shown
    }

    /// The time of what came last, in microseconds of the recording.
    pub(in crate::cli) fn now_us(&self) -> u64 {
        self.now_us
    }

    /// Whether a recording is played.
    pub(in crate::cli) fn replayed(&self) -> bool {
        !self.live
    }

    /// Something has come from the source.
    pub(in crate::cli) fn take(&mut self, arrival: Arrival) {
        match arrival {
            Arrival::Packet(mut packet) => {
                packet.t_us += self.offset_us;
                self.now_us = self.now_us.max(packet.t_us);
                self.packet(packet);
            }
            Arrival::Event(mut timed) => {
                timed.t_us += self.offset_us;
                self.now_us = self.now_us.max(timed.t_us);
                self.happened(&timed);
            }
            Arrival::Notice(notice) => self.noticed(&notice),
        }
    }

    /// It is now this late on the source's clock.
    pub(in crate::cli) fn tick(&mut self, source_us: u64) {
        let now_us = source_us + self.offset_us;
        if self.live {
            self.now_us = self.now_us.max(now_us);
            self.tell(Input::Clock(Time::from_us(self.now_us)));
            if self.now_us >= self.link_due_us {
                self.write_link();
            }
        }
        for told in self.keeper.sync(now_us) {
            self.say(told);
        }
    }

    /// The user, or this program, wants this in the recording.
    pub(in crate::cli) fn record(&mut self, event: Event) {
        let t_us = self.now_us;
        self.written(TimedEvent { t_us, event });
    }

    /// The user goes.
    pub(in crate::cli) fn leave(&mut self) {
        if self.live {
            self.tell(Input::Leaving);
        }
    }

    /// Nothing more comes from the source.
    pub(in crate::cli) fn source_ended(&mut self) {
        self.leave();
        let mut news = Vec::new();
        self.pipeline.end(&mut news);
        self.hear(news);
        self.tell(Input::SourceEnded);
    }

    /// Writes how the link has done, seals, and lets go of the file; none if there is none.
    pub(in crate::cli) fn close(&mut self) -> Result<Option<Seal>, &WriteError> {
        if self.live {
            self.write_link();
        }
        self.keeper.seal()
    }

    fn packet(&mut self, packet: Packet) {
        let failure = self.keeper.packet(&packet);
        self.say_all(failure);
        let (stream, t_us) = (packet.from == STREAM, packet.t_us);
        let mut news = Vec::new();
        self.pipeline.take(&Record::Packet(packet), &mut news);
        if stream {
            self.stream_came(t_us);
        }
        self.mind_the_spoilt();
        self.tell(Input::Clock(Time::from_us(t_us)));
        if let Some(pressure) = self.pipeline.live().pressure {
            self.tell(Input::Pressure(pressure));
        }
        self.hear(news);
    }

    fn stream_came(&mut self, t_us: u64) {
        let last = self.pipeline.samples().last();
        let clocked = self.pipeline.protocol().tick_us().is_some();
        let sensor_s = last.filter(|_| clocked).map(|last| last.time.s());
        self.pressure = last.map(|last| last.pressure).or(self.pressure);
        let lost = self.pipeline.packet_counts().lost;
        self.on_the_link(|radio| {
            radio.packet(t_us, sensor_s, lost);
            None
        });
    }

    fn mind_the_spoilt(&mut self) {
        if self.spoilt_told || self.pipeline.packet_counts().spoilt == 0 {
            return;
        }
        self.spoilt_told = true;
        let text = "a frame or line from the sensor failed its check; such ones are not used, and \
                    counted";
        self.say(Told::Warning(text.to_owned()));
    }

    fn happened(&mut self, timed: &TimedEvent) {
        self.written(timed.clone());
        self.on_the_link(|radio| radio.happened(timed));
        match &timed.event {
            Event::Name { run, .. } | Event::Void { run: Some(run), .. } => self.amended(*run),
            Event::Run {
                cylinder,
                condition,
            } => self.tell(Input::Told {
                cylinder,
                condition: *condition,
            }),
            _ => {}
        }
    }

    /// A recording that is played has named a run or taken it back.
    fn amended(&mut self, index: usize) {
        let Some(run) = self.pipeline.runs().get(index).cloned() else {
            return;
        };
        self.tell(Input::Amended {
            index,
            cylinder: &run.cylinder,
            condition: run.condition,
            void: run.void,
        });
    }

    fn noticed(&mut self, notice: &Notice) {
        match notice {
            Notice::Silent { .. } => self.on_the_link(|radio| radio.noticed(notice)),
            // Of these no guide tells.
            Notice::Warning(_) | Notice::Reconnecting { .. } | Notice::Signal { .. } => {
                let before = self.radio.link();
                let told = self.radio.noticed(notice);
                self.say_all(told);
                self.guide_on_link(before);
            }
        }
    }

    /// Something happened to the link: a guide tells of it in words of its own.
    fn on_the_link(&mut self, change: impl FnOnce(&mut Radio) -> Option<Told>) {
        let before = self.radio.link();
        let told = change(&mut self.radio);
        self.say_all(told.filter(|_| !G::GUIDES));
        self.guide_on_link(before);
    }

    fn guide_on_link(&mut self, before: Link) {
        let link = self.radio.link();
        if link != before {
            self.tell(Input::Link(link));
        }
    }

    fn write_link(&mut self) {
        self.link_due_us = self.now_us + LINK_EVERY_US;
        self.record(Event::Link(Box::new(self.radio.quality())));
    }

    /// Hands on what the record brought.
    fn hear(&mut self, news: Vec<pipeline::News>) {
        for item in news {
            match item {
                pipeline::News::Signal(event) => {
                    if let signal::Event::Stroke(stroke) = &event {
                        self.shown.push(stroke.shown(self.pipeline.live().rig));
                    }
                    self.tell(Input::Signal(&event));
                }
                pipeline::News::RunEnded { result, kept } => {
                    self.shown.clear();
                    if let Some(index) = kept {
                        let result = &result;
                        self.tell(Input::RunEnded { index, result });
                        self.assess();
                    }
                }
                pipeline::News::Status { set, new } => {
                    self.status = set;
                    let told = told::status(self.pipeline.protocol(), new);
                    self.say_all(told);
                }
                pipeline::News::Air(told) => {
                    self.tell(Input::Air(&told));
                    self.news.push(News::Air(told));
                }
                pipeline::News::AirTested(index) => self.tested(index),
                pipeline::News::Battery(percent) => self.charge(percent),
            }
        }
    }

    fn assess(&mut self) {
        if G::GUIDES {
            let findings = self.pipeline.findings(Soundness::default());
            self.tell(Input::Assessed(&findings.assessment));
        }
    }

    /// A test with air is over.
    fn tested(&mut self, index: usize) {
        let Some(test) = self.pipeline.air_tests().get(index).cloned() else {
            return;
        };
        self.tell(Input::AirTested(&test));
        self.news.push(News::AirTested(Box::new(test)));
    }

    fn charge(&mut self, percent: f64) {
        if told::is_low(percent) && !self.battery_told {
            self.battery_told = true;
            self.say(told::low_battery(percent));
        }
    }

    /// Tells the guide, and does what follows from it.
    fn tell(&mut self, input: Input<'_>) {
        let mut out = Vec::new();
        self.guide.push(input, &mut out);
        for output in out {
            match output {
                Output::Say(text) => self.news.push(News::Line(text)),
                Output::Announce(announcement) => self.news.push(News::Announce(announcement)),
                Output::Record(entry) => self.enter(entry),
            }
        }
    }

    /// The guide wants this in the recording. One that is played has its own entries.
    fn enter(&mut self, entry: Entry) {
        if let Entry::Run {
            cylinder,
            condition,
        } = &entry
        {
            self.news.push(News::Asked(cylinder.clone(), *condition));
        }
        if self.live {
            self.record(event_of(entry));
        }
    }

    fn written(&mut self, timed: TimedEvent) {
        let failure = self.keeper.event(&timed);
        self.say_all(failure);
        self.news.push(News::Written(timed.clone()));
        let mut news = Vec::new();
        self.pipeline.take(&Record::Event(timed), &mut news);
        self.hear(news);
    }

    fn say_all(&mut self, told: impl IntoIterator<Item = Told>) {
        told.into_iter().for_each(|told| self.say(told));
    }

    fn say(&mut self, told: Told) {
        if let Told::Warning(text) = &told {
            self.warned = Some((self.now_us, text.clone()));
        }
        self.news.push(News::Told(told));
    }
}

impl Desk<Session> {
    /// The user asks for something.
    pub(in crate::cli) fn command(&mut self, command: Command) {
        self.tell(Input::Command(command));
    }
}
