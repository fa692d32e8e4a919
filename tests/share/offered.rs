//! After the visit: what was made of it, until the program ends.

use crate::tool::{Phone, Shared, status};

fn finished() -> (Shared, Phone) {
    let mut shared = Shared::practice(&["--cautions-read"]);
    let mut phone = shared.phone("mine");
    phone.until("FIT & CRANK");
    for _ in 0..6 {
        shared.say("kick");
    }
    phone.until("STOP");
    phone.until("BLEED");
    assert_eq!(status(&shared.get("/recording.jsonl")), Some(404));
    shared.say("bleed");
    phone.until("FIT & CRANK");
    shared.say("skip");
    phone.until("RUNS MADE");
    shared.say("finish");
    (shared, phone)
}

#[test]
fn report_and_recording_are_offered_until_the_program_ends() {
    let (mut shared, mut phone) = finished();
    let last = phone.picture(|shown| shown["files"].as_array().is_some_and(|f| !f.is_empty()));
    let files = last["files"].as_array().expect("a list");
    let names: Vec<&str> = files
        .iter()
        .filter_map(|file| file["name"].as_str())
        .collect();
    assert!(names.contains(&"index.html") && names.contains(&"recording.jsonl"));
    let report = shared.folder().join("kept-report");
    for (name, path) in [
        ("index.html", report.join("index.html")),
        ("findings.json", report.join("findings.json")),
        ("recording.jsonl", shared.file()),
    ] {
        let answer = shared.get(&format!("/{name}"));
        assert_eq!(status(&answer), Some(200), "{name}");
        let kept = std::fs::read_to_string(path).expect("made");
        assert!(chunks(&answer) == kept, "{name} is not what is in the file");
    }
    for name in [
        "kept.jsonl",
        "../kept.jsonl",
        "%2e%2e/kept.jsonl",
        "index.htm",
        "",
    ] {
        assert_eq!(
            status(&shared.get(&format!("/{name}"))),
            Some(404),
            "{name}"
        );
    }
    shared.until("until this program ends");
    assert_eq!(shared.stop(), Some(0));
    assert!(std::net::TcpStream::connect(shared.address).is_err());
}

/// The contents of an answer that comes in chunks (RFC 9112, 7.1).
fn chunks(answer: &str) -> String {
    let (head, mut rest) = answer.split_once("\r\n\r\n").expect("a head");
    assert!(head.contains("transfer-encoding: chunked"), "{head}");
    let mut contents = String::new();
    loop {
        let (size, after) = rest.split_once("\r\n").expect("a size");
        let size = usize::from_str_radix(size, 16).expect("a number");
        if size == 0 {
            return contents;
        }
        contents.push_str(&after[..size]);
        rest = after[size..].strip_prefix("\r\n").expect("its end");
    }
}
