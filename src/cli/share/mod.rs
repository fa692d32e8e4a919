//! `--share`: the live gauge as a page for the phone. Nothing here runs, and no socket is opened,
//! unless it is asked for.
//!
//! The page is a view of the same [`Scene`] as the terminal's gauge. The newest one is put up; who
//! looks takes it from there. Nothing waits for those who look.

mod buttons;
mod code;
mod files;
mod offered;
mod page;
mod phones;
mod place;
mod press;
mod reply;
mod route;
mod server;
mod shared;
mod stream;
mod token;
mod tries;
mod wish;

pub(in crate::cli) use place::Place;
pub(in crate::cli) use wish::{Press, Wish};

use super::gauge::{PhonePage, Picture, Scene};
use super::{Exit, Failure, out};
use anstyle::{Ansi256Color, Style};
use buttons::{Button, buttons};
use offered::Offered;
use serde::Serialize;
use server::Server;
use shared::Shared;
use std::io::{self, IsTerminal, Write};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};
use token::Token;
use tokio::sync::{mpsc, watch};

/// From one picture to the next, at most so often: a phone's screen is drawn 60 times a second, and
/// the air is shared with the sensor.
const PICTURE_EVERY: Duration = Duration::from_millis(40);
/// Presses that wait until the visit gets to them.
const PRESSES: usize = 32;

/// A page for the phone
#[derive(Clone, Debug, clap::Args)]
pub(in crate::cli) struct Sharing {
    /// Show the gauge as a page for a phone, at this address of this computer (--share=192.168.1.5).
    /// Without one, an address is proposed; unless you confirm it, only this computer sees the page
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true, default_missing_value = place::ASKED)]
    share: Option<Place>,
}

/// What was said last, counted.
#[derive(Clone, Debug, Default, Serialize)]
struct Said {
    count: u64,
    text: String,
    loud: bool,
}

/// Everything that a page is sent.
#[derive(Clone, Debug, Default, Serialize)]
struct Shown {
    /// The time of what came last, in microseconds of the recording.
    t_us: u64,
    picture: Option<Picture>,
    said: Said,
    buttons: Vec<Button>,
    files: Vec<Offered>,
}

impl Shown {
    /// Whether a page would look the same.
    fn is_as(&self, other: &Self) -> bool {
        self.picture == other.picture && self.buttons == other.buttons
    }
}

/// The gauge, shared.
pub(in crate::cli) struct Share {
    shared: Arc<Shared>,
    pictures: watch::Sender<Arc<str>>,
    presses: mpsc::Receiver<Press>,
    url: String,
    shown: Shown,
    /// What was said last is in no picture yet.
    unsaid: bool,
    /// When the next picture is put up.
    due: Instant,
    /// Last, so that its thread ends while the rest is still there.
    _server: Server,
}

/// Shares the gauge if that is asked for, and tells where it can be seen.
pub(in crate::cli) fn open(args: &Sharing, control: bool) -> Result<Option<Share>, Failure> {
    let Some(place) = args.share else {
        return Ok(None);
    };
    let at = place::choose(place)?;
    let share = Share::at(at, control)?;
    share.tell_where()?;
    Ok(Some(share))
}

impl Share {
    fn at(at: SocketAddr, control: bool) -> Result<Self, Failure> {
        let token = Token::new()
            .map_err(|error| Failure::new(Exit::Failed, format!("no random numbers: {error}")))?;
        let (pictures, newest) = watch::channel(line(&Shown::default()));
        let (send, presses) = mpsc::channel(PRESSES);
        let shared = Arc::new(Shared::new(token, control, newest, send));
        let server = Server::start(at, shared.clone())?;
        Ok(Self {
            url: format!("http://{}/{}", server.address, shared.token.as_str()),
            shared,
            pictures,
            presses,
            shown: Shown::default(),
            unsaid: false,
            due: Instant::now(),
            _server: server,
        })
    }

    /// Where the gauge can be seen.
    pub(in crate::cli) fn url(&self) -> &str {
        &self.url
    }

    /// Where the gauge can be seen, for the terminal.
    pub(in crate::cli) fn page(&self) -> PhonePage {
        PhonePage {
            code: self.code(),
            url: self.url.clone(),
            looking: self.shared.phones.count(),
            control: self.shared.control,
        }
    }

    fn code(&self) -> Vec<String> {
        code::lines(&self.url).unwrap_or_default()
    }

    /// What a page says before anyone cranks.
    pub(in crate::cli) fn caution(&self, cautions: Vec<(&'static str, String)>) {
        let owned = cautions
            .into_iter()
            .map(|(about, text)| (about.to_owned(), text));
        let kept = self.shared.cautions.lock();
        *kept.unwrap_or_else(PoisonError::into_inner) = owned.collect();
    }

    /// Whether it is time for the next picture.
    pub(in crate::cli) fn is_due(&self) -> bool {
        Instant::now() >= self.due
    }

    /// Puts up what there is to see now.
    pub(in crate::cli) fn show(&mut self, scene: &Scene, t_us: u64) {
        self.due = Instant::now() + PICTURE_EVERY;
        let buttons = if self.shared.control {
            buttons(scene)
        } else {
            Vec::new()
        };
        let next = Shown {
            t_us,
            picture: Some(Picture::from(scene)),
            buttons,
            ..self.shown.clone()
        };
        let same = next.is_as(&self.shown) && !self.unsaid;
        (self.shown, self.unsaid) = (next, false);
        if !same {
            self.put_up();
        }
    }

    fn put_up(&self) {
        self.pictures.send_replace(line(&self.shown));
    }

    /// With the next picture, a voice says this.
    pub(in crate::cli) fn say(&mut self, text: &str, loud: bool) {
        self.shown.said = Said {
            count: self.shown.said.count + 1,
            text: text.to_owned(),
            loud,
        };
        self.unsaid = true;
    }

    /// The next button that is pressed.
    pub(in crate::cli) async fn press(&mut self) -> Press {
        match self.presses.recv().await {
            Some(press) => press,
            None => std::future::pending().await,
        }
    }

    /// From now on the report's folder and the recording can be fetched.
    pub(in crate::cli) fn offer(&mut self, report: Option<&Path>, recording: &Path) {
        let files = offered::offered(report, recording);
        self.shown.files = files
            .iter()
            .filter(|file| file.is_named())
            .cloned()
            .collect();
        self.shown.buttons.clear();
        let kept = self.shared.offered.lock();
        *kept.unwrap_or_else(PoisonError::into_inner) = files;
        self.put_up();
    }

    /// On standard error: the address, and the code where a person can see it.
    fn tell_where(&self) -> io::Result<()> {
        let mut err = out::stderr();
        if io::stderr().is_terminal() {
            let style = Style::new()
                .fg_color(Some(Ansi256Color(16).into()))
                .bg_color(Some(Ansi256Color(231).into()));
            for line in self.code() {
                err.styled(style, &line)?;
                writeln!(err)?;
            }
        }
        err.line(format!("The gauge on the phone: {}", self.url))
    }
}

/// As one line of JSON, with nothing in it that steers. There is nothing in it that JSON cannot
/// write; should that ever change, a page sees nothing, and the visit goes on.
fn line(shown: &Shown) -> Arc<str> {
    let json = serde_json::to_string(shown).unwrap_or_default();
    out::made_visible(&json).into()
}
