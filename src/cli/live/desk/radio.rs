//! How the link to the sensor does, and in which words that is told.

use crate::cli::live::told::Told;
use crate::recording::{Event, LinkQuality, TimedEvent};
use crate::session::Link;
use crate::transport::{LinkMeter, Notice};

/// How the link to the sensor does.
pub(super) struct Radio {
    meter: LinkMeter,
    link: Link,
    /// What it is busy with.
    words: String,
    rssi_dbm: Option<i16>,
    lost_at_us: Option<u64>,
    away_us: u64,
}

impl Radio {
    pub(super) fn new() -> Self {
        Self {
            meter: LinkMeter::new(),
            link: Link::Up,
            words: "linked".to_owned(),
            rssi_dbm: None,
            lost_at_us: None,
            away_us: 0,
        }
    }

    /// A packet of the stream came; `sensor_s` is its time on the sensor's own clock, if it has
    /// one, and `lost` how many never came in all.
    pub(super) fn packet(&mut self, t_us: u64, sensor_s: Option<f64>, lost: u64) {
        self.meter.packet(t_us, sensor_s);
        self.meter.lost_in_all(lost);
        self.is(Link::Up, "linked");
    }

    /// What a loss of the link, or its end, should be told as; nothing of any other event.
    pub(super) fn happened(&mut self, timed: &TimedEvent) -> Option<Told> {
        match timed.event {
            Event::LinkLost => {
                self.lost_at_us.get_or_insert(timed.t_us);
                self.meter.link_lost();
                self.is(Link::Lost, "lost");
                let text = "the link to the sensor is lost; trying to get it back";
                Some(Told::Warning(text.to_owned()))
            }
            Event::LinkBack => {
                let lost_at_us = self.lost_at_us.take().unwrap_or(timed.t_us);
                let away_us = timed.t_us.saturating_sub(lost_at_us);
                self.away_us += away_us;
                self.is(Link::Up, "linked");
                let away_s = away_us as f64 * 1e-6;
                Some(Told::Note(format!(
                    "the link is back after {away_s:.1} s; go on"
                )))
            }
            _ => None,
        }
    }

    /// What a notice of the source should be told as.
    pub(super) fn noticed(&mut self, notice: &Notice) -> Option<Told> {
        match notice {
            Notice::Silent { for_ms } => {
                let seconds = for_ms / 1000;
                self.is(Link::Silent, &format!("silent {seconds} s"));
                Some(Told::Warning(format!(
                    "nothing from the sensor for {seconds} s, though linked"
                )))
            }
            Notice::Reconnecting { attempt, because } => {
                self.is(Link::Lost, &format!("lost, try {attempt}"));
                because.as_ref().map(|why| {
                    Told::Note(format!(
                        "attempt {attempt} to get the link back; before: {why}"
                    ))
                })
            }
            Notice::Signal { rssi_dbm } => {
                self.meter.signal(*rssi_dbm);
                self.rssi_dbm = Some(*rssi_dbm);
                None
            }
            Notice::Warning(text) => Some(Told::Warning(text.clone())),
        }
    }

    fn is(&mut self, link: Link, words: &str) {
        self.link = link;
        if self.words != words {
            words.clone_into(&mut self.words);
        }
    }

    pub(super) fn link(&self) -> Link {
        self.link
    }

    /// What the link is busy with, and how strong the signal is, where the host tells it.
    pub(super) fn words(&self) -> String {
        match self.rssi_dbm {
            Some(dbm) => format!("{} {dbm} dBm", self.words),
            None => self.words.clone(),
        }
    }

    pub(super) fn quality(&self) -> LinkQuality {
        self.meter.report()
    }

    /// Time without a link, over all its losses that ended, in microseconds.
    pub(super) fn away_us(&self) -> u64 {
        self.away_us
    }
}
