//! Practice, as far as it needs no hands.

use crate::tool::{code, complaint, run_with_input};
use tempfile::tempdir;

#[test]
fn each_practice_finds_a_name_of_its_own() {
    let folder = tempdir().unwrap();
    for name in ["practice.jsonl", "practice-2.jsonl", "practice-3.jsonl"] {
        let arguments = ["practice", "--plain", "--cautions-read"];
        let output = run_with_input(folder.path(), &arguments, "stop\n");
        assert_ne!(code(&output), 1, "{}", complaint(&output));
        assert!(folder.path().join(name).is_file(), "{name}");
    }
    let given = ["practice", "practice-2.jsonl", "--plain", "--cautions-read"];
    assert_eq!(code(&run_with_input(folder.path(), &given, "stop\n")), 1);
}
