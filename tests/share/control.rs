//! Buttons: the same as the keys, and everyone sees whose it was.

use crate::tool::{Shared, status};
use needlerest::recording::{Event, Record, open};

#[test]
fn a_page_that_may_only_look_changes_nothing() {
    let mut shared = Shared::practice(&[]);
    let mut phone = shared.phone("mine");
    let shown = phone.until("READ FIRST");
    assert_eq!(shown["buttons"].as_array().map(Vec::len), Some(0));
    let answer = shared.press(r#"{"phone":"mine","word":"go"}"#, &[]);
    assert_eq!(status(&answer), Some(403));
    shared.stop();
    assert!(!shared.printed().contains("pressed"));
}

#[test]
fn buttons_are_kept_as_keys_are_and_can_be_taken_back() {
    let mut shared = Shared::practice(&["--share-control"]);
    let mut phone = shared.phone("mine");
    let press = |word: &str| {
        let answer = shared.press(&format!(r#"{{"phone":"mine","word":"{word}"}}"#), &[]);
        assert_eq!(status(&answer), Some(202), "{word}: {answer}");
    };
    let has = |shown: &serde_json::Value, word: &str| {
        let buttons = shown["buttons"].as_array().expect("a list");
        buttons.iter().any(|button| button["word"] == word)
    };
    phone.until("READ FIRST");
    press("go");
    let ready = phone.until("FIT & CRANK");
    assert!(has(&ready, "pause") && has(&ready, "next") && !has(&ready, "undo"));
    press("pause");
    let paused = phone.until("PAUSE");
    let note = paused["picture"]["note"].as_str().expect("who pressed");
    assert!(note.contains("Phone 1 pressed: pause"), "{note}");
    assert!(has(&paused, "undo"));
    press("undo");
    phone.until("FIT & CRANK");
    press("next");
    let skipped = phone.picture(|shown| shown["picture"]["cylinder"][1] == "2");
    assert!(has(&skipped, "undo"));
    press("undo");
    phone.picture(|shown| shown["picture"]["cylinder"][1] == "1");
    shared.until("Phone 1 pressed: next");
    shared.stop();
    let marks: Vec<String> = open(&shared.file())
        .expect("a recording")
        .filter_map(|line| match line.expect("readable").outcome {
            Ok(Record::Event(timed)) => Some(timed.event),
            _ => None,
        })
        .filter_map(|event| match event {
            Event::Mark { text } => Some(text),
            _ => None,
        })
        .collect();
    let kept = [
        "cautions read",
        "paused",
        "goes on",
        "taken back: Cylinder 1 is left out.",
    ];
    assert_eq!(marks, kept);
}

#[test]
fn oil_is_told_to_be_in_and_that_can_be_taken_back() {
    let mut shared = Shared::practice(&["--share-control", "--cautions-read"]);
    let mut phone = shared.phone("mine");
    phone.until("FIT & CRANK");
    run(&shared, &mut phone);
    shared.say("wet");
    // The second cylinder is left out; what comes next is the first one wet.
    shared.say("skip");
    let pour = phone.picture(|shown| shown["picture"]["is"] == "oil");
    let dose = pour["picture"]["next"].as_str().expect("words").to_owned();
    let press = |word: &str| {
        let answer = shared.press(&format!(r#"{{"phone":"mine","word":"{word}"}}"#), &[]);
        assert_eq!(status(&answer), Some(202), "{answer}");
    };
    press("oil");
    let poured = phone.picture(|shown| shown["picture"]["is"] != "oil");
    let next = poured["picture"]["next"].as_str().expect("words");
    assert!(next.contains("add none"), "{next}");
    press("undo");
    let again = phone.picture(|shown| shown["picture"]["is"] == "oil");
    assert_eq!(again["picture"]["next"], dose.as_str());
    shared.stop();
}

/// One run, from the first stroke to the bleed.
fn run(shared: &Shared, phone: &mut crate::tool::Phone) {
    let press = |word: &str| shared.press(&format!(r#"{{"phone":"mine","word":"{word}"}}"#), &[]);
    for _ in 0..6 {
        press("kick");
    }
    phone.until("STOP");
    phone.until("BLEED");
    press("bleed");
    phone.until("FIT & CRANK");
}
