//! The desk between sensor, recording, analysis and guided session: everything that arrives is
//! written first, then analysed, then told to the session; what the session decides goes the same
//! way. No terminal here: what the user should hear is handed back.

use crate::engine::Condition;
use crate::pipeline::{Pipeline, Soundness};
use crate::protocol::STREAM;
use crate::recording::{BackgroundSink, Event, Packet, Record, StallWatch, TimedEvent, Writer};
use crate::session::{Announcement, Command, Entry, Input, Link, Output, Session};
use crate::signal;
use crate::transport::{Arrival, LinkMeter, Notice};
use crate::units::{Pressure, Time};
use std::collections::VecDeque;
use std::time::Duration;

/// What the user should see or hear.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum News {
    /// A line.
    Line(String),
    /// Loudly.
    Announce(Announcement),
    /// A run is asked for: a practice engine is set up for it.
    Asked(String, Condition),
}

/// Where recorded packets and events go.
pub(super) enum Keeping {
    /// Into a recording.
    File(Box<Writer<BackgroundSink>>),
    /// Nowhere: a recording is replayed.
    Replay,
    /// Nowhere any more: it went wrong.
    Failed(String),
}

/// The desk.
pub(super) struct Desk {
    pub(super) session: Session,
    pub(super) pipeline: Pipeline,
    keeping: Keeping,
    stall: StallWatch,
    meter: LinkMeter,
    /// Added to the source's times: where the recording that goes on had stopped.
    offset_us: u64,
    now_us: u64,
    link: Link,
    /// What the link is busy with.
    link_words: String,
    rssi_dbm: Option<i16>,
    /// Peaks of the run in hand.
    shown: Vec<Pressure>,
    news: Vec<News>,
}

impl Desk {
    pub(super) fn new(
        session: Session,
        pipeline: Pipeline,
        keeping: Keeping,
        offset_us: u64,
    ) -> Self {
        Self {
            session,
            pipeline,
            keeping,
            stall: StallWatch::default(),
            meter: LinkMeter::new(),
            offset_us,
            now_us: offset_us,
            link: Link::Up,
            link_words: "linked".to_owned(),
            rssi_dbm: None,
            shown: Vec::new(),
            news: Vec::new(),
        }
    }

    /// What the user should see or hear since the last time this was asked.
    pub(super) fn news(&mut self) -> Vec<News> {
        std::mem::take(&mut self.news)
    }

    /// Why nothing is kept any more, if so.
    pub(super) fn keeping_failed(&self) -> Option<&str> {
        match &self.keeping {
            Keeping::Failed(why) => Some(why),
            Keeping::File(_) | Keeping::Replay => None,
        }
    }

    /// What is wrong with keeping now.
    pub(super) fn keeping_trouble(&self) -> Option<&str> {
        let stalled = self
            .stall
            .is_stalled()
            .then_some("The disk does not answer.");
        self.keeping_failed().or(stalled)
    }

    pub(super) fn link(&self) -> (Link, &str, Option<i16>) {
        (self.link, &self.link_words, self.rssi_dbm)
    }

    /// Peaks of the run in hand.
    pub(super) fn shown(&self) -> &[Pressure] {
        &self.shown
    }

    /// The time of what came last, in microseconds of the recording.
    pub(super) fn now_us(&self) -> u64 {
        self.now_us
    }

    /// Whether a recording is replayed.
    pub(super) fn replayed(&self) -> bool {
        matches!(self.keeping, Keeping::Replay)
    }

    /// Something has come from the source.
    pub(super) fn take(&mut self, arrival: Arrival) {
        match arrival {
            Arrival::Packet(mut packet) => {
                packet.t_us += self.offset_us;
                self.now_us = self.now_us.max(packet.t_us);
                self.packet(packet);
            }
            Arrival::Event(mut timed) => {
                timed.t_us += self.offset_us;
                self.now_us = self.now_us.max(timed.t_us);
                self.happened(timed);
            }
            Arrival::Notice(notice) => self.noticed(notice),
        }
    }

    /// It is now this late on the source's clock. In a replay only the recording's own times
    /// count, so that it goes the same way at any speed.
    pub(super) fn tick(&mut self, source_us: u64) {
        if self.replayed() {
            return;
        }
        self.now_us = self.now_us.max(source_us + self.offset_us);
        self.tell(Input::Clock(Time::from_us(self.now_us)));
        let (due, behind) = match &self.keeping {
            Keeping::File(writer) => (writer.needs_sync(self.now_us), writer.behind()),
            Keeping::Replay | Keeping::Failed(_) => (false, Duration::ZERO),
        };
        if let Some(words) = self.stall.look(behind) {
            self.news.push(News::Line(words.to_owned()));
        }
        if due {
            self.keep(Writer::sync);
        }
    }

    /// The user asks for something.
    pub(super) fn command(&mut self, command: Command) {
        self.tell(Input::Command(command));
    }

    /// Nothing more comes from the source.
    pub(super) fn source_ended(&mut self) {
        let (before, mut news) = (self.pipeline.runs().len(), Vec::new());
        self.pipeline.end(&mut news);
        self.hear(&news, before);
        self.tell(Input::SourceEnded);
    }

    /// Writes how the link has done, seals, and lets go of the file.
    pub(super) fn close(&mut self) {
        if matches!(self.keeping, Keeping::File(_)) {
            let event = Event::Link(Box::new(self.meter.report()));
            self.record(event);
        }
        let keeping = std::mem::replace(&mut self.keeping, Keeping::Replay);
        self.keeping = match keeping {
            Keeping::File(writer) => match writer.seal() {
                Ok(_) => Keeping::Replay,
                Err(error) => Keeping::Failed(error.to_string()),
            },
            other => other,
        };
    }

    fn packet(&mut self, packet: Packet) {
        self.keep(|writer| writer.packet(&packet));
        let stream = packet.from == STREAM;
        let t_us = packet.t_us;
        let (before, mut news) = (self.pipeline.runs().len(), Vec::new());
        self.pipeline.take(&Record::Packet(packet), &mut news);
        if stream {
            self.meter.packet(t_us, None);
            self.meter.lost_in_all(self.pipeline.packet_counts().lost);
            self.linked(Link::Up, "linked");
        }
        self.tell(Input::Clock(Time::from_us(t_us)));
        if let Some(pressure) = self.pipeline.live().pressure {
            self.tell(Input::Pressure(pressure));
        }
        self.hear(&news, before);
    }

    fn happened(&mut self, timed: TimedEvent) {
        self.keep(|writer| writer.event(&timed));
        match &timed.event {
            Event::LinkLost => {
                self.meter.link_lost();
                self.linked(Link::Lost, "lost");
            }
            Event::LinkBack => self.linked(Link::Up, "linked"),
            _ => {}
        }
        let amended = match &timed.event {
            Event::Name { run, .. } | Event::Void { run: Some(run), .. } => Some(*run),
            _ => None,
        };
        let told = match &timed.event {
            Event::Run {
                cylinder,
                condition,
            } => Some((cylinder.clone(), *condition)),
            _ => None,
        };
        let (before, mut news) = (self.pipeline.runs().len(), Vec::new());
        self.pipeline.take(&Record::Event(timed), &mut news);
        self.hear(&news, before);
        if let Some(index) = amended {
            self.amended(index);
        }
        if let Some((cylinder, condition)) = told {
            self.tell(Input::Told {
                cylinder: &cylinder,
                condition,
            });
        }
    }

    /// A replayed recording has named a run or taken it back.
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

    fn noticed(&mut self, notice: Notice) {
        match notice {
            Notice::Silent { for_ms } => {
                let words = format!("silent {} s", for_ms / 1000);
                self.linked(Link::Silent, &words);
            }
            Notice::Reconnecting { attempt, .. } => {
                self.linked(Link::Lost, &format!("lost, try {attempt}"));
            }
            Notice::Signal { rssi_dbm } => {
                self.meter.signal(rssi_dbm);
                self.rssi_dbm = Some(rssi_dbm);
            }
            Notice::Warning(text) => self.news.push(News::Line(text)),
        }
    }

    fn linked(&mut self, link: Link, words: &str) {
        if self.link_words != words {
            words.clone_into(&mut self.link_words);
        }
        if self.link != link {
            self.link = link;
            self.tell(Input::Link(link));
        }
    }

    /// Hands on what the analysis said; each run that has ended with its index.
    fn hear(&mut self, news: &[signal::Event], runs_before: usize) {
        let mut index = runs_before;
        for event in news {
            if let signal::Event::Stroke(stroke) = event {
                self.shown.push(stroke.shown(self.pipeline.live().rig));
            }
            let signal::Event::RunEnded(result) = event else {
                self.tell(Input::Signal(event));
                continue;
            };
            self.shown.clear();
            // The pipeline leaves out runs that nobody announced and that had no stroke.
            let kept = self.pipeline.runs().get(index);
            if kept.is_some_and(|run| run.result == **result) {
                self.tell(Input::RunEnded { index, result });
                index += 1;
                let findings = self.pipeline.findings(Soundness::default());
                self.tell(Input::Assessed(&findings.assessment));
            }
        }
    }

    /// Tells the session, and does what follows from it.
    fn tell(&mut self, input: Input<'_>) {
        let mut out = Vec::new();
        self.session.push(input, &mut out);
        let mut to_do = VecDeque::from(out);
        while let Some(output) = to_do.pop_front() {
            match output {
                Output::Say(text) => self.news.push(News::Line(text)),
                Output::Announce(announcement) => self.news.push(News::Announce(announcement)),
                Output::Record(entry) => self.enter(entry),
            }
        }
    }

    /// The session wants this in the recording. A replayed recording has its own entries.
    fn enter(&mut self, entry: Entry) {
        if let Entry::Run {
            cylinder,
            condition,
        } = &entry
        {
            self.news.push(News::Asked(cylinder.clone(), *condition));
        }
        if !self.replayed() {
            self.record(event_of(entry));
        }
    }

    fn record(&mut self, event: Event) {
        let t_us = self.now_us;
        let timed = TimedEvent { t_us, event };
        self.keep(|writer| writer.event(&timed));
        let (before, mut news) = (self.pipeline.runs().len(), Vec::new());
        self.pipeline.take(&Record::Event(timed), &mut news);
        self.hear(&news, before);
    }

    /// Writes, if there is a recording. Once that fails the user is told and the gauge goes on.
    fn keep<E: std::fmt::Display>(
        &mut self,
        write: impl FnOnce(&mut Writer<BackgroundSink>) -> Result<(), E>,
    ) {
        let Keeping::File(writer) = &mut self.keeping else {
            return;
        };
        if let Err(error) = write(writer) {
            let why = format!("Nothing is kept from here on: {error}");
            self.news.push(News::Line(why.clone()));
            self.keeping = Keeping::Failed(why);
        }
    }
}

fn event_of(entry: Entry) -> Event {
    match entry {
        Entry::Run {
            cylinder,
            condition,
        } => Event::Run {
            cylinder,
            condition,
        },
        Entry::End => Event::End,
        Entry::Void { run, reason } => Event::Void {
            run: Some(run),
            reason,
        },
        Entry::Name {
            run,
            cylinder,
            condition,
        } => Event::Name {
            run,
            cylinder,
            condition,
        },
        Entry::Mark(text) => Event::Mark { text },
        Entry::Note(text) => Event::Note { text },
    }
}
