//! Files that are wrong: each gives its line, its entry, and what to do.

use super::shipped::{ENVIRONMENTAL, REFERENCE};
use needlerest::protocol::{ProtocolError, ProtocolFile, limits};

/// The reference file with one text replaced; its error must name the line and the entry.
fn broken(from: &str, to: &str) -> ProtocolError {
    assert!(REFERENCE.contains(from), "{from}");
    ProtocolFile::parse(&REFERENCE.replacen(from, to, 1)).expect_err(to)
}

/// Line of the first place where the reference file has this text.
fn line(text: &str) -> usize {
    let before = REFERENCE.lines().take_while(|line| !line.contains(text));
    1 + before.count()
}

/// What stands there, what is put there, the entry told, part of the message.
#[rustfmt::skip]
const MISTAKES: [(&str, &str, &str, &str); 46] = [
    ("name = \"needlerest reference sensor\"", "name = \"\"", "name", "empty"),
    ("type = \"u16\"", "type = \"u15\"", "type", "u15"),
    ("type = \"u16\"", "type = 16", "type", "wanted"),
    ("unit = \"Pa\"", "unit = \"furlong\"", "unit", "furlong"),
    ("unit = \"Pa\"", "unit = \"celsius\"", "stream.samples.field[1].unit", "unit of pressure"),
    ("unit = \"celsius\"", "unit = \"bar\"", "stream.field[6].unit", "unit of temperature"),
    ("type = \"u32\"", "type = \"i32\"", "stream.field[2].type", "cannot hold"),
    ("type = \"u32\"", "type = \"u32\"\nat = 1", "stream.field[2]", "overlaps field 1"),
    ("type = \"u32\"", "type = \"u32\"\nat = 400", "stream.field[2]", "room for 244"),
    ("type = \"u32\"", "type = \"u32\"\nat = 18446744073709551615", "stream.field[2]", ""),
    ("type = \"u32\"", "type = \"u32\"\nscale = 2", "stream.field[2]", "whole number"),
    ("role = \"interval\"", "role = \"sequence\"", "stream.field[3].role", "two fields"),
    ("role = \"pressure\"", "role = \"other\"", "stream.samples", "no field has the role"),
    ("role = \"pressure\"", "role = \"battery\"", "stream.samples.field[1].role", "cannot hold"),
    ("role = \"temperature\"", "role = \"pressure\"", "stream.field[6].unit", "unit of pressure"),
    ("scale = 1\n", "scale = 0\n", "stream.samples.field[1].scale", "factor"),
    ("scale = 1\n", "scale = nan\n", "stream.samples.field[1].scale", "factor"),
    ("over_range = 8388607", "over_range = 8388608", "stream.samples.field[1].over_range", "fit"),
    ("over_range = 8388607", "over_range = -8388608", "stream.samples.field[1].under_range", "same"),
    ("at_most = 10", "at_most = 100", "stream.samples.at_most", "244"),
    ("at_most = 10", "at_most = 0", "stream.samples.at_most", "0 samples"),
    ("max_payload = 244", "max_payload = 513", "stream.max_payload", "513"),
    ("tick_us = 1\n", "tick_us = 0\n", "clock.tick_us", "out of bounds"),
    ("tick_us = 1\n", "tick_us = 1\nlast_tick = 999\n", "clock", "every 0.001 s"),
    ("range_high = \"2500 kPa\"", "range_high = \"-2 bar\"", "sensor.range_high", "range_low"),
    ("range_high = \"2500 kPa\"", "range_high = \"25\"", "range_high", "not a pressure"),
    ("accuracy_percent_of_span = 0.25", "accuracy_percent_of_span = 0", "sensor.accuracy_percent_of_span", "bounds"),
    ("rate_hz = 500", "rate_hz = 5", "sensor.rate_hz", "slower"),
    ("rate_highest_hz = 1000", "", "commands.set_rate", "which rates"),
    ("bit = 1\n", "bit = 0\n", "status[2].bit", "twice"),
    ("bit = 1\n", "bit = 8\n", "status[2].bit", "8 bits"),
    ("severity = \"fault\"", "severity = \"bad\"", "severity", "bad"),
    ("from = \"battery\"", "from = \"stream\"", "reading[1].from", "taken"),
    ("uuid = \"0x2A24\"", "uuid = \"0x2A29\"", "detail[2].uuid", "twice"),
    ("uuid = \"0x2A24\"", "uuid = \"0x2A2\"", "uuid", "not a UUID"),
    ("{rate:u16}", "{speed:u16}", "commands.set_rate", "placeholder"),
    ("{rate:u16}", "{rate:u16", "commands.set_rate", "closing"),
    (" {rate:u16}", "", "commands.set_rate", "where the rate goes"),
    ("zero = \"03\"", "zero = \"3\"", "commands.zero", "hexadecimal"),
    ("zero = \"03\"", "zero = \"03 {rate:u16}\"", "commands.zero", "nothing to fill in"),
    ("zero = \"03\"", "zero = \"\"", "commands.zero", "0 bytes"),
    ("tick_of = \"first\"", "tick_of = \"middle\"", "tick_of", "middle"),
    ("tick_of = \"first\"", "colour = \"red\"", "colour", "unknown field"),
    ("version = 1", "version = 3", "version", "newer"),
    ("version = 1", "version = \"1\"", "version", "missing or not"),
    ("format = \"needlerest-protocol\"", "format = \"other\"", "format", "not a protocol file"),
];

#[test]
fn every_mistake_is_told_with_line_entry_and_remedy() {
    for (from, to, field, message) in MISTAKES {
        let error = broken(from, to);
        let text = error.to_string();
        assert_eq!(error.field.as_deref(), Some(field), "{to}: {text}");
        assert!(text.contains(message), "{to}: {text}");
        assert!(
            error.line.is_some() && !error.remedy.is_empty(),
            "{to}: {text}"
        );
    }
}

#[test]
fn the_line_is_the_one_that_is_wrong() {
    assert_eq!(
        broken("type = \"u16\"", "type = \"u15\"").line,
        Some(line("type = \"u16\""))
    );
    assert_eq!(broken("bit = 1\n", "bit = 0\n").line, Some(line("bit = 1")));
    assert_eq!(
        broken("scale = 1\n", "scale = 0\n").line,
        Some(line("scale = 1"))
    );
    assert_eq!(
        broken("zero = \"03\"", "zero = \"3\"").line,
        Some(line("zero = \"03\""))
    );
}

#[test]
fn entries_that_need_others_say_so() {
    let without_clock = REFERENCE.replace("[clock]\ntick_us = 1\ntick_of = \"first\"\n", "");
    let error = ProtocolFile::parse(&without_clock).unwrap_err();
    assert!(error.to_string().contains("how long a tick is"), "{error}");

    let no_interval = REFERENCE.replace("role = \"interval\"", "role = \"other\"");
    let error = ProtocolFile::parse(&no_interval).unwrap_err();
    assert_eq!(error.field.as_deref(), Some("commands.set_rate"));
    let no_rate = no_interval.replace("rate_hz = 500\n", "");
    let error = ProtocolFile::parse(&no_rate).unwrap_err();
    assert!(error.to_string().contains("how far apart"), "{error}");

    let outside = REFERENCE.replace(
        "role = \"battery\"\ntype = \"u8\"\nunit = \"percent\"",
        "role = \"pressure\"\ntype = \"u8\"\nunit = \"bar\"",
    );
    let error = ProtocolFile::parse(&outside).unwrap_err();
    assert!(error.to_string().contains("outside the block"), "{error}");

    let unfindable = ENVIRONMENTAL.replace("service = \"0x181A\"", "");
    let error = ProtocolFile::parse(&unfindable).unwrap_err();
    assert_eq!(error.field.as_deref(), Some("recognise"));

    let twice = ENVIRONMENTAL.replace(
        "pressure = \"absolute\"",
        "pressure = \"absolute\"\naccuracy = \"1 kPa\"\naccuracy_percent_of_span = 1",
    );
    let error = ProtocolFile::parse(&twice).unwrap_err();
    assert!(error.to_string().contains("given twice"), "{error}");
}

#[test]
fn hostile_files_are_refused_at_once() {
    let field = "[[stream.field]]\nrole = \"other\"\ntype = \"u8\"\n";
    let many = format!("{ENVIRONMENTAL}\n{}", field.repeat(100));
    assert!(
        ProtocolFile::parse(&many)
            .unwrap_err()
            .to_string()
            .contains("at most 64")
    );
    let huge = format!("{ENVIRONMENTAL}\n{}", field.repeat(1_000_000));
    let error = ProtocolFile::parse(&huge).unwrap_err();
    assert!(
        error.to_string().contains(&limits::FILE.to_string()),
        "{error}"
    );
    let deep = format!("format = {}", "[".repeat(60_000));
    assert!(ProtocolFile::parse(&deep).is_err());
    assert!(ProtocolFile::parse("").is_err());
    assert!(ProtocolFile::parse("\0\u{feff}= = =").is_err());
}

/// Cut anywhere, or with any one character lost, a file is refused or read, never a panic.
#[test]
fn cut_and_spoilt_files_never_panic() {
    let mut refused = 0;
    for at in (0..REFERENCE.len())
        .step_by(7)
        .filter(|at| REFERENCE.is_char_boundary(*at))
    {
        refused += u32::from(ProtocolFile::parse(&REFERENCE[..at]).is_err());
        let (before, after) = REFERENCE.split_at(at);
        let without: String = before.chars().chain(after.chars().skip(1)).collect();
        let _ = ProtocolFile::parse(&without);
    }
    assert!(refused > 100);
}
