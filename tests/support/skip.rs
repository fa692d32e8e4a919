//! Tests that need what this machine lacks: one line each, past the harness that keeps what a
//! test prints to itself.

use std::io::Write;

/// A tool that `.ci/run` installs, or names, is not there. `.ci/run` sets `NEEDLEREST_ALL_TESTS`,
/// and then it is a failure.
pub fn for_want_of(tool: &str) {
    assert!(
        std::env::var_os("NEEDLEREST_ALL_TESTS").is_none(),
        "{tool} must be here"
    );
    cannot(&format!("there is no {tool} here"));
}

/// What no installing helps: mounting without being root, tracing where it is forbidden.
pub fn cannot(why: &str) {
    let thread = std::thread::current();
    let test = thread.name().unwrap_or("a test");
    // Unlike `println!`, this is not captured.
    let _ = writeln!(std::io::stderr(), "skipped: {test}: {why}");
}
