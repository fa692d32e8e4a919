//! Pictures as server-sent events (WHATWG HTML, 9.2). Each reader is given the newest picture there
//! is when it can take one: those in between it never sees, and nothing piles up.

use super::phones::Phone;
use super::reply::{Reply, reply, words};
use super::shared::{Asked, Progress};
use futures::stream::unfold;
use http_body_util::{BodyExt, StreamBody};
use hyper::StatusCode;
use hyper::body::{Bytes, Frame};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// After so long without a picture: a sign of life, so that a page knows when it is cut off.
const BEAT: Duration = Duration::from_secs(1);

/// The pictures of one phone.
struct Pictures {
    phone: Option<Phone>,
    newest: watch::Receiver<Arc<str>>,
    ended: CancellationToken,
    progress: Progress,
    /// The first event has been sent, the last one.
    begun: bool,
    over: bool,
}

/// Pictures without end, for whoever calls itself `phone=…`.
pub(super) fn stream(asked: &Asked, query: Option<&str>) -> Reply {
    let name = query.and_then(|query| query.strip_prefix("phone="));
    let Some(name) = name.filter(|name| is_name(name)) else {
        return words(StatusCode::BAD_REQUEST, "no phone named");
    };
    let shared = &asked.shared;
    let pictures = Pictures {
        phone: shared.phones.come(name),
        newest: shared.pictures.clone(),
        ended: shared.ended.clone(),
        progress: asked.progress.clone(),
        begun: false,
        over: false,
    };
    let events = unfold(pictures, |mut pictures| async {
        let event = pictures.next().await?;
        Some((Ok::<_, std::io::Error>(Frame::data(event)), pictures))
    });
    let body = StreamBody::new(events).boxed_unsync();
    reply(StatusCode::OK, "text/event-stream", body)
}

fn is_name(name: &str) -> bool {
    (1..=32).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphanumeric())
}

impl Pictures {
    /// The next event; none at the end.
    async fn next(&mut self) -> Option<Bytes> {
        self.progress.made();
        if self.over {
            return None;
        }
        let Some(phone) = &self.phone else {
            self.over = true;
            return Some(event("full", ""));
        };
        if !phone.is_latest() {
            return None;
        }
        if !self.begun {
            self.begun = true;
            self.newest.mark_changed();
            return Some(event("hello", &phone.number.to_string()));
        }
        tokio::select! {
            biased;
            () = self.ended.cancelled() => {
                self.over = true;
                return Some(event("end", ""));
            }
            changed = self.newest.changed() => {
                // Gone with the visit: the end is told next.
                if changed.is_err() {
                    self.over = true;
                    return Some(event("end", ""));
                }
            }
            () = sleep(BEAT) => return Some(event("beat", "")),
        }
        let picture = self.newest.borrow_and_update().clone();
        Some(event("scene", &picture))
    }
}

/// An event; `data` is one line.
fn event(kind: &str, data: &str) -> Bytes {
    Bytes::from(format!("event: {kind}\ndata: {data}\n\n"))
}
