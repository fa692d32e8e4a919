//! The Characteristic Presentation Format descriptor (Assigned Numbers 0x2904; Bluetooth Core
//! Specification, Volume 3, Part G, section 3.3.3.5): the sensor's own word on how a value is to
//! be read, held against the protocol file. Pure.

use crate::protocol::{Field, NumberType, Unit};
use crate::units::PressureUnit;

/// The descriptor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Presentation {
    /// How the number is written (Assigned Numbers, section 2.4.1).
    pub format: u8,
    /// The value is the number times ten to this power; integers only.
    pub exponent: i8,
    /// Assigned number of the unit.
    pub unit: u16,
    /// Whose list `description` is of; 1 is the Bluetooth SIG's.
    pub namespace: u8,
    /// What the value describes.
    pub description: u16,
}

impl Presentation {
    /// Reads the seven octets; none if there are not exactly seven.
    pub fn parse(octets: &[u8]) -> Option<Self> {
        let &[format, exponent, unit_low, unit_high, namespace, low, high] = octets else {
            return None;
        };
        Some(Self {
            format,
            exponent: i8::from_le_bytes([exponent]),
            unit: u16::from_le_bytes([unit_low, unit_high]),
            namespace,
            description: u16::from_le_bytes([low, high]),
        })
    }

    /// Where it contradicts the protocol file's field, in plain words; empty if it agrees.
    pub fn contradicts(&self, field: &Field) -> Vec<String> {
        let mut against = Vec::new();
        let ours = format_of(field.kind);
        if ours != self.format {
            against.push(format!(
                "the sensor writes it as {}, the protocol file as {}",
                format_name(self.format),
                format_name(ours)
            ));
        }
        if !field.table.is_empty() {
            // A table's steps are not one number to compare.
            return against;
        }
        let Some((unit, size)) = unit_of(self.unit) else {
            against.push(format!(
                "the sensor tells it in a unit unknown here (0x{:04X})",
                self.unit
            ));
            return against;
        };
        let exponent = if is_integer(self.format) {
            self.exponent
        } else {
            0
        };
        let theirs = size * libm::pow(10.0, f64::from(exponent));
        match size_of(field.unit) {
            None => against.push(format!(
                "the sensor tells it in {unit}, the protocol file in no unit"
            )),
            Some((name, size)) => {
                let ours = field.scale * size;
                // Both come from decimal numbers; a difference that rounding makes is far smaller.
                if !same_kind(unit, name) || libm::fabs(ours / theirs - 1.0) > 1e-4 {
                    against.push(format!(
                        "one step is 10^{exponent} {unit} by the sensor, {} {name} by the \
                         protocol file",
                        field.scale
                    ));
                }
            }
        }
        against
    }
}

/// Format codes of Assigned Numbers, section 2.4.1.
fn format_of(kind: NumberType) -> u8 {
    match kind {
        NumberType::U8 => 0x04,
        NumberType::U16 => 0x06,
        NumberType::U24 => 0x07,
        NumberType::U32 => 0x08,
        NumberType::I8 => 0x0C,
        NumberType::I16 => 0x0E,
        NumberType::I24 => 0x0F,
        NumberType::I32 => 0x10,
        NumberType::F32 => 0x14,
        NumberType::Sfloat => 0x16,
        NumberType::Float => 0x17,
        NumberType::Decimal => 0x19,
    }
}

fn format_name(code: u8) -> String {
    let name = match code {
        0x01 => "a boolean",
        0x04 => "u8",
        0x06 => "u16",
        0x07 => "u24",
        0x08 => "u32",
        0x0A => "u64",
        0x0C => "i8",
        0x0E => "i16",
        0x0F => "i24",
        0x10 => "i32",
        0x12 => "i64",
        0x14 => "f32",
        0x15 => "f64",
        0x16 => "sfloat",
        0x17 => "float",
        0x19 => "text (UTF-8)",
        0x1A => "text (UTF-16)",
        0x1B => "a structure of its own",
        other => return format!("format 0x{other:02X}"),
    };
    name.to_owned()
}

/// The exponent "is only used on integer format types".
fn is_integer(format: u8) -> bool {
    (0x02..=0x13).contains(&format)
}

/// Name of a unit and its size: pressures in pascal, others as they are. Numbers from Assigned
/// Numbers, section 3.5 (percentage, celsius, kelvin and fahrenheit from memory).
fn unit_of(number: u16) -> Option<(&'static str, f64)> {
    Some(match number {
        0x2724 => ("Pa", 1.0),
        0x2780 => ("bar", 1e5),
        0x2781 => ("mmHg", 133.322_387_415),
        0x27A5 => ("psi", PressureUnit::Psi.pascals()),
        0x27AD => ("percent", 1.0),
        0x272F => ("celsius", 1.0),
        0x2705 => ("kelvin", 1.0),
        0x27AC => ("fahrenheit", 1.0),
        _ => return None,
    })
}

/// Name and size of a protocol file's unit.
fn size_of(unit: Option<Unit>) -> Option<(&'static str, f64)> {
    let unit = unit?;
    let size = match unit {
        Unit::Pressure(pressure) => pressure.pascals(),
        Unit::Celsius | Unit::Fahrenheit | Unit::Kelvin | Unit::Percent => 1.0,
    };
    Some((unit.name(), size))
}

/// Pressures compare with pressures, whatever their unit; others only with themselves.
fn same_kind(theirs: &str, ours: &str) -> bool {
    let pressure = |name: &str| !matches!(name, "percent" | "celsius" | "kelvin" | "fahrenheit");
    theirs == ours || (pressure(theirs) && pressure(ours))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn field(text: &str) -> Field {
        toml::from_str(text).expect("a field")
    }

    /// Seven octets laid out as the mbed BLE API's `PresentationFormat_t` (os.mbed.com): i16,
    /// exponent -1, psi.
    const TENTHS_OF_PSI: [u8; 7] = [0x0E, 0xFF, 0xA5, 0x27, 0x01, 0x00, 0x00];

    /// Laid out as the mbed BLE API's `PresentationFormat_t`.
    #[test]
    fn reads_the_seven_octets() {
        let read = Presentation::parse(&TENTHS_OF_PSI).expect("seven octets");
        let expected = Presentation {
            format: 0x0E,
            exponent: -1,
            unit: 0x27A5,
            namespace: 1,
            description: 0,
        };
        assert_eq!(read, expected);
        assert_eq!(Presentation::parse(&TENTHS_OF_PSI[..6]), None);
        assert_eq!(Presentation::parse(&[0; 8]), None);
    }

    #[test]
    fn agrees_with_the_same_in_another_unit() {
        let psi = Presentation::parse(&TENTHS_OF_PSI).expect("seven octets");
        let same = field("role = 'pressure'\ntype = 'i16'\nscale = 0.1\nunit = 'psi'");
        assert_eq!(psi.contradicts(&same), Vec::<String>::new());
        // 0.1 psi is 689.4757 Pa (NIST SP 811, appendix B).
        let pascal = field("role = 'pressure'\ntype = 'i16'\nscale = 689.4757\nunit = 'Pa'");
        assert_eq!(psi.contradicts(&pascal), Vec::<String>::new());
    }

    #[test]
    fn tells_each_contradiction() {
        let psi = Presentation::parse(&TENTHS_OF_PSI).expect("seven octets");
        let bar = field("role = 'pressure'\ntype = 'u32'\nscale = 0.01\nunit = 'bar'");
        assert_eq!(psi.contradicts(&bar).len(), 2);
        let unitless = field("role = 'other'\ntype = 'i16'");
        assert!(psi.contradicts(&unitless)[0].contains("in no unit"));
        let odd = Presentation {
            unit: 0xFFFF,
            ..psi
        };
        assert!(odd.contradicts(&bar)[1].contains("0xFFFF"));
    }

    #[test]
    fn the_exponent_counts_for_integers_only() {
        let float = Presentation {
            format: 0x14,
            exponent: 3,
            unit: 0x2724,
            namespace: 1,
            description: 0,
        };
        let pascal = field("role = 'pressure'\ntype = 'f32'\nunit = 'Pa'");
        assert_eq!(float.contradicts(&pascal), Vec::<String>::new());
    }
}
