//! The program with its gauge shared, and a small client that can be as rude as it likes.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Shutdown, SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tempfile::TempDir;

/// Longest wait for an answer: no measure of speed, only so that a test ends.
const LONGEST: Duration = Duration::from_mins(1);
/// Events that a phone waits for what it wants to see.
const MOST: usize = 1500;

/// The program, sharing.
pub struct Shared {
    pub child: Child,
    pub address: SocketAddr,
    pub token: String,
    stdin: Option<ChildStdin>,
    /// What it has printed so far.
    printed: Arc<Mutex<String>>,
    folder: TempDir,
}

impl Shared {
    /// A practice, with these options more.
    pub fn practice(options: &[&str]) -> Self {
        let words = ["practice", "kept.jsonl", "--plain", "--share"];
        Self::start(&[&words, options].concat())
    }

    pub fn start(words: &[&str]) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut child = Command::new(env!("CARGO_BIN_EXE_needlerest"))
            .args(words)
            .current_dir(folder.path())
            .env("XDG_CONFIG_HOME", folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut told = BufReader::new(child.stderr.take().expect("a pipe"));
        let url = told_url(&mut told);
        std::thread::spawn(move || told.read_to_end(&mut Vec::new()));
        let printed = Arc::new(Mutex::new(String::new()));
        let (kept, stdout) = (printed.clone(), child.stdout.take().expect("a pipe"));
        std::thread::spawn(move || {
            for line in BufReader::new(stdout).lines().map_while(Result::ok) {
                let mut printed = kept.lock().expect("whole");
                printed.push_str(&line);
                printed.push('\n');
            }
        });
        let rest = url.strip_prefix("http://").expect("an address");
        let (address, token) = rest.split_once('/').expect("a secret");
        Self {
            address: address.parse().expect("by number"),
            token: token.to_owned(),
            stdin: child.stdin.take(),
            printed,
            folder,
            child,
        }
    }

    pub fn file(&self) -> PathBuf {
        self.folder.path().join("kept.jsonl")
    }

    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub fn printed(&self) -> String {
        self.printed.lock().expect("whole").clone()
    }

    /// A line for its standard input.
    pub fn say(&mut self, line: &str) {
        let stdin = self.stdin.as_mut().expect("open");
        writeln!(stdin, "{line}").expect("it listens");
    }

    /// Waits until it has printed this.
    pub fn until(&self, words: &str) {
        for _ in 0..600 {
            if self.printed().contains(words) {
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("never prints {words:?}:\n{}", self.printed());
    }

    /// A connection to it.
    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.address).expect("it listens");
        stream.set_read_timeout(Some(LONGEST)).expect("a limit");
        stream.set_write_timeout(Some(LONGEST)).expect("a limit");
        stream
    }

    /// Sends these bytes as they are; gives everything that comes back.
    pub fn raw(&self, bytes: &[u8]) -> String {
        let mut stream = self.connect();
        // It may have had enough before the end.
        let _ = stream.write_all(bytes);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// Asks for what is below the secret address.
    pub fn get(&self, below: &str) -> String {
        let (token, address) = (&self.token, self.address);
        self.raw(format!("GET /{token}{below} HTTP/1.1\r\nHost: {address}\r\n\r\n").as_bytes())
    }

    /// Presses a button as the page does, with these header lines changed or added.
    pub fn press(&self, body: &str, changed: &[(&str, &str)]) -> String {
        let origin = format!("http://{}", self.address);
        let usual = [
            ("Host", self.address.to_string()),
            ("Origin", origin),
            ("Content-Type", "application/json".to_owned()),
            ("Content-Length", body.len().to_string()),
        ];
        let token = &self.token;
        let mut request = format!("POST /{token}/press HTTP/1.1\r\n");
        let as_usual = |name: &str| changed.iter().all(|(other, _)| *other != name);
        let usual = usual.iter().filter(|(name, _)| as_usual(name));
        let usual = usual.map(|(name, value)| [name, ": ", value, "\r\n"].concat());
        let changed = changed.iter().filter(|(_, value)| !value.is_empty());
        let changed = changed.map(|(name, value)| [name, ": ", value, "\r\n"].concat());
        request.extend(usual.chain(changed));
        self.raw(format!("{request}\r\n{body}").as_bytes())
    }

    /// A phone that looks.
    pub fn phone(&self, name: &str) -> Phone {
        let mut stream = self.connect();
        let (token, address) = (&self.token, self.address);
        let ask = format!("GET /{token}/scene?phone={name} HTTP/1.1\r\nHost: {address}\r\n\r\n");
        stream.write_all(ask.as_bytes()).expect("it listens");
        Phone(BufReader::new(stream))
    }

    /// Ends it by a word, and waits for the end.
    pub fn stop(&mut self) -> Option<i32> {
        self.say("stop");
        self.stdin = None;
        self.child.wait().expect("it ends").code()
    }
}

impl Drop for Shared {
    fn drop(&mut self) {
        // Ended already, where all went well.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The address that it tells first.
fn told_url(told: &mut impl BufRead) -> String {
    let mut all = String::new();
    loop {
        let mut line = String::new();
        let read = told.read_line(&mut line).expect("text");
        assert!(read > 0, "no address: {all}");
        if let Some((_, url)) = line.trim().split_once("phone: ") {
            return url.to_owned();
        }
        all.push_str(&line);
    }
}

/// A phone that looks.
pub struct Phone(BufReader<TcpStream>);

impl Phone {
    /// The next event: what it is, and its data; none once the connection has ended.
    pub fn event(&mut self) -> Option<(String, String)> {
        let mut kind = None;
        loop {
            let mut line = String::new();
            if self.0.read_line(&mut line).ok()? == 0 {
                return None;
            }
            if let Some(word) = line.strip_prefix("event: ") {
                kind = Some(word.trim().to_owned());
            } else if let Some(data) = line.strip_prefix("data: ") {
                return Some((kind?, data.trim().to_owned()));
            }
        }
    }

    /// The next picture of which this is true.
    pub fn picture(&mut self, wanted: impl Fn(&serde_json::Value) -> bool) -> serde_json::Value {
        let mut last = String::new();
        for _ in 0..MOST {
            let (kind, data) = self.event().expect("goes on");
            if kind != "scene" {
                continue;
            }
            let shown: serde_json::Value = serde_json::from_str(&data).expect("JSON");
            if wanted(&shown) {
                return shown;
            }
            last = data;
        }
        panic!("never shown; at last: {last}");
    }

    /// Until the headline is this.
    pub fn until(&mut self, headline: &str) -> serde_json::Value {
        self.picture(|shown| shown["picture"]["headline"] == headline)
    }

    /// Goes, without a word.
    pub fn leave(self) {
        // The other side may have gone first.
        let _ = self.0.get_ref().shutdown(Shutdown::Both);
    }
}

/// The status of an answer; none where there was no answer.
pub fn status(answer: &str) -> Option<u16> {
    let rest = answer.strip_prefix("HTTP/1.")?;
    rest.split(' ').nth(1)?.parse().ok()
}
