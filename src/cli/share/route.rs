//! From a request to its answer.

use super::files::file;
use super::page::page;
use super::press::press;
use super::reply::{Reply, nothing_here, words};
use super::shared::Asked;
use super::stream::stream;
use hyper::body::Incoming;
use hyper::header::HOST;
use hyper::{Method, Request, StatusCode};
use std::net::IpAddr;

/// Not answered at all: the connection ends.
#[derive(Debug)]
pub(super) struct Unanswered;

impl std::fmt::Display for Unanswered {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("not answered")
    }
}

impl std::error::Error for Unanswered {}

/// The answer. Paths are compared as they are: nothing is decoded, joined or looked for.
pub(super) async fn answer(asked: &Asked, request: Request<Incoming>) -> Result<Reply, Unanswered> {
    let shared = &asked.shared;
    let path = request.uri().path();
    let (token, what) = path.strip_prefix('/').map_or(("", None), halves);
    let known = shared.token.is(token) && is_addressed_by_number(&request);
    if !known {
        if !shared.answers_a_wrong_try() {
            return Err(Unanswered);
        }
        return Ok(nothing_here());
    }
    let what = what.map(str::to_owned);
    Ok(match (request.method(), what.as_deref()) {
        (&Method::GET, None) => page(shared),
        (&Method::GET, Some("scene")) => stream(asked, request.uri().query()),
        (&Method::GET, Some(name)) => file(asked, name),
        (&Method::POST, Some("press")) => press(shared, request).await,
        (&Method::POST, _) => nothing_here(),
        _ => words(StatusCode::METHOD_NOT_ALLOWED, "only GET and POST"),
    })
}

/// What comes before and after the first `/`.
fn halves(path: &str) -> (&str, Option<&str>) {
    match path.split_once('/') {
        Some((token, what)) => (token, Some(what)),
        None => (path, None),
    }
}

/// By an address in numbers, or as this computer itself: a name could be anyone's, and be made to
/// mean this computer later.
fn is_addressed_by_number(request: &Request<Incoming>) -> bool {
    let host = request
        .headers()
        .get(HOST)
        .and_then(|host| host.to_str().ok());
    host.is_some_and(is_number)
}

fn is_number(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    };
    let bare = name
        .strip_prefix('[')
        .and_then(|name| name.strip_suffix(']'));
    name == "localhost" || bare.unwrap_or(name).parse::<IpAddr>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_not_addresses() {
        for good in [
            "192.168.1.5:8023",
            "127.0.0.1",
            "localhost:80",
            "[fd00::5]:80",
            "[::1]",
        ] {
            assert!(is_number(good), "{good}");
        }
        for bad in [
            "example.org",
            "192.168.1.5.example.org:80",
            "",
            ":80",
            "localhost.org",
        ] {
            assert!(!is_number(bad), "{bad}");
        }
    }

    #[test]
    fn a_path_is_a_secret_and_a_name() {
        assert_eq!(halves("abc"), ("abc", None));
        assert_eq!(halves("abc/scene"), ("abc", Some("scene")));
        assert_eq!(halves("abc/../x"), ("abc", Some("../x")));
        assert_eq!(halves("/abc"), ("", Some("abc")));
    }
}
