//! No network unless it is asked for: the system calls of whole sessions are traced. Bluetooth is spoken through
//! the system's message bus, a local socket, and only by the commands that use the radio.

use std::path::Path;
use std::process::{Command, Stdio};

/// Families of sockets that a command opened, as strace names them; none if there is no strace.
fn sockets(args: &[&str], stdin: &str) -> Option<Vec<String>> {
    let calls = calls(args, stdin)?;
    let families = calls.lines().filter_map(|call| {
        let (_, family) = call.split_once("socket(")?;
        Some(family.split(',').next()?.to_owned())
    });
    Some(families.collect())
}

/// The calls about sockets that a command made.
fn calls(args: &[&str], stdin: &str) -> Option<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let trace = folder.path().join("trace");
    let script = format!("printf '{stdin}' | \"$@\"");
    let started = Command::new("strace")
        .args([
            "-f",
            "-qq",
            "-e",
            "trace=socket,connect,socketpair,bind,sendto,sendmsg",
            "-o",
        ])
        .arg(&trace)
        .args(["sh", "-c", &script, "sh", env!("CARGO_BIN_EXE_needlerest")])
        .args(args)
        .current_dir(folder.path())
        .env("HOME", folder.path())
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nowhere/bus")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    let Ok(status) = started else {
        super::skip::for_want_of("strace");
        return None;
    };
    let calls = std::fs::read_to_string(&trace).unwrap_or_default();
    if calls.is_empty() && status.code() == Some(1) && !can_trace() {
        super::skip::cannot("strace may not trace here");
        return None;
    }
    Some(calls)
}

fn can_trace() -> bool {
    super::support::tool("strace", &["-qq", "-o", "/dev/null", "true"])
}

fn demo(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo")
        .join(name);
    path.to_str().expect("UTF-8").to_owned()
}

#[test]
fn the_trace_sees_a_socket_where_there_is_one() {
    let Some(families) = sockets(&["scan", "--for", "1"], "") else {
        return;
    };
    assert!(!families.is_empty(), "scanning speaks to the message bus");
    assert!(
        families.iter().all(|family| family == "AF_UNIX"),
        "{families:?}"
    );
}

#[test]
fn sharing_without_an_address_is_for_this_computer_alone() {
    let words = [
        "practice",
        "shared.jsonl",
        "--plain",
        "--cautions-read",
        "--share",
    ];
    let Some(calls) = calls(&words, "go\\nkick\\nstop\\n") else {
        return;
    };
    let about = |what: &str| -> Vec<&str> { calls.lines().filter(|l| l.contains(what)).collect() };
    let bound = about(" bind(");
    assert_eq!(bound.len(), 1, "{calls}");
    assert!(bound[0].contains("inet_addr(\"127.0.0.1\")"), "{bound:?}");
    // It waits to be called, and calls nobody.
    assert!(about(" connect(").is_empty(), "{calls}");
    assert_eq!(about(" socket(AF_INET").len(), 1, "{calls}");
}

#[test]
fn a_session_and_its_report_open_no_socket() {
    let wren = demo("wren.jsonl");
    let sessions: [(&[&str], &str); 4] = [
        (
            &[
                "record",
                "copy.jsonl",
                "--speed",
                "0",
                "--replay",
                &wren,
                "--report",
                "made",
            ],
            "",
        ),
        (&["replay", &wren, "--report", "again"], ""),
        (&["visit", "--replay", &wren, "--speed", "0", "--plain"], ""),
        (
            &["practice", "played.jsonl", "--plain", "--cautions-read"],
            "go\\nkick\\nstop\\n",
        ),
    ];
    for (args, stdin) in sessions {
        let Some(families) = sockets(args, stdin) else {
            return;
        };
        assert!(families.is_empty(), "{args:?}: {families:?}");
    }
}
