//! What the page is made of, and what every answer says.

use crate::tool::{Shared, status};

#[test]
fn the_page_needs_and_may_use_nothing_but_itself() {
    let shared = Shared::practice(&[]);
    let answer = shared.get("");
    assert_eq!(status(&answer), Some(200));
    let (head, page) = answer.split_once("\r\n\r\n").expect("a head");
    let head = head.to_ascii_lowercase();
    for line in [
        "cache-control: no-store",
        "referrer-policy: no-referrer",
        "x-content-type-options: nosniff",
        "x-frame-options: deny",
        "default-src 'none'",
        "frame-ancestors 'none'",
        "form-action 'none'",
    ] {
        assert!(head.contains(line), "{line}: {head}");
    }
    assert!(!head.contains("unsafe"), "{head}");
    let (_, nonce) = head.split_once("script-src 'nonce-").expect("a nonce");
    let (nonce, _) = nonce.split_once('\'').expect("its end");
    assert_eq!(page.matches(&format!("nonce=\"{nonce}\"")).count(), 2);
    assert!(!shared.get("").contains(nonce), "a nonce is used once");
    // No outside resource, and no zoom trap.
    for bad in [
        "http://",
        "https://",
        "//cdn",
        "@import",
        "maximum-scale",
        "user-scalable",
    ] {
        assert!(!page.contains(bad), "{bad}");
    }
    assert!(!page.contains(" style=\"") && !page.contains("onclick"));
}

#[test]
fn the_cautions_are_those_of_the_terminal() {
    let shared = Shared::practice(&[]);
    shared.until("Read the cautions");
    let page = shared.get("");
    // Each line that the terminal says before it asks for them to be read.
    let printed = shared.printed();
    let said = printed
        .lines()
        .take_while(|line| !line.contains("then press Enter"))
        .filter_map(|line| Some(line.split_once(" s  ")?.1.trim()));
    let said: Vec<&str> = said.collect();
    assert!(said.len() > 8, "{printed}");
    for caution in said {
        let (about, text) = caution.split_once(". ").unwrap_or(("", caution));
        let shown = |words: &str| page.contains(&escaped(words));
        assert!(shown(caution) || shown(about) && shown(text), "{caution}");
    }
}

/// As the page writes it.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('"', "&quot;")
        .replace('\'', "&#x27;")
        .replace('<', "&lt;")
}

#[test]
fn a_phone_sees_what_plain_mode_says() {
    let mut shared = Shared::practice(&["--cautions-read"]);
    let mut phone = shared.phone("one");
    let ready = phone.until("FIT & CRANK");
    shared.say("kick");
    let climbing = phone.picture(|shown| !shown["picture"]["about"][0].is_null());
    shared.say("kick");
    shared.say("kick");
    shared.say("kick");
    shared.say("kick");
    let stop = phone.until("STOP");
    let reading = stop["picture"]["number"]
        .as_str()
        .expect("a number")
        .to_owned();
    for shown in [&ready, &stop] {
        shared.until(shown["picture"]["next"].as_str().expect("words"));
    }
    shared.until(&format!("reads {reading} psi"));
    assert_eq!(climbing["picture"]["cylinder"][1], "1");
    assert_eq!(climbing["picture"]["count"], "run 1 of 2");
    // Who comes later is shown the newest state first.
    let mut late = shared.phone("late");
    let (hello, number) = late.event().expect("a greeting");
    assert_eq!((hello.as_str(), number.as_str()), ("hello", "2"));
    let (kind, data) = late.event().expect("a picture");
    assert_eq!(kind, "scene");
    assert!(
        data.contains("\"STOP\"") || data.contains("\"BLEED\""),
        "{data}"
    );
    late.leave();
    shared.stop();
    // The end is told.
    while let Some((kind, _)) = phone.event() {
        if kind == "end" {
            return;
        }
    }
    panic!("the end was not told");
}
