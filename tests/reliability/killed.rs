//! `kill -9` at a random moment. The test is the sensor: it feeds the program through a pipe, in
//! the sensor's own time, and afterwards takes out of the pipe what the program never received.

use super::support::{Random, Tally, header, judge, kill, program, tape, tool};
use needlerest::recording::{Packet, Reader, Record, Writer};
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Child;
use std::time::{Duration, Instant};

/// A line that no recording holds: the end of what was fed.
const END: &[u8] = b"the end\n";

pub fn campaign(tries: u64, lanes: u64) -> Tally {
    let lane = |lane: u64| {
        let mut tally = Tally::of("kill -9");
        for seed in (lane..tries).step_by(lanes as usize) {
            one(seed, &mut tally);
        }
        tally
    };
    std::thread::scope(|scope| {
        let started: Vec<_> = (0..lanes)
            .map(|number| scope.spawn(move || lane(number)))
            .collect();
        started
            .into_iter()
            .map(|lane| lane.join().expect("a lane ends"))
            .fold(Tally::of("kill -9"), Tally::join)
    })
}

fn one(seed: u64, tally: &mut Tally) {
    let mut random = Random(seed);
    let folder = tempfile::tempdir().expect("a folder");
    let (feed, kept) = (folder.path().join("feed"), folder.path().join("kept.jsonl"));
    assert!(tool("mkfifo", &[feed.to_str().expect("UTF-8")]), "mkfifo");
    // Open both ways, so that neither side waits for the other and nothing fed is lost.
    let mut pipe = OpenOptions::new()
        .read(true)
        .write(true)
        .open(&feed)
        .expect("the pipe");
    let (lines, packets) = fed();
    let mut command = program();
    command
        .arg("record")
        .arg(&kept)
        .args(["--speed", "0", "--replay"]);
    command.arg(&feed);
    // Every other time somebody looks on.
    let looked_at = seed % 2 == 1;
    if looked_at {
        command.arg("--share");
    }
    let mut child = command.spawn().expect("the program starts");
    let _phone = looked_at.then(|| phone(&mut child));
    pipe.write_all(&lines[0]).expect("the pipe takes it");
    while kept.metadata().map_or(0, |meta| meta.len()) == 0 {
        std::thread::sleep(Duration::from_millis(1));
    }
    let begun = Instant::now();
    let end = Duration::from_micros(random.below(1_000_000));
    let mut sent = 0;
    for (line, packet) in lines[1..].iter().zip(&packets) {
        let due = Duration::from_micros(packet.t_us);
        if due > end {
            break;
        }
        std::thread::sleep(due.saturating_sub(begun.elapsed()));
        pipe.write_all(line).expect("the pipe takes it");
        sent += 1;
    }
    std::thread::sleep(end.saturating_sub(begun.elapsed()));
    kill(&mut child);
    let received = &packets[..sent - left_in(pipe).min(sent)];
    judge(tally, &kept, received, seed);
    goes_on(&kept, received, seed, tally);
}

/// Somebody who looks at the gauge on a phone, and never reads what comes.
fn phone(child: &mut Child) -> TcpStream {
    let told = child.stderr.take().expect("a pipe");
    let told = BufReader::new(told).lines().map_while(Result::ok);
    let url = told.filter_map(|line| Some(line.split_once("http://")?.1.to_owned()));
    let url = url.take(1).next().expect("the address is told");
    let (address, token) = url.split_once('/').expect("a secret");
    let mut stream = TcpStream::connect(address).expect("it listens");
    let ask = format!("GET /{token}/scene?phone=looks HTTP/1.1\r\nHost: {address}\r\n\r\n");
    stream.write_all(ask.as_bytes()).expect("it listens");
    stream
}

/// Lines of a recording of twenty seconds, header first, and the packets in them.
fn fed() -> (Vec<Vec<u8>>, Vec<Packet>) {
    let (bytes, packets) = tape(1000);
    let lines = bytes
        .split_inclusive(|byte| *byte == b'\n')
        .map(<[u8]>::to_vec);
    (lines.collect(), packets)
}

/// How many lines the program did not take out of the pipe; one that it took half of counts as
/// not received, as it could not be understood.
fn left_in(mut pipe: File) -> usize {
    pipe.write_all(END).expect("the pipe takes it");
    let mut lines = 0;
    let mut left = BufReader::new(pipe);
    let mut line = Vec::new();
    loop {
        line.clear();
        left.read_until(b'\n', &mut line)
            .expect("the pipe can be read");
        if line.ends_with(END) {
            return lines;
        }
        lines += 1;
    }
}

/// A recording that was cut short can be resumed, and nothing of it is lost by that.
fn goes_on(path: &Path, received: &[Packet], seed: u64, tally: &mut Tally) {
    let before = super::support::kept(path).0;
    let resumed =
        Writer::resume(path, "2026-05-10T07:00:00Z").and_then(|(writer, _)| writer.seal());
    if let Err(error) = resumed {
        tally.wrong(format!("seed {seed}: cannot be resumed: {error}"));
    }
    let (after, _) = super::support::kept(path);
    if after != before || after != received[..after.len().min(received.len())] {
        tally.wrong(format!("seed {seed}: lost by going on"));
    }
}

#[test]
fn the_feed_is_what_the_campaign_thinks_it_is() {
    let (lines, packets) = fed();
    let bytes = lines.concat();
    let mut reader = Reader::new(bytes.as_slice()).unwrap();
    assert_eq!(reader.header(), &header());
    let read: Vec<Packet> = reader
        .by_ref()
        .filter_map(|line| match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => Some(packet),
            _ => None,
        })
        .collect();
    assert_eq!(read, packets);
    assert!((19_000_000..21_000_000).contains(&packets[999].t_us));
}
