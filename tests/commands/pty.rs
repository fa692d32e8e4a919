//! The program on a pseudo-terminal: there it says what it keeps to itself in a pipe.

use rustix::fs::{Mode, OFlags, open};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{
    LocalModes, OptionalActions, OutputModes, Winsize, tcgetattr, tcsetattr, tcsetwinsize,
};
use std::fs::File;
use std::io::Read;
use std::process::{Command, ExitStatus, Stdio};

/// Runs the program with a terminal of 100 columns as its standard input, output and error; gives
/// every byte that it wrote there. Nothing is typed.
pub fn on_a_terminal(mut command: Command) -> (Vec<u8>, ExitStatus) {
    let own = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
    grantpt(&own).expect("its rights");
    unlockpt(&own).expect("its other end");
    let name = ptsname(&own, Vec::new()).expect("its name");
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let end = open(&name, flags, Mode::empty()).expect("its other end opens");
    // Bytes as they are: no line feed turned into two characters, nothing echoed.
    let mut modes = tcgetattr(&end).expect("its modes");
    modes.output_modes.remove(OutputModes::OPOST);
    modes.local_modes.remove(LocalModes::ECHO);
    tcsetattr(&end, OptionalActions::Now, &modes).expect("other modes");
    let size = Winsize {
        ws_row: 40,
        ws_col: 100,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(&end, size).expect("a size");
    let twin = || Stdio::from(end.try_clone().expect("another handle"));
    let mut child = command
        .stdin(twin())
        .stdout(twin())
        .stderr(twin())
        .spawn()
        .expect("the program starts");
    // The terminal ends when nobody holds its other end any more.
    drop((command, end));
    let mut all = Vec::new();
    // It then says that it has been hung up, which is no failure.
    let _ = File::from(own).read_to_end(&mut all);
    (all, child.wait().expect("the program ends"))
}
