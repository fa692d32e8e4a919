//! Requests that nobody means well with: nothing but refusals, and the visit goes on.

use crate::tool::{Shared, status};
use std::io::{Read, Write};

/// Refused by a status of the 4xx kind, or not answered at all.
fn is_refused(answer: &str) -> bool {
    answer.is_empty() || matches!(status(answer), Some(400..=499))
}

/// Everything recorded so far is whole, and more comes.
fn goes_on(shared: &mut Shared) {
    assert_eq!(status(&shared.get("")), Some(200));
    let mut phone = shared.phone("still");
    let samples_come = |shown: &serde_json::Value| shown["picture"]["number"].as_str() != Some("-");
    phone.picture(|shown| !shown["picture"].is_null() && samples_come(shown));
    phone.leave();
    assert_eq!(shared.stop(), Some(130));
    crate::crowd::is_whole(&shared.file());
}

#[test]
fn wrong_addresses_get_nowhere() {
    let mut shared = Shared::practice(&[]);
    let (token, address) = (shared.token.clone(), shared.address);
    let upper = token.to_uppercase();
    let short = &token[..token.len() - 1];
    for path in [
        "/".to_owned(),
        "//".to_owned(),
        format!("/{short}"),
        format!("/{upper}"),
        format!("/{token}x"),
        format!("//{token}"),
        format!("/./{token}"),
        format!("/x/../{token}"),
        format!("/%2f{token}"),
        format!("/{token}/"),
        format!("/{token}/."),
        format!("/{token}/kept.jsonl"),
        format!("/{token}/recording.jsonl"),
        format!("/{token}/../../etc/passwd"),
        format!("/{token}/%2e%2e/%2e%2e/etc/passwd"),
        format!("/{token}/..%5c..%5cwindows"),
        format!("/{token}//etc/passwd"),
        format!("/{token}/index.html\0.txt"),
        format!("/{token}/scene"),
        format!("/{token}/scene?phone="),
        format!("/{token}/scene?phone=a/b"),
        format!("/{token}/scene?phone={}", "a".repeat(33)),
        "*".to_owned(),
        format!("http://example.org/{short}"),
    ] {
        let answer =
            shared.raw(format!("GET {path} HTTP/1.1\r\nHost: {address}\r\n\r\n").as_bytes());
        assert!(is_refused(&answer), "{path}: {answer}");
        assert!(!answer.contains("root:"), "{path}");
    }
    // By a name, as a page of someone else's would after its name was made to mean this computer.
    for host in ["example.org", "127.0.0.1.example.org", ""] {
        let ask = format!("GET /{token} HTTP/1.1\r\nHost: {host}\r\n\r\n");
        assert!(is_refused(&shared.raw(ask.as_bytes())), "{host}");
    }
    assert!(is_refused(
        &shared.raw(format!("GET /{token} HTTP/1.0\r\n\r\n").as_bytes())
    ));
    goes_on(&mut shared);
}

#[test]
fn what_is_no_proper_request_gets_nowhere() {
    let mut shared = Shared::practice(&["--share-control"]);
    let (token, address) = (shared.token.clone(), shared.address);
    let get = format!("GET /{token} HTTP/1.1\r\nHost: {address}\r\n");
    let large = "a".repeat(1_000_000);
    let many = "X-More: 1\r\n".repeat(10_000);
    let post =
        format!("POST /{token}/press HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\n");
    for request in [
        "\r\n\r\n\r\n".to_owned(),
        "GET\r\n\r\n".to_owned(),
        "\u{16}\u{3}\u{1}\u{2}\0\u{1}\0\u{1}\u{fc}\u{3}\u{3}".to_owned() + &"x".repeat(500),
        format!("GET /{large} HTTP/1.1\r\nHost: {address}\r\n\r\n"),
        format!("{get}X-Large: {large}\r\n\r\n"),
        format!("{get}{many}\r\n"),
        format!("{get}Content-Length: 5\r\nContent-Length: 6\r\n\r\n"),
        format!("{get}Transfer-Encoding: what\r\nContent-Length: 6\r\n\r\n"),
        format!("{get}Host : x\r\n\r\n"),
        format!("BREW /{token} HTTP/1.1\r\nHost: {address}\r\n\r\n"),
        format!("PUT /{token}/press HTTP/1.1\r\nHost: {address}\r\nContent-Length: 0\r\n\r\n"),
        format!("OPTIONS /{token}/press HTTP/1.1\r\nHost: {address}\r\n\r\n"),
        format!("CONNECT example.org:80 HTTP/1.1\r\nHost: {address}\r\n\r\n"),
        format!("{post}Content-Type: application/json\r\nContent-Length: 1000000\r\n\r\n{large}"),
        format!("{post}Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"),
        format!("{post}Content-Type: application/json\r\nContent-Length: 2\r\n\r\n{{}}"),
        "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_owned(),
    ] {
        let answer = shared.raw(request.as_bytes());
        let begins: String = request.chars().take(80).collect();
        assert!(is_refused(&answer), "{begins:?}: {answer}");
    }
    goes_on(&mut shared);
}

#[test]
fn who_sends_slowly_is_let_go() {
    let mut shared = Shared::practice(&["--share-control"]);
    let (token, address) = (shared.token.clone(), shared.address);
    let head = format!(
        "POST /{token}/press HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\n\
                        Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{{"
    );
    // One that never ends its head, and one that never ends what it promised.
    for begin in ["GET /x HTTP/1.1\r\n", head.as_str()] {
        let mut stream = shared.connect();
        stream.write_all(begin.as_bytes()).expect("it listens");
        let mut answer = String::new();
        stream
            .read_to_string(&mut answer)
            .expect("ended by the other side");
        assert!(is_refused(&answer), "{answer}");
    }
    goes_on(&mut shared);
}

#[test]
fn guessing_is_answered_by_nothing_here_or_not_at_all() {
    let mut shared = Shared::practice(&[]);
    let address = shared.address;
    let ask = format!("GET /aaaaaaaaaaaaaaaaaaaaaaaaaa HTTP/1.1\r\nHost: {address}\r\n\r\n");
    let answers: Vec<String> = (0..300).map(|_| shared.raw(ask.as_bytes())).collect();
    assert!(answers.iter().all(|answer| is_refused(answer)));
    assert!(answers.iter().any(|answer| status(answer) == Some(404)));
    // Whoever guesses keeps out nobody who knows.
    assert_eq!(status(&shared.get("")), Some(200));
    goes_on(&mut shared);
}

#[test]
fn a_thousand_connections_take_nothing_away() {
    let mut shared = Shared::practice(&["--cautions-read"]);
    let mut phone = shared.phone("before");
    phone.until("FIT & CRANK");
    let mut open = Vec::new();
    for _ in 0..1000 {
        match std::net::TcpStream::connect(shared.address) {
            Ok(stream) => open.push(stream),
            Err(error) => panic!("{} connections, then: {error}", open.len()),
        }
    }
    // Whoever looked already goes on looking.
    shared.say("kick");
    phone.picture(|shown| !shown["picture"]["about"][0].is_null());
    drop(open);
    phone.leave();
    for _ in 0..600 {
        if status(&shared.get("")) == Some(200) {
            return goes_on(&mut shared);
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    panic!("nobody can look any more");
}

#[test]
fn no_other_site_can_press() {
    let mut shared = Shared::practice(&["--share-control"]);
    let mut phone = shared.phone("mine");
    phone.until("READ FIRST");
    let go = r#"{"phone":"mine","word":"go"}"#;
    for changed in [
        [("Origin", "http://example.org")].as_slice(),
        &[("Origin", "null")],
        &[("Origin", "")],
        &[("Sec-Fetch-Site", "cross-site")],
        &[("Sec-Fetch-Site", "same-site")],
        &[("Content-Type", "text/plain")],
        &[("Content-Type", "application/x-www-form-urlencoded")],
        &[("Host", "example.org"), ("Origin", "http://example.org")],
    ] {
        let answer = shared.press(go, changed);
        assert!(is_refused(&answer), "{changed:?}: {answer}");
    }
    let other = r#"{"phone":"nobody","word":"go"}"#;
    assert_eq!(status(&shared.press(other, &[])), Some(409));
    assert!(!shared.printed().contains("pressed"));
    assert_eq!(status(&shared.press(go, &[])), Some(202));
    phone.picture(|shown| shown["picture"]["cautions"] == false);
    phone.leave();
    goes_on(&mut shared);
}
