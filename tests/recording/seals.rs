//! SHA-256 against its standard's examples, and seals against another implementation: Python's
//! hashlib (`fixtures/recording/seals.py`).

use needlerest::recording::{Reader, SealState};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::path::Path;

/// The examples of FIPS 180-2, appendix B.1 to B.3 (FIPS 180-4 points to the same ones): one block,
/// two blocks, a million letters.
#[test]
fn the_digest_gives_the_examples_of_the_standard() {
    let two_blocks = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    let examples = [
        (
            "abc".to_owned(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        ),
        (
            two_blocks.to_owned(),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (
            "a".repeat(1_000_000),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
        ),
    ];
    for (text, wanted) in examples {
        assert_eq!(hex::encode(Sha256::digest(&text)), wanted);
        // Piece by piece, as a recording is written and read.
        let mut pieces = Sha256::new();
        text.as_bytes()
            .chunks(37)
            .for_each(|piece| pieces.update(piece));
        assert_eq!(hex::encode(pieces.finalize()), wanted);
    }
}

#[derive(Deserialize)]
struct Fixture {
    seals: Vec<Seal>,
}

#[derive(Deserialize)]
struct Seal {
    file: String,
    lines: usize,
    sha256: String,
}

/// The four demo recordings, the one of version 0.1.0, and the example of the format's description.
#[test]
fn seals_are_what_another_implementation_gives() {
    let text = include_str!("../../fixtures/recording/seals.json");
    let fixture: Fixture = serde_json::from_str(text).expect("JSON");
    assert_eq!(fixture.seals.len(), 6);
    for seal in fixture.seals {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(&seal.file);
        let whole = std::fs::read_to_string(path).expect("a recording");
        // In a document the recording is the example.
        let example = whole.split("```jsonl\n").nth(1);
        let recording = example.map_or(whole.as_str(), |rest| rest.split("```").next().unwrap());
        let mut reader = Reader::new(recording.as_bytes()).expect("a recording");
        assert_eq!(reader.by_ref().count(), seal.lines, "{}", seal.file);
        let holds = SealState::Holds {
            sha256: seal.sha256,
        };
        let remedy = "made anew? python fixtures/recording/seals.py";
        assert_eq!(*reader.seal(), holds, "{}: {remedy}", seal.file);
    }
}
