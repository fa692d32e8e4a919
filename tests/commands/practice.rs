//! Practice, as far as it needs no hands.

use crate::tool::{code, complaint, printed, run_with_input};
use tempfile::tempdir;

/// The words end without `stop`: what was begun is seen out, and that is the end of it.
#[test]
fn practice_ends_when_its_words_have_ended() {
    let folder = tempdir().unwrap();
    let arguments = ["practice", "--plain", "--cautions-read"];
    let output = run_with_input(folder.path(), &arguments, "go\nkick\n");
    assert_eq!(code(&output), 130, "{}", complaint(&output));
    assert!(complaint(&output).contains("standard input has ended"));
    let said = printed(&output);
    assert!(
        said.contains("stroke") && said.contains("--resume"),
        "{said}"
    );
}

#[test]
fn each_practice_finds_a_name_of_its_own() {
    let folder = tempdir().unwrap();
    for name in ["practice.jsonl", "practice-2.jsonl", "practice-3.jsonl"] {
        let arguments = ["practice", "--plain", "--cautions-read"];
        let output = run_with_input(folder.path(), &arguments, "stop\n");
        assert_eq!(code(&output), 130, "{}", complaint(&output));
        assert!(printed(&output).contains(&format!("Recording: {name}")));
        assert!(folder.path().join(name).is_file(), "{name}");
    }
    let given = ["practice", "practice-2.jsonl", "--plain", "--cautions-read"];
    assert_eq!(code(&run_with_input(folder.path(), &given, "stop\n")), 1);
}
