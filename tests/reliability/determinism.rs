//! The same recording gives the same bytes: whatever the surroundings, the speed, the number of
//! threads, the build.

use super::support::{header, packets, program};
use needlerest::recording::Writer;
use std::path::Path;
use std::process::Command;

fn demo(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo")
        .join(name);
    path.to_str().expect("UTF-8").to_owned()
}

fn printed(mut command: Command, args: &[&str]) -> Vec<u8> {
    let output = command.args(args).output().expect("the program starts");
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        [Some(0), Some(3)].contains(&output.status.code()),
        "{args:?}: {complaint}"
    );
    assert!(!output.stdout.is_empty());
    output.stdout
}

#[test]
fn the_surroundings_do_not_matter() {
    let surroundings: [&[(&str, &str)]; 4] = [
        &[
            ("LC_ALL", "de_DE.UTF-8"),
            ("LANG", "de_DE.UTF-8"),
            ("TZ", "Asia/Kolkata"),
        ],
        &[("COLUMNS", "20"), ("LINES", "5"), ("TERM", "dumb")],
        &[
            ("COLUMNS", "300"),
            ("CLICOLOR_FORCE", "1"),
            ("TZ", "America/St_Johns"),
        ],
        &[
            ("RAYON_NUM_THREADS", "1"),
            ("TOKIO_WORKER_THREADS", "1"),
            ("LC_ALL", "tr_TR"),
        ],
    ];
    let heron = demo("heron.jsonl");
    let args = ["replay", &heron, "--json"];
    let plain = printed(program(), &args);
    for variables in surroundings {
        let mut command = program();
        command.envs(variables.iter().copied());
        assert!(printed(command, &args) == plain, "{variables:?}");
    }
}

#[test]
fn the_number_of_threads_does_not_matter() {
    let folder = demo("");
    let with = |threads: &str| {
        let mut command = program();
        command.env("RAYON_NUM_THREADS", threads);
        printed(command, &["overview", &folder, "--json"])
    };
    assert!(with("1") == with("7"));
}

/// Recorded at its own speed and as fast as it goes, and analysed so: the same bytes.
#[test]
fn the_speed_does_not_matter() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("UTF-8").to_owned();
    let (tape, slow, fast) = (path("tape.jsonl"), path("slow.jsonl"), path("fast.jsonl"));
    let mut writer = Writer::create(Path::new(&tape), &header()).expect("a tape");
    for packet in packets(500.0, 10).take(120) {
        writer.packet(&packet).expect("a tape");
    }
    writer.seal().expect("a tape");
    printed(program(), &["record", &slow, "--replay", &tape]);
    printed(
        program(),
        &["record", &fast, "--replay", &tape, "--speed", "0"],
    );
    let read = |path: &str| std::fs::read(path).expect("recorded");
    assert!(read(&slow) == read(&fast));

    let wren = demo("wren.jsonl");
    let at_once = printed(program(), &["replay", &wren, "--json"]);
    let told = printed(program(), &["replay", &wren, "--json", "--speed", "5000"]);
    // With a speed what happens is told first, as it happens; the findings come last.
    assert!(told.ends_with(&at_once));
}

/// `.ci/run` names the optimised program; without it there is nothing to compare with.
#[test]
fn the_build_does_not_matter() {
    let Some(other) = std::env::var_os("NEEDLEREST_OTHER_BUILD") else {
        super::skip::for_want_of("other build (NEEDLEREST_OTHER_BUILD)");
        return;
    };
    for name in ["heron.jsonl", "wren.jsonl", "finch.jsonl", "otter.jsonl"] {
        let file = demo(name);
        let args = ["replay", file.as_str(), "--json"];
        assert!(
            printed(program(), &args) == printed(Command::new(&other), &args),
            "{name}"
        );
    }
}
