//! The fuzzers' kept corpora through the same checks, on a stable compiler. Every file that ever
//! made a fuzzer stop is among them.

use super::checks;
use std::fs;
use std::path::Path;

fn replay(name: &str, check: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpora")
        .join(name);
    let mut files: Vec<_> = fs::read_dir(&folder)
        .expect("a corpus")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    files.sort();
    assert!(
        files.len() >= 20,
        "{}: too few to mean anything",
        folder.display()
    );
    for file in files {
        let bytes = fs::read(&file).expect("a file of the corpus");
        assert!(bytes.len() <= 4096, "{}: kept small", file.display());
        println!("{}", file.display());
        check(&bytes);
    }
}

#[test]
fn protocol_file() {
    replay("protocol_file", checks::protocol_file);
}

#[test]
fn packet_decoder() {
    replay("packet_decoder", checks::packet_decoder);
}

#[test]
fn recording_reader() {
    replay("recording_reader", checks::recording_reader);
}

#[test]
fn job_card() {
    replay("job_card", checks::job_card);
}

#[test]
fn signal() {
    replay("signal", checks::signal);
}

#[test]
fn report() {
    replay("report", checks::report);
}
