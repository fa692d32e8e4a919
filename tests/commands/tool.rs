//! The program, started as a user starts it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// Runs the program in `folder`.
pub fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    command(folder, arguments)
        .output()
        .expect("the program starts")
}

/// Runs the program with this as its folder of settings.
pub fn run_at_home(home: &Path, arguments: &[&str]) -> Output {
    command(home, arguments)
        .env("XDG_CONFIG_HOME", home)
        .output()
        .expect("the program starts")
}

/// Runs the program in `folder` and types `input`.
pub fn run_with_input(folder: &Path, arguments: &[&str], input: &str) -> Output {
    typed_into(command(folder, arguments), input)
}

/// Runs the program with this as its folder of settings, and types `input`.
pub fn run_at_home_with(home: &Path, arguments: &[&str], input: &str) -> Output {
    let mut command = command(home, arguments);
    command.env("XDG_CONFIG_HOME", home);
    typed_into(command, input)
}

fn typed_into(mut command: Command, input: &str) -> Output {
    let mut child = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut typed = child.stdin.take().expect("standard input");
    // The program may have ended before it read everything.
    let _ = typed.write_all(input.as_bytes());
    drop(typed);
    child.wait_with_output().expect("the program ends")
}

/// The program, kept from the settings of whoever runs the tests.
fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlerest"));
    command
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env("XDG_CONFIG_HOME", folder.join("no-settings"));
    command
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
