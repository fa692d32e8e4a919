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

/// Bluetooth SIG, Assigned Numbers: Environmental Sensing is 0x181A, Pressure 0x2A6D, Battery Level
/// 0x2A19. From memory: Temperature 0x2A6E, and of the Device Information Service the maker's name
/// 0x2A29, model 0x2A24, serial number 0x2A25 and firmware 0x2A26.
#[test]
fn the_standard_sensor_uses_the_assigned_numbers() {
    let numbers = [
        "181A", "2A6D", "2A19", "2A6E", "2A29", "2A24", "2A25", "2A26",
    ];
    for number in numbers {
        let times = ENVIRONMENTAL.matches(&format!("= \"0x{number}\"")).count();
        assert_eq!(times, 1, "{number}");
    }
    let all = ENVIRONMENTAL.matches("= \"0x").count();
    assert_eq!(all, numbers.len(), "a number that is not checked here");
}
