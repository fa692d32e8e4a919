//! What the buttons on a page ask for: the same as the keys, and no more than is good to have in a
//! pocket.

use super::reply::{Reply, words};
use super::shared::Shared;
use super::wish::{Press, Wish};
use crate::leakdown::Place;
use crate::session::Command;
use http_body_util::{BodyExt, Limited};
use hyper::body::Incoming;
use hyper::header::{CONTENT_TYPE, HOST, HeaderMap, HeaderValue, ORIGIN};
use hyper::{Request, StatusCode};
use serde::Deserialize;
use std::time::Duration;

/// Bytes of what is asked for.
const MOST: usize = 2048;
/// Longest wait for it.
const WITHIN: Duration = Duration::from_secs(5);
/// Letters of a name.
const LONGEST: usize = 200;

/// As a page sends it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sent {
    phone: String,
    word: String,
    #[serde(default)]
    text: String,
}

/// Takes a press. It is done when the visit gets to it; the next picture shows what came of it.
pub(super) async fn press(shared: &Shared, request: Request<Incoming>) -> Reply {
    if !shared.control {
        let text = "this page may look only (--share-control gives it buttons)";
        return words(StatusCode::FORBIDDEN, text);
    }
    if !is_from_our_page(request.headers()) {
        return words(StatusCode::FORBIDDEN, "not asked for by this page");
    }
    let body = Limited::new(request.into_body(), MOST).collect();
    let Ok(body) = tokio::time::timeout(WITHIN, body).await else {
        return words(StatusCode::REQUEST_TIMEOUT, "too slow");
    };
    let Ok(body) = body else {
        return words(StatusCode::PAYLOAD_TOO_LARGE, "too long, or cut short");
    };
    let Some((name, wish)) = understood(&body.to_bytes()) else {
        return words(StatusCode::BAD_REQUEST, "not understood");
    };
    let Some(phone) = shared.phones.number(&name) else {
        let text = "this page is not connected: load it again";
        return words(StatusCode::CONFLICT, text);
    };
    match shared.presses.try_send(Press { phone, wish }) {
        Ok(()) => words(StatusCode::ACCEPTED, "taken"),
        Err(_) => words(StatusCode::TOO_MANY_REQUESTS, "too many at once"),
    }
}

/// Sent by a script of our own page: no other site can send JSON here without asking first, which
/// is never allowed, nor pretend to be this origin.
fn is_from_our_page(headers: &HeaderMap) -> bool {
    let text = |name| {
        let value: Option<&HeaderValue> = headers.get(name);
        value.and_then(|value| value.to_str().ok())
    };
    let host = text(HOST).map(|host| format!("http://{host}"));
    let origin = text(ORIGIN).map(str::to_owned);
    let site = headers.get("sec-fetch-site");
    origin.is_some()
        && origin == host
        && site.is_none_or(|site| site == "same-origin")
        && text(CONTENT_TYPE) == Some("application/json")
}

fn understood(body: &[u8]) -> Option<(String, Wish)> {
    let sent: Sent = serde_json::from_slice(body).ok()?;
    let name = sent.text.trim();
    let named = !name.is_empty() && name.chars().count() <= LONGEST;
    let command = match sent.word.as_str() {
        "go" => Command::Go,
        "again" => Command::Redo,
        "next" => Command::Skip,
        "oil" => Command::OilIn,
        "pause" => Command::Pause,
        "undo" => Command::Undo,
        "leak-down" => Command::LeakDown(None),
        "warm" => Command::Warm,
        "finish" => Command::Finish,
        "name" if named => Command::Name(name.to_owned()),
        "kick" => return Some((sent.phone, Wish::Kick)),
        "bleed" => return Some((sent.phone, Wish::Bleed)),
        word => Command::Hear(Place::ALL.into_iter().find(|place| place.word() == word)?),
    };
    Some((sent.phone, Wish::Session(command)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(lines: &[(&'static str, &'static str)]) -> HeaderMap {
        let pair = |(name, value): &(&'static str, &'static str)| {
            let name = hyper::header::HeaderName::from_static(name);
            (name, hyper::header::HeaderValue::from_static(value))
        };
        lines.iter().map(pair).collect()
    }

    const OURS: [(&str, &str); 4] = [
        ("host", "192.168.1.5:8023"),
        ("origin", "http://192.168.1.5:8023"),
        ("content-type", "application/json"),
        ("sec-fetch-site", "same-origin"),
    ];

    #[test]
    fn only_our_own_page_may_press() {
        assert!(is_from_our_page(&headers(&OURS)));
        // A browser that does not send where it comes from, besides the origin.
        assert!(is_from_our_page(&headers(&OURS[..3])));
        for (at, other) in [
            (1, ("origin", "http://192.168.1.6:8023")),
            (1, ("origin", "http://192.168.1.5")),
            (1, ("origin", "null")),
            (1, ("x-other", "no origin")),
            (2, ("content-type", "text/plain")),
            (3, ("sec-fetch-site", "same-site")),
            (3, ("sec-fetch-site", "cross-site")),
            (0, ("x-other", "no host")),
        ] {
            let mut lines = OURS;
            lines[at] = other;
            assert!(!is_from_our_page(&headers(&lines)), "{other:?}");
        }
    }

    #[test]
    fn words_are_few_and_a_name_is_a_name() {
        let sent = |json: &str| understood(json.as_bytes()).map(|(_, wish)| wish);
        let name = Wish::Session(Command::Name("left".into()));
        let json = r#"{"phone":"a","word":"name","text":" left "}"#;
        assert_eq!(sent(json), Some(name));
        assert_eq!(sent(r#"{"phone":"a","word":"kick"}"#), Some(Wish::Kick));
        for bad in [
            r#"{"phone":"a","word":"stop"}"#,
            r#"{"phone":"a","word":"name"}"#,
            r#"{"phone":"a","word":"go","more":1}"#,
            r#"{"word":"go"}"#,
            "go",
            "",
        ] {
            assert_eq!(sent(bad), None, "{bad}");
        }
    }
}
