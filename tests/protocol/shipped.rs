//! The protocol files that ship.

use needlerest::protocol::ProtocolFile;

pub const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");
pub const ENVIRONMENTAL: &str = include_str!("../../protocol/environmental-sensing.toml");

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
}
