//! Decoding, packet by packet.

use super::shipped::{environmental, reference};
use needlerest::protocol::{Decoder, Encoder, SensorSample};
use needlerest::units::{Pressure, Temperature, Time};

#[test]
fn what_the_encoder_packs_the_decoder_reads() {
    let file = reference();
    let mut encoder = Encoder::new(&file);
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    for i in 0..100u64 {
        let sample = SensorSample {
            tick: 5_000 + i * 2_000,
            pressure: Pressure::from_pa(i as f64 * 1000.0),
            temperature: Some(Temperature::from_celsius(21.5)),
            battery: Some(87.0),
            status: 0,
        };
        if let Some(packet) = encoder.push(&sample) {
            decoder.decode(Time::from_s(i as f64 * 0.002), &packet, &mut out);
        }
    }
    assert_eq!(out.len(), 100);
    for (i, sample) in out.iter().enumerate() {
        assert!((sample.time.s() - i as f64 * 0.002).abs() < 1e-9);
        assert_eq!(sample.pressure.pa(), i as f64 * 1000.0);
        assert!(!sample.gap_before && !sample.out_of_range);
    }
    assert_eq!(decoder.battery(), Some(87.0));
    assert_eq!(decoder.counts().samples, 100);
}

/// Bluetooth GATT Specification Supplement, Pressure: uint32, unit pascal, resolution 0.1 Pa.
#[test]
fn gatt_pressure() {
    for (bytes, pa) in [
        ([0x02, 0x76, 0x0F, 0x00], 101_325.0),
        ([0x10, 0x27, 0x00, 0x00], 1_000.0),
        ([0x80, 0x84, 0x1E, 0x00], 200_000.0),
        ([0xF8, 0xCE, 0x9D, 0x00], 1_034_213.6),
        ([0xFA, 0x44, 0xAD, 0x00], 1_135_538.6),
        ([0x00, 0x1B, 0xB7, 0x00], 1_200_000.0),
    ] {
        let mut out = Vec::new();
        Decoder::new(&environmental()).decode(Time::ZERO, &bytes, &mut out);
        assert!((out[0].pressure.pa() - pa).abs() < 1e-6);
    }
}
