//! The program under test, as a child process: the same binary that users run.

use std::path::Path;
use std::process::{Output, Stdio};
use std::time::Duration;
use tempfile::TempDir;
use tokio::process::{Child, Command};

/// Longest any run in these tests may take: a hang is a failure.
const LIMIT: Duration = Duration::from_mins(1);

/// How the program is started: on which bus, with which home.
pub struct Tool {
    bus: String,
    home: TempDir,
}

impl Tool {
    pub fn new(bus: &str) -> Self {
        Self {
            bus: bus.to_owned(),
            home: tempfile::tempdir().expect("a home folder"),
        }
    }

    /// Where the program may write.
    pub fn folder(&self) -> &Path {
        self.home.path()
    }

    pub fn start(&self, args: &[&str]) -> Running {
        let child = Command::new(env!("CARGO_BIN_EXE_needlerest"))
            .args(args)
            .env("DBUS_SYSTEM_BUS_ADDRESS", &self.bus)
            .env("HOME", self.home.path())
            .env("XDG_CONFIG_HOME", self.home.path().join("config"))
            .env_remove("RUST_BACKTRACE")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()
            .expect("the program starts");
        Running { child }
    }

    /// Runs it to its end on a terminal; gives what it wrote there.
    pub async fn on_a_terminal(&self, args: &[&str]) -> String {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_needlerest"));
        command
            .args(args)
            .env("DBUS_SYSTEM_BUS_ADDRESS", &self.bus)
            .env("HOME", self.home.path())
            .env("XDG_CONFIG_HOME", self.home.path().join("config"))
            .env("NO_COLOR", "1");
        let ran = tokio::task::spawn_blocking(|| crate::pty::on_a_terminal(command)).await;
        let (said, _) = ran.expect("the program ends");
        String::from_utf8(said).expect("UTF-8")
    }

    /// Runs it to its end.
    pub async fn run(&self, args: &[&str]) -> Ended {
        self.start(args).end().await
    }
}

/// The program while it runs.
pub struct Running {
    child: Child,
}

impl Running {
    pub fn pid(&self) -> u32 {
        self.child.id().expect("still runs")
    }

    /// Sends a signal, such as `INT`.
    pub fn signal(&self, name: &str) {
        let pid = self.pid().to_string();
        let done = std::process::Command::new("kill")
            .args(["-s", name, &pid])
            .status();
        assert!(done.expect("kill runs").success());
    }

    /// Waits for its end.
    pub async fn end(self) -> Ended {
        let output = tokio::time::timeout(LIMIT, self.child.wait_with_output()).await;
        Ended::from(
            output
                .expect("the program hangs")
                .expect("the program's output"),
        )
    }
}

/// What the program left behind.
#[derive(Debug)]
pub struct Ended {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl From<Output> for Ended {
    fn from(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("the program writes UTF-8");
        Self {
            code: output.status.code().unwrap_or(-1),
            out: text(output.stdout),
            err: text(output.stderr),
        }
    }
}

impl Ended {
    /// Must have ended so; shows everything otherwise.
    pub fn expect(&self, code: i32) -> &Self {
        assert_eq!(
            self.code, code,
            "stdout:\n{}\nstderr:\n{}",
            self.out, self.err
        );
        assert!(
            !self.err.contains("panicked"),
            "a panic reached the user:\n{}",
            self.err
        );
        self
    }

    /// What it printed must hold each of these.
    pub fn says(&self, texts: &[&str]) -> &Self {
        let all = format!("{}\n{}", self.out, self.err);
        for text in texts {
            assert!(all.contains(text), "\"{text}\" is not in:\n{all}");
        }
        self
    }
}
