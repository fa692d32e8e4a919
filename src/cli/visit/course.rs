//! The course of a visit: the loop over sensor, keys and time.

use super::alert::{self, Alert};
use super::hands::{Hands, Wish};
use super::plain;
use super::screen::Screen;
use super::view::scene;
use crate::cli::live::desk::{Desk, News};
use crate::cli::live::runtime::Ending;
use crate::cli::live::view::Frame;
use crate::cli::share::{self, Press, Share};
use crate::cli::{Exit, Failure, out};
use crate::engine::Condition;
use crate::recording::Event;
use crate::session::{Announcement, Session, Stage};
use crate::transport::Source;
use ratatui::crossterm::event::Event as TerminalEvent;
use std::time::{Duration, Instant};
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::{MissedTickBehavior, interval};

/// From one picture to the next, at most so often: fast for the eye, easy on the processor.
const PICTURE_EVERY: Duration = Duration::from_millis(15);
/// Longest wait for the sensor to be let go.
const LET_GO: Duration = Duration::from_secs(20);
/// What was begun on a practice engine before the words ended is seen out for so long, in
/// microseconds of the recording: a kick, its pause and the bleed.
const SEEN_OUT_US: u64 = 10_000_000;
/// How long to wait for what had already arrived.
const LAST_ARRIVALS: Duration = Duration::from_millis(50);

/// What a practice engine can be told.
pub(super) trait Practice: Send {
    /// The sensor is moved to this cylinder, in this condition.
    fn fit(&mut self, cylinder: &str, condition: Condition);
    /// One kick, pull, or second of cranking.
    fn kick(&mut self);
    /// The pressure is let go.
    fn bleed(&mut self);
    /// With an air line is done what this event of the recording says, if it is of a test with air.
    fn air(&mut self, event: &Event);
}

/// How the user sees it.
pub(super) enum Front {
    /// The gauge.
    Gauge(Screen, UnboundedReceiver<TerminalEvent>),
    /// Line by line.
    Plain(Words),
}

/// Words from standard input.
pub(in crate::cli) type Words = UnboundedReceiver<Result<Wish, String>>;

/// A visit under way.
pub(super) struct Course {
    pub(super) desk: Desk<Session>,
    pub(super) frame: Frame,
    pub(super) hands: Hands,
    pub(super) front: Front,
    pub(super) alert: Alert,
    pub(super) practice: Option<Box<dyn Practice>>,
    pub(super) share: Option<Share>,
    /// Something is new that no phone was sent.
    pub(super) unshared: bool,
    /// Since when there is something new that was not drawn.
    pub(super) stale: bool,
    pub(super) drawn: Instant,
}

/// What the terminal or standard input gave.
enum Input {
    Wish(Wish),
    Unclear(String),
    Resized,
    Nothing,
    /// Standard input has ended: no word will come any more.
    Ended,
}

impl Course {
    /// Until the session is finished, the user stops it, or the source ends.
    pub(super) async fn run(
        &mut self,
        source: &mut Box<dyn Source>,
        ending: &mut Ending,
    ) -> Result<Exit, Failure> {
        let mut pictures = interval(PICTURE_EVERY);
        pictures.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut exit = Exit::Done;
        let mut ends_us = None;
        while self.desk.guide.stage() != Stage::Finished {
            tokio::select! {
                biased;
                () = ending.asked() => {
                    exit = Exit::Interrupted;
                    break;
                }
                input = input(&mut self.front, &mut self.hands, &self.desk, self.practice.is_some()), if ends_us.is_none() => match input {
                    Input::Wish(Wish::Stop) => {
                        exit = Exit::Interrupted;
                        break;
                    }
                    Input::Wish(wish) => self.wish(wish),
                    Input::Unclear(text) => eprintln_line(&text),
                    Input::Resized => self.stale = true,
                    Input::Ended => ends_us = Some(self.desk.now_us() + SEEN_OUT_US),
                    Input::Nothing => {}
                },
                _ = pictures.tick() => {
                    self.desk.tick(source.now_us());
                    if ends_us.is_some_and(|ends_us| self.desk.now_us() >= ends_us) {
                        eprintln_line("standard input has ended, and with it the practice");
                        exit = Exit::Interrupted;
                        break;
                    }
                }
                press = pressed(&mut self.share) => self.press(press)?,
                arrival = source.next() => match arrival? {
                    Some(arrival) => {
                        self.desk.take(arrival);
                        self.stale = true;
                        self.unshared = true;
                    }
                    None => self.desk.source_ended(),
                },
            }
            self.tell()?;
            if self.stale && self.drawn.elapsed() >= PICTURE_EVERY {
                self.draw()?;
            }
            self.share_picture(false);
        }
        self.desk.leave();
        self.let_go(source, ending).await;
        self.tell()?;
        self.share_picture(true);
        Ok(exit)
    }

    /// Gives the terminal back; what goes on is who looks, and the words that still come.
    pub(super) fn over(self) -> (Option<Share>, Option<Words>) {
        let words = match self.front {
            Front::Gauge(..) => None,
            Front::Plain(words) => Some(words),
        };
        (self.share, words)
    }

    /// Stops the sensor and takes what had already arrived.
    async fn let_go(&mut self, source: &mut Box<dyn Source>, ending: &mut Ending) {
        tokio::select! {
            _ = tokio::time::timeout(LET_GO, source.stop()) => {}
            () = ending.asked() => {}
        }
        while let Ok(Ok(Some(arrival))) = tokio::time::timeout(LAST_ARRIVALS, source.next()).await {
            self.desk.take(arrival);
        }
        // What went wrong is kept by the desk, and told at the end.
        let _ = self.desk.close();
    }

    /// A button on a phone: the same as the key, and the terminal says whose it was.
    fn press(&mut self, press: Press) -> Result<(), Failure> {
        let what = format!("Phone {} pressed: {}", press.phone, press.words());
        self.say(&what)?;
        self.hands.pressed = Some((self.desk.now_us(), what));
        self.wish(match press.wish {
            share::Wish::Session(command) => Wish::Session(command),
            share::Wish::Kick => Wish::Kick,
            share::Wish::Bleed => Wish::Bleed,
        });
        Ok(())
    }

    fn wish(&mut self, wish: Wish) {
        self.stale = true;
        match wish {
            Wish::Session(_) if self.desk.replayed() => {
                eprintln_line("a recording is replayed: it can be watched and stopped, no more");
            }
            Wish::Session(command) => self.desk.command(command),
            Wish::Kick => {
                if let Some(practice) = &mut self.practice {
                    practice.kick();
                }
            }
            Wish::Bleed => {
                if let Some(practice) = &mut self.practice {
                    practice.bleed();
                }
            }
            Wish::Stop | Wish::Redraw => {}
        }
    }

    /// Hands on what is new; draws at once what must not be missed.
    fn tell(&mut self) -> Result<(), Failure> {
        let mut spoken = Vec::new();
        for news in self.desk.news() {
            self.stale = true;
            self.unshared = true;
            match news {
                News::Line(text) => self.say(&text)?,
                News::Told(told) => self.say(told.text())?,
                News::Announce(announcement) => {
                    if announcement.is_loud() {
                        self.announce(&announcement)?;
                    }
                    spoken.push(announcement);
                }
                News::Written(timed) => {
                    if let Some(practice) = &mut self.practice {
                        practice.air(&timed.event);
                    }
                }
                // The session has told it.
                News::Air(_) | News::AirTested(_) => {}
                News::Asked(cylinder, condition) => {
                    if let Some(practice) = &mut self.practice {
                        practice.fit(&cylinder, condition);
                    }
                }
            }
        }
        self.share_voice(&spoken);
        // In one breath: two voices at once are none.
        if let Some(trouble) = self.alert.tell(&spoken) {
            self.say(&trouble)?;
        }
        Ok(())
    }

    fn say(&mut self, text: &str) -> Result<(), Failure> {
        if let Front::Plain(_) = self.front {
            plain::line(self.desk.now_us(), text)?;
        }
        Ok(())
    }

    fn announce(&mut self, announcement: &Announcement) -> Result<(), Failure> {
        self.draw()?;
        match &mut self.front {
            Front::Gauge(screen, _) => screen.ring()?,
            Front::Plain(_) => {
                let word = format!("* {}", alert::word(announcement));
                plain::line(self.desk.now_us(), &word)?;
            }
        }
        Ok(())
    }

    /// To the phones what a voice says, at once.
    fn share_voice(&mut self, spoken: &[Announcement]) {
        if let Some(share) = &mut self.share
            && !spoken.is_empty()
        {
            let words: Vec<&str> = spoken.iter().map(Announcement::spoken).collect();
            share.say(&words.join(" "), spoken.iter().any(Announcement::is_loud));
            self.share_picture(true);
        }
    }

    /// To the phones what the gauge shows, if it is new and time for it, or in any case.
    fn share_picture(&mut self, now: bool) {
        if let Some(share) = &mut self.share
            && (now || self.unshared && share.is_due())
        {
            self.unshared = false;
            let scene = scene(&self.desk, &self.frame, &self.hands);
            share.show(&scene, self.desk.now_us());
        }
    }

    fn draw(&mut self) -> Result<(), Failure> {
        self.stale = false;
        self.drawn = Instant::now();
        if let Front::Gauge(screen, _) = &mut self.front {
            let scene = scene(&self.desk, &self.frame, &self.hands);
            let phone = self.share.as_ref().filter(|_| self.hands.phone);
            let phone = phone.map(Share::page);
            screen.show(&scene, &mut self.hands, phone.as_ref())?;
        }
        Ok(())
    }
}

/// The next thing that the terminal or standard input gives. Once they are closed, never: a visit
/// needs no hands. But a practice engine that nobody turns any more stands still for ever.
async fn input(
    front: &mut Front,
    hands: &mut Hands,
    desk: &Desk<Session>,
    practice: bool,
) -> Input {
    match front {
        Front::Gauge(_, events) => match events.recv().await {
            Some(TerminalEvent::Key(key)) => {
                let wish = hands.press(key, desk.guide.stage());
                wish.map_or(Input::Nothing, Input::Wish)
            }
            Some(TerminalEvent::Resize(..)) => Input::Resized,
            Some(_) => Input::Nothing,
            None => std::future::pending().await,
        },
        Front::Plain(words) => match words.recv().await {
            Some(Ok(wish)) => Input::Wish(wish),
            Some(Err(unclear)) => Input::Unclear(unclear),
            None if practice => Input::Ended,
            None => std::future::pending().await,
        },
    }
}

/// The next button that is pressed on a phone.
async fn pressed(share: &mut Option<Share>) -> Press {
    match share {
        Some(share) => share.press().await,
        None => std::future::pending().await,
    }
}

fn eprintln_line(text: &str) {
    // Nothing is left to tell the user with if standard error itself is gone.
    let _ = out::stderr().line(text);
}
