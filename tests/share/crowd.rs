//! As many phones as there may be, one that never reads, and one that comes too late.

use crate::tool::{Phone, Shared};
use needlerest::pipeline::{Options, analyse};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// Nothing is missing in a recording: no packet of the sensor's numbers, no line.
pub fn is_whole(path: &Path) {
    let input = BufReader::new(File::open(path).expect("kept"));
    let findings = analyse(input, Options::default()).expect("sound").findings;
    assert_eq!(findings.sensor.packets.lost, 0);
    assert!(findings.sensor.packets.samples > 0);
    let damage = needlerest::report::damage(&findings.recording);
    assert!(damage.is_empty(), "{damage:?}");
}

#[test]
fn sixteen_look_and_the_seventeenth_is_told() {
    let mut shared = Shared::practice(&["--cautions-read"]);
    let mut phones: Vec<Phone> = (0..16).map(|n| shared.phone(&format!("p{n}"))).collect();
    for phone in &mut phones {
        phone.until("FIT & CRANK");
    }
    let mut late = shared.phone("late");
    assert_eq!(late.event().expect("told").0, "full");
    assert!(late.event().is_none());
    // One of them comes again, by another connection: its place is its own.
    let mut again = shared.phone("p3");
    assert_eq!(
        again.event().expect("greeted"),
        ("hello".to_owned(), "4".to_owned())
    );
    phones.pop().expect("sixteen").leave();
    // As soon as the program sees that it has gone, there is room.
    for _ in 0..600 {
        let mut late = shared.phone("late");
        if late.event().expect("told").0 == "hello" {
            late.until("FIT & CRANK");
            shared.stop();
            return is_whole(&shared.file());
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    panic!("never let in");
}

#[test]
fn one_that_never_reads_holds_up_nobody() {
    let mut shared = Shared::practice(&["--cautions-read"]);
    let deaf: Vec<Phone> = (0..15).map(|n| shared.phone(&format!("deaf{n}"))).collect();
    let mut phone = shared.phone("mine");
    phone.until("FIT & CRANK");
    for _ in 0..6 {
        shared.say("kick");
    }
    phone.until("STOP");
    phone.until("BLEED");
    shared.say("bleed");
    phone.picture(|shown| shown["picture"]["cylinder"][1] == "2");
    drop(deaf);
    shared.stop();
    is_whole(&shared.file());
}
