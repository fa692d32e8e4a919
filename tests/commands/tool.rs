//! The program, started as a user starts it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Runs the program in `folder`.
pub fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .output()
        .expect("the program starts")
}

/// Exit code.
pub fn code(output: &Output) -> i32 {
    output.status.code().expect("the program ended by itself")
}

/// Standard error as text.
pub fn complaint(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Standard output as text.
pub fn printed(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Writes a file into the folder.
pub fn put(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("the folder takes it");
    path
}

/// Asserts that the complaint says what, where, and what to do.
pub fn assert_complete(output: &Output, place: &str) {
    let text = complaint(output);
    assert!(text.starts_with("error: "), "{text}");
    assert!(text.contains("where: ") && text.contains(place), "{text}");
    assert!(text.contains("do:    "), "{text}");
}
