//! The whole of it: a visit to the practice engine in a real terminal (tmux), and line by line.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_needlerest");
/// Only so that a hang ends: nothing here is about speed.
const GIVE_UP: Duration = Duration::from_secs(90);

/// A terminal of 80 columns and 24 rows with a server of its own, ended when it is dropped.
struct Terminal {
    server: String,
}

impl Terminal {
    /// None, with a word about it, where there is no tmux.
    fn open(name: &str, command: &str) -> Option<Self> {
        let there = Command::new("tmux").arg("-V").output().is_ok();
        if !there {
            crate::skip::for_want_of("tmux");
            return None;
        }
        let terminal = Self {
            server: format!("needlerest-{name}-{}", std::process::id()),
        };
        // The shell stays, so that what is left on the screen can be read.
        let line = format!("{command}; echo EXIT=$?; stty -a; cat");
        terminal.tmux(&["new-session", "-d", "-x", "80", "-y", "24", &line]);
        Some(terminal)
    }

    fn tmux(&self, arguments: &[&str]) -> String {
        let output = Command::new("tmux")
            .args(["-L", &self.server])
            .args(arguments)
            .output()
            .expect("tmux runs");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn screen(&self) -> String {
        self.tmux(&["capture-pane", "-p", "-S", "-200"])
    }

    fn press(&self, key: &str) {
        self.tmux(&["send-keys", key]);
    }

    fn wait_for(&self, text: &str) {
        self.until(text, || std::thread::sleep(Duration::from_millis(100)));
    }

    /// Does `something` again and again until `text` is on the screen.
    fn until(&self, text: &str, something: impl Fn()) {
        let begun = Instant::now();
        while !self.screen().contains(text) {
            assert!(
                begun.elapsed() < GIVE_UP,
                "no \"{text}\" on\n{}",
                self.screen()
            );
            something();
        }
    }

    /// Page after page, to the last.
    fn read_the_cautions(&self) {
        self.wait_for("READ FIRST");
        for _ in 0..10 {
            if !self.screen().contains("I have read them") {
                return;
            }
            self.press("Enter");
            std::thread::sleep(Duration::from_millis(300));
        }
        panic!("still on\n{}", self.screen());
    }

    /// Cranks until told to stop, waits out the leak check, bleeds.
    fn make_run(&self) {
        self.until("Stop cranking", || {
            self.press("Space");
            std::thread::sleep(Duration::from_millis(1300));
        });
        self.wait_for("Bleed the pressure off");
        self.press("b");
    }

    /// The program in it, below the shell.
    fn program(&self) -> u32 {
        let shell = self.tmux(&["list-panes", "-F", "#{pane_pid}"]);
        let shell = shell.trim();
        let children = format!("/proc/{shell}/task/{shell}/children");
        let children = fs::read_to_string(children).expect("a Linux shell");
        children.trim().parse().expect("one child")
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.tmux(&["kill-server"]);
    }
}

fn signal(process: u32, name: &str) {
    let status = Command::new("kill")
        .args([format!("-{name}"), process.to_string()])
        .status();
    assert!(status.expect("kill runs").success());
}

fn findings_by_replay(recording: &Path) -> String {
    let output = Command::new(PROGRAM)
        .args(["replay", "--json"])
        .arg(recording)
        .output()
        .expect("replays");
    String::from_utf8(output.stdout).expect("text")
}

/// One cylinder, then the battery is flat; the second cylinder with what is left; the end.
#[test]
fn a_visit_that_is_broken_off_goes_on_and_ends_with_its_report() {
    let folder = tempfile::tempdir().expect("a folder");
    let recording = folder.path().join("twin.jsonl");
    let command = format!("{PROGRAM} practice {}", recording.display());
    let Some(terminal) = Terminal::open("visit", &command) else {
        return;
    };
    terminal.read_the_cautions();
    terminal.wait_for("Fit the sensor to cylinder 1");
    terminal.make_run();
    terminal.wait_for("Fit the sensor to cylinder 2");
    assert!(terminal.screen().contains("✓ cylinder 1 cold"));
    signal(terminal.program(), "KILL");
    terminal.wait_for("EXIT=137");
    drop(terminal);

    let terminal = Terminal::open("resume", &format!("{command} --resume")).expect("as before");
    terminal.read_the_cautions();
    terminal.wait_for("Fit the sensor to cylinder 2");
    assert!(
        terminal.screen().contains("✓ cylinder 1 cold"),
        "{}",
        terminal.screen()
    );
    terminal.make_run();
    terminal.wait_for("Oil into cylinder 2: 1.4 ml (a quarter of a teaspoon)");
    terminal.press("f");
    terminal.wait_for("f again");
    terminal.press("f");
    terminal.wait_for("EXIT=");
    let screen = terminal.screen();
    assert!(
        screen.contains("Report: ") && screen.contains("twin-report"),
        "{screen}"
    );
    assert!(given_back(&screen), "{screen}");

    let report = fs::read_to_string(folder.path().join("twin-report/findings.json"));
    let replayed = findings_by_replay(&recording);
    assert_eq!(
        report.expect("the report"),
        replayed,
        "replay finds what the report says"
    );
    let found: serde_json::Value = serde_json::from_str(&replayed).expect("JSON");
    let runs = found["runs"].as_array().expect("runs");
    let counting: Vec<&str> = runs
        .iter()
        .filter(|run| run["void"] == false)
        .filter_map(|run| run["cylinder"].as_str())
        .collect();
    assert_eq!(counting, ["1", "2"]);
}

/// The terminal is in its usual mode again: lines are edited and echoed.
fn given_back(screen: &str) -> bool {
    let words: Vec<&str> = screen.split_whitespace().collect();
    let on = |word: &str| words.iter().any(|w| w.trim_end_matches(';') == word);
    on("icanon") && on("echo") && !on("-icanon")
}

#[test]
fn a_signal_gives_the_terminal_back_and_says_how_to_go_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let recording = folder.path().join("twin.jsonl");
    let command = format!("{PROGRAM} practice {} --cautions-read", recording.display());
    let Some(terminal) = Terminal::open("signal", &command) else {
        return;
    };
    terminal.wait_for("Fit the sensor to cylinder 1");
    signal(terminal.program(), "TERM");
    terminal.wait_for("EXIT=130");
    terminal.wait_for("icanon");
    let screen = terminal.screen();
    assert!(given_back(&screen), "{screen}");
    assert!(screen.contains("--resume"), "{screen}");
}

/// A visit line by line: words in, lines out.
struct Lines {
    program: std::process::Child,
    out: Receiver<String>,
    seen: Vec<String>,
}

impl Lines {
    fn start(recording: &PathBuf, arguments: &[&str]) -> Self {
        let mut program = Command::new(PROGRAM)
            .arg("practice")
            .arg(recording)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("starts");
        let (send, receive) = channel();
        let out = BufReader::new(program.stdout.take().expect("piped"));
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                if send.send(line).is_err() {
                    return;
                }
            }
        });
        Self {
            program,
            out: receive,
            seen: Vec::new(),
        }
    }

    fn say(&mut self, word: &str) {
        let input = self.program.stdin.as_mut().expect("piped");
        writeln!(input, "{word}").expect("listens");
    }

    fn wait_for(&mut self, text: &str) {
        while let Ok(line) = self.out.recv_timeout(GIVE_UP) {
            let found = line.contains(text);
            self.seen.push(line);
            if found {
                return;
            }
        }
        panic!("no \"{text}\" in\n{}", self.seen.join("\n"));
    }
}

#[test]
fn without_a_card_and_without_a_screen_runs_are_named_afterwards() {
    let folder = tempfile::tempdir().expect("a folder");
    let recording = folder.path().join("unknown.jsonl");
    let mut lines = Lines::start(&recording, &["--plain", "--no-card"]);
    lines.say("finish");
    lines.wait_for("Read the cautions first");
    lines.say("go");
    lines.wait_for("the next cylinder");
    for _ in 0..30 {
        lines.say("kick");
        std::thread::sleep(Duration::from_millis(900));
        if lines.out.try_iter().any(|line| line.contains("STOP")) {
            break;
        }
    }
    lines.wait_for("Bleed the pressure off");
    lines.say("bleed");
    lines.wait_for("the next cylinder");
    lines.say("finish");
    lines.wait_for("Which cylinder was run 1");
    lines.say("name left");
    lines.wait_for("* finished");
    lines.wait_for("Report: ");
    assert!(lines.program.wait().expect("ends").success());
    let found: serde_json::Value =
        serde_json::from_str(&findings_by_replay(&recording)).expect("JSON");
    assert_eq!(found["runs"][0]["cylinder"], "left");
    assert_eq!(found["runs"][0]["result"]["outcome"], "settled");
}
