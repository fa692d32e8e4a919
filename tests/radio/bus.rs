//! A private message bus, so that nothing here touches the machine's own.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

/// A private D-Bus daemon; dies with this value.
pub struct Bus {
    daemon: Child,
    pub address: String,
    _folder: TempDir,
}

const CONFIG: &str = r#"<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path=@SOCKET@</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
  @MORE@
</busconfig>
"#;

/// Refuses every call to BlueZ, as a bus does whose policy leaves the user out.
pub const DENY_BLUEZ: &str =
    r#"<policy context="mandatory"><deny send_destination="org.bluez"/></policy>"#;

impl Bus {
    /// Starts one; `None`, with a word about it, when this machine has no `dbus-daemon`.
    pub fn start(more_policy: &str) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a folder for the bus");
        let config = folder.path().join("bus.conf");
        let socket = folder.path().join("bus");
        let text = CONFIG
            .replace("@SOCKET@", &socket.display().to_string())
            .replace("@MORE@", more_policy);
        std::fs::write(&config, text).expect("writes the bus's configuration");
        let daemon = Command::new("dbus-daemon")
            .arg(format!("--config-file={}", config.display()))
            .args(["--nofork", "--nopidfile", "--print-address=1"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut daemon = match daemon {
            Ok(daemon) => daemon,
            Err(error) => {
                crate::skip::for_want_of(&format!("dbus-daemon ({error})"));
                return None;
            }
        };
        let mut address = String::new();
        BufReader::new(daemon.stdout.take().expect("piped"))
            .read_line(&mut address)
            .expect("the bus prints its address");
        Some(Self {
            daemon,
            address: address.trim().to_owned(),
            _folder: folder,
        })
    }

    /// Where a socket would be if there were a bus.
    pub fn nowhere() -> String {
        format!(
            "unix:path={}",
            PathBuf::from("/nonexistent/needlerest-no-bus").display()
        )
    }

    /// Ends the daemon, as a crash would.
    pub fn kill(&mut self) {
        self.daemon.kill().expect("our own child");
        self.daemon.wait().expect("our own child");
    }
}

impl Drop for Bus {
    fn drop(&mut self) {
        // Already gone when a test killed it.
        let _ = self.daemon.kill();
        let _ = self.daemon.wait();
    }
}
