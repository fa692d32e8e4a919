use super::bytes::Bytes;
use needlerest::protocol::{Decoder, ProtocolFile, RawSample, STREAM, explain};
use needlerest::units::Time;

const FILES: [&str; 7] = [
    include_str!("../../protocol/reference-sensor.toml"),
    include_str!("../../protocol/environmental-sensing.toml"),
    include_str!("../../fixtures/recording/v1/protocol.toml"),
    include_str!("../../protocol/examples/text-lines.toml"),
    include_str!("../../protocol/examples/frames.toml"),
    include_str!("../../protocol/examples/asked.toml"),
    include_str!("../../protocol/examples/table.toml"),
];

/// Any packets, in any order, at any time: samples are finite and in order of time, every packet
/// is counted, and none makes more samples than it has bytes.
pub fn packet_decoder(data: &[u8]) {
    let mut bytes = Bytes::new(data);
    // The corpus was kept when there were three files: it goes on choosing among them.
    let text = match bytes.byte() {
        newer @ 252.. => FILES[usize::from(newer - 249)],
        older => FILES[usize::from(older % 3)],
    };
    let file = ProtocolFile::parse(text).expect("a shipped file is sound");
    let mut decoder = Decoder::new(&file);
    let mut samples = Vec::new();
    let (mut now_us, mut sent, mut length_sent) = (0_u64, 0, 0);
    let (mut whole, mut lost_link) = (Vec::new(), false);
    while !bytes.is_empty() {
        let length = match bytes.below(4) {
            0 => usize::from(bytes.byte()) * 2,
            _ => usize::from(bytes.below(48)),
        };
        now_us = match bytes.byte() {
            0 => bytes.u64(),
            1 => now_us.saturating_sub(1_000_000),
            step => now_us.saturating_add(u64::from(step) * 1000),
        };
        let payload = bytes.take(length);
        match bytes.byte() {
            0 => {
                lost_link = true;
                decoder.link_lost(&mut samples);
            }
            1 => decoder.accept("battery", Time::from_us(now_us), payload, &mut samples),
            2 => decoder.accept("temperature", Time::from_us(now_us), payload, &mut samples),
            _ => {
                decoder.accept(STREAM, Time::from_us(now_us), payload, &mut samples);
                let explained = explain(&file, payload);
                assert!(explained.rows.iter().all(|row| row.at <= payload.len()));
                whole.extend_from_slice(payload);
                sent += 1;
                length_sent += payload.len();
            }
        }
    }
    decoder.flush(&mut samples);
    let counts = decoder.counts();
    assert_eq!(counts.received, sent);
    assert_eq!(counts.samples, samples.len() as u64);
    assert!(
        samples.len() <= length_sent,
        "{} of {length_sent}",
        samples.len()
    );
    assert!(
        samples
            .iter()
            .all(|s| s.time.is_finite() && s.pressure.is_finite())
    );
    assert!(
        samples.is_sorted_by(|a, b| a.time.s() <= b.time.s()),
        "in order of time"
    );
    let stream = &file.spec().stream;
    if !lost_link && (stream.text.is_some() || stream.frame.is_some()) {
        is_cut_alike(&file, &whole, &samples);
    }
}

/// However a stream of bytes is cut into packets, it tells the same pressures.
fn is_cut_alike(file: &ProtocolFile, whole: &[u8], samples: &[RawSample]) {
    let (mut decoder, mut again) = (Decoder::new(file), Vec::new());
    for piece in whole.chunks(7) {
        decoder.accept(STREAM, Time::ZERO, piece, &mut again);
    }
    decoder.flush(&mut again);
    let pressures = |samples: &[RawSample]| {
        let all = samples.iter().map(|sample| sample.pressure.pa().to_bits());
        all.collect::<Vec<_>>()
    };
    assert_eq!(pressures(&again), pressures(samples));
}
