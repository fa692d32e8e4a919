//! The protocol file of an imported table: its rows as lines of text, numbers as they stand there.

use super::rows::Column;
use crate::protocol::limits;
use crate::units::PressureUnit;

/// The line that stands for a row.
pub(super) fn line(sequence: u32, pressure: &str) -> Vec<u8> {
    format!("#{sequence} {pressure}\n").into_bytes()
}

/// The protocol file by which those lines decode.
pub(super) fn text(unit: PressureUnit, absolute: bool, columns: &[&Column]) -> String {
    let rows = columns.iter().flat_map(|column| &column.rows);
    let broken = |text: &str| {
        let (_, broken) = text.split_once('.')?;
        Some(broken.bytes().take_while(u8::is_ascii_digit).count())
    };
    let digits = rows.filter_map(|row| broken(&row.pressure)).max();
    let digits = digits.unwrap_or(0).min(usize::from(limits::DIGITS));
    let step = columns.iter().map(|column| column.step_us).min();
    let rate = (1e6 / step.unwrap_or(1).max(1) as f64).clamp(1e-3, limits::RATE_HZ);
    let reference = if absolute { "absolute" } else { "gauge" };
    format!(
        "# Made by `needlerest import`: the rows of a table, no sensor.

format = \"needlerest-protocol\"
version = 2
name = \"imported table\"
about = \"Rows of a table that something else recorded; range and accuracy are not known.\"

[recognise]
name_prefix = \"imported: \"

[sensor]
pressure = \"{reference}\"
rate_hz = {rate}

[stream]
uuid = \"6b1d00f0-52c7-4a0e-9f3b-d04c8a17e5b2\"

[stream.text]
line = \"#{{sequence}} {{pressure}}\"

[[stream.field]]
role = \"sequence\"
type = \"u32\"

[[stream.field]]
role = \"pressure\"
type = \"decimal\"
digits = {digits}
unit = \"{}\"
",
        unit.symbol()
    )
}
