//! `protocol conform` against the stand-in: the reference sensor keeps what it promises, and each
//! way of not keeping it is found and named.

use crate::bus::Bus;
use crate::daemon::Daemon;
use crate::find::setup;
use crate::peripheral::Firmware;
use crate::reference::{self, Reference};
use crate::tool::{Ended, Tool};
use std::time::Duration;

/// What a firmware gets wrong.
#[derive(Clone, Copy, PartialEq)]
enum Fault {
    None,
    /// A packet number is left out now and then, though nothing was lost.
    Numbers,
    /// Its clock is slow by a tenth.
    Clock,
    /// It goes on after a stop.
    Stop,
    /// It takes the command, and stays off its zero.
    Zero,
    /// The rate stays as it was.
    Rate,
    /// It streams as soon as it is listened to.
    Start,
}

struct Faulty {
    inner: Reference,
    fault: Fault,
    made: u32,
}

impl Firmware for Faulty {
    fn command(&mut self, bytes: &[u8]) -> Result<(), String> {
        match (self.fault, bytes) {
            (Fault::Stop, [2]) | (Fault::Zero, [3]) | (Fault::Rate, [4, ..]) => Ok(()),
            _ => self.inner.command(bytes),
        }
    }

    fn streaming(&self) -> bool {
        self.inner.streaming() || self.fault == Fault::Start
    }

    fn disconnected(&mut self) {
        self.inner.disconnected();
    }

    fn next(&mut self) -> Vec<u8> {
        self.made += 1;
        if self.fault == Fault::Numbers && self.made.is_multiple_of(50) {
            self.inner.next();
        }
        let mut payload = self.inner.next();
        match self.fault {
            Fault::Clock => {
                // Little endian, bytes 2 to 5: the tick of the first sample.
                let tick = u32::from_le_bytes([payload[2], payload[3], payload[4], payload[5]]);
                let slow = (u64::from(tick) * 9 / 10) as u32;
                payload[2..6].copy_from_slice(&slow.to_le_bytes());
                payload
            }
            _ => payload,
        }
    }

    fn period(&self) -> Duration {
        self.inner.period()
    }
}

async fn conform(fault: Fault) -> Option<Ended> {
    let bus = Bus::start("")?;
    let mut setup = setup(vec![reference::peripheral()]);
    setup.firmware = Box::new(Faulty {
        inner: Reference::at_rest(500.0),
        fault,
        made: 0,
    });
    let _daemon = Daemon::start(&bus.address, setup).await;
    let tool = Tool::new(&bus.address);
    Some(tool.run(&["protocol", "conform", "--for", "4"]).await)
}

/// The verdict on a line.
fn verdict<'a>(ended: &'a Ended, what: &str) -> &'a str {
    let mut lines = ended.out.lines();
    let line = lines.find(|line| line.get(6..).is_some_and(|rest| rest.starts_with(what)));
    let line = line.unwrap_or_else(|| panic!("{what}:\n{}{}", ended.out, ended.err));
    line.split_whitespace().next().unwrap_or_default()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sound_sensor_conforms() {
    let Some(ended) = conform(Fault::None).await else {
        return;
    };
    ended
        .expect(0)
        .says(&["It keeps what its protocol file promises."]);
    for what in [
        "services",
        "waits for start",
        "starts",
        "layout",
        "packet numbers",
        "rate ",
        "clock",
        "zero",
        "rate 1000",
        "rate 10 ",
        "rate 500",
        "stop",
    ] {
        assert_eq!(verdict(&ended, what), "pass", "{what}:\n{}", ended.out);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_broken_promise_is_found() {
    let faults = [
        (Fault::Numbers, "packet numbers", 1),
        (Fault::Clock, "clock", 0),
        (Fault::Stop, "stop", 1),
        (Fault::Zero, "zero", 1),
        // The highest rate and the lowest.
        (Fault::Rate, "rate 1000", 2),
        // What begins by itself does not end either.
        (Fault::Start, "waits for start", 2),
    ];
    let tried = futures::future::join_all(faults.map(|(fault, _, _)| conform(fault))).await;
    for ((_, what, follows), ended) in faults.iter().zip(tried) {
        let Some(ended) = ended else { return };
        ended.expect(6);
        assert_eq!(verdict(&ended, what), "fail", "{what}:\n{}", ended.out);
        // Nothing else is blamed, but what follows from it: a slow clock tells other rates.
        let lines = ended.out.lines();
        let failed = lines.filter(|line| line.starts_with("fail")).count();
        assert!(
            *follows == 0 || failed == *follows,
            "{what}:\n{}",
            ended.out
        );
    }
}
