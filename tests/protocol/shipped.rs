//! The protocol files that ship.

use needlerest::protocol::ProtocolFile;

pub const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");
pub const ENVIRONMENTAL: &str = include_str!("../../protocol/environmental-sensing.toml");

pub const WORKBENCH: &str = include_str!("../../protocol/workbench/sensor.toml");

pub fn reference() -> ProtocolFile {
    ProtocolFile::parse(REFERENCE).unwrap()
}

pub fn environmental() -> ProtocolFile {
    ProtocolFile::parse(ENVIRONMENTAL).unwrap()
}

#[test]
fn shipped_files_are_sound() {
    assert_eq!(reference().rate().unwrap().hz(), 500.0);
    assert_eq!(environmental().rate(), None);
    let workbench = ProtocolFile::parse(WORKBENCH).unwrap();
    assert_eq!(workbench.rate().unwrap().hz(), 200.0);
    // The converter: 5 V over 4095 counts; the transducer: 16 bar over 4 V.
    let step_bar = 5.0 / 4095.0 * 16.0 / 4.0;
    assert!((workbench.resolution().unwrap().kpa() / 100.0 - step_bar).abs() < 1e-11);
}
