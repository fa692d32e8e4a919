//! What version 2 cannot say is refused by name, and version 1 has none of it.

use super::shipped::{ENVIRONMENTAL, REFERENCE};
use super::wire::{ASKED, FRAMES, TABLE, TEXT};
use needlerest::protocol::{ProtocolError, ProtocolFile};

fn broken(file: &str, from: &str, to: &str) -> ProtocolError {
    assert!(file.contains(from), "{from}");
    ProtocolFile::parse(&file.replacen(from, to, 1)).expect_err(to)
}

const LINE: &str = "line = \"$PR,{sequence},{pressure} kPa,{temperature} C*{check}\"";

/// The file, what stands there, what is put there, the entry told, part of the message.
#[rustfmt::skip]
const MISTAKES: [(&str, &str, &str, &str, &str); 47] = [
    (TEXT, LINE, "line = \"{pressure}{sequence},{temperature}*{check}\"", "stream.text.line", "side by side"),
    (TEXT, LINE, "line = \"{pressure}.{sequence},{temperature}*{check}\"", "stream.text.line", "part of it"),
    (TEXT, LINE, "line = \"{pressure}e{sequence},{temperature}*{check}\"", "stream.text.line", "part of it"),
    (TEXT, LINE, "line = \"{sequence}5{pressure},{temperature}*{check}\"", "stream.text.line", "part of it"),
    (TEXT, LINE, "line = \"{pressure},{temperature}*{check}\"", "stream.text.line", "field 1"),
    (TEXT, LINE, "line = \"{sequence},{pressure},{pressure},{temperature}*{check}\"", "stream.text.line", "field 2"),
    (TEXT, LINE, "line = \"{sequence},{pressure},{temp}*{check}\"", "stream.text.line", "called \"temp\""),
    (TEXT, LINE, "line = \"{sequence},{pressure},{temperature\"", "stream.text.line", "never closed"),
    (TEXT, LINE, "line = \"{sequence},{pressure},{temperature}}\"", "stream.text.line", "never opened"),
    (TEXT, LINE, "line = \"{sequence},{pressure},{temperature}°*{check}\"", "stream.text.line", "printed ASCII"),
    (TEXT, LINE, "line = \"{sequence},{pressure},{temperature}\"", "stream.text.line", "belong together"),
    (TEXT, LINE, "line = \"{check},{sequence},{pressure},{temperature}\"", "stream.text.line", "belong together"),
    (TEXT, LINE, "regex = \".*\"", "regex", "unknown field"),
    (TEXT, "longest = 48", "longest = 0", "stream.text.longest", "out of bounds"),
    (TEXT, "longest = 48", "longest = 513", "stream.text.longest", "out of bounds"),
    (TEXT, "over_range = \"HIGH\"", "over_range = \"9999\"", "stream.text.over_range", "like a number"),
    (TEXT, "over_range = \"HIGH\"", "over_range = \"TOO HIGH\"", "stream.text.over_range", "without spaces"),
    (TEXT, "over_range = \"HIGH\"", "over_range = \"LOW\"", "stream.text.under_range", "same"),
    (TEXT, "type = \"u8\"", "type = \"f32\"", "stream.field[1].type", "as text"),
    (TEXT, "type = \"u8\"", "type = \"u8\"\nat = 3", "stream.field[1].at", "pattern has it"),
    (TEXT, "type = \"u8\"", "type = \"u8\"\nbyte_order = \"big\"", "stream.field[1].byte_order", "pattern has it"),
    (TEXT, "digits = 2", "digits = 10", "stream.field[2].digits", "not so many"),
    (TEXT, "rate_hz = 50", "", "sensor", "how far apart"),
    (TEXT, "version = 2", "version = 1", "stream.service", "version = 2"),
    (TEXT, "kind = \"xor\"", "kind = \"hash\"", "check", "unknown variant"),
    (TEXT, "width = 8", "width = 16", "stream.text.check.width", "16 bits"),
    (FRAMES, "check = 0x29B1", "check = 0x29B2", "stream.frame.check.check", "0x29b1"),
    (FRAMES, "poly = 0x1021, ", "", "stream.frame.check", "which polynomial"),
    (FRAMES, "poly = 0x1021", "poly = 0x11021", "stream.frame.check.poly", "more than 16 bits"),
    (FRAMES, "kind = \"crc\"", "kind = \"sum\"", "stream.frame.check", "belong to a crc"),
    (FRAMES, "from = 2 }", "from = 2, leave_out = 9 }", "stream.frame.check", "cover nothing"),
    (FRAMES, "start = \"AA 55\"", "start = \"\"", "stream.frame.start", "0 bytes"),
    (FRAMES, "start = \"AA 55\"", "start = \"A\"", "stream.frame.start", "hexadecimal"),
    (FRAMES, "start = \"AA 55\"", "start = \"AA 55\"\nescape = \"7D\"", "escape", "unknown field"),
    (FRAMES, "longest = 42", "", "stream.frame", "how long a frame can be"),
    (FRAMES, "longest = 42", "longest = 600", "stream.frame.longest", "out of bounds"),
    (FRAMES, "longest = 42", "longest = 300", "stream.frame.longest", "cannot say"),
    (FRAMES, "length = { at = 2, type = \"u8\", plus = 5 }\nlongest = 42", "", "stream.frame", "how long a frame is"),
    (FRAMES, "at = 2, type", "at = 1, type", "stream.frame.length.at", "after the start"),
    (FRAMES, "type = \"u16\"", "type = \"u16\"\nat = 2", "stream.field[2]", "overlaps the frame"),
    (FRAMES, "equals = 1", "equals = 256", "stream.field[1].equals", "does not fit"),
    (ASKED, "write = \"52 0D\"", "", "stream.ask", "what is asked"),
    (ASKED, "answer = \"notify\"", "answer = \"notify-or-read\"", "stream.ask.answer", "not asked"),
    (ASKED, "rate_hz = 20", "rate_hz = 200", "stream.ask.rate_hz", "out of bounds"),
    (TABLE, "[388, 16.0]", "[388, 20.0]", "stream.field[1].table", "points 1 and 2"),
    (TABLE, "[388, 16.0]", "[300, 16.0]", "stream.field[1].table", "points 1 and 2"),
    (TABLE, "no_value = 0", "no_value = 0\nscale = 2", "stream.field[1].table", "not both"),
];

#[test]
fn what_cannot_be_said_is_refused_by_name() {
    for (file, from, to, field, message) in MISTAKES {
        let error = broken(file, from, to);
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
fn a_table_has_at_most_64_points() {
    let points = |count: u32| {
        let points: Vec<String> = (0..count).map(|i| format!("[{i}, {i}]")).collect();
        let (before, rest) = TABLE.split_once("table = [").unwrap();
        let (_, after) = rest
            .split_once("]\n")
            .and_then(|_| rest.split_once("\n]\n"))
            .unwrap();
        let after = after.replace("no_value = 0", "");
        format!("{before}table = [{}]\n{after}", points.join(", "))
    };
    ProtocolFile::parse(&points(64)).unwrap();
    let error = ProtocolFile::parse(&points(65)).unwrap_err();
    assert!(error.to_string().contains("at most 64"), "{error}");
}

/// Each thing of version 2, put into a file that says version 1.
#[test]
fn version_1_has_none_of_it() {
    let put = |from: &str, to: &str| REFERENCE.replacen(from, to, 1);
    let field = "role = \"pressure\"\ntype = \"i24\"\nscale = 1\n";
    for (text, entry) in [
        (
            put(
                "max_payload = 244",
                "max_payload = 244\nservice = \"0x181A\"",
            ),
            "stream.service",
        ),
        (
            put(
                "[[stream.field]]",
                "[stream.frame]\nstart = \"AA\"\n[[stream.field]]",
            ),
            "stream.frame",
        ),
        (
            put(
                "[[stream.field]]",
                "[stream.text]\nline = \"{pressure}\"\n[[stream.field]]",
            ),
            "stream.text",
        ),
        (
            put(
                "[[stream.field]]",
                "[stream.ask]\nrate_hz = 9\nanswer = \"read\"\n[[stream.field]]",
            ),
            "stream.ask",
        ),
        (
            put(
                field,
                "role = \"pressure\"\ntype = \"i24\"\ntable = [[0, 0], [1, 1]]\n",
            ),
            "stream.samples.field[1].table",
        ),
        (
            put(
                "acknowledged = true",
                "acknowledged = true\nservice = \"0x181A\"",
            ),
            "commands.service",
        ),
        (
            put(
                "from = \"battery\"",
                "from = \"battery\"\nservice = \"0x180F\"",
            ),
            "reading[1].service",
        ),
        (
            put("name = \"maker\"", "name = \"maker\"\nservice = \"0x180A\""),
            "detail[1].service",
        ),
    ] {
        let error = ProtocolFile::parse(&text).unwrap_err();
        assert_eq!(error.field.as_deref(), Some(entry), "{error}");
        assert!(error.to_string().contains("version = 2"), "{error}");
    }
    // The same in version 2 is sound, or wrong for another reason.
    let two = REFERENCE.replacen("version = 1", "version = 2", 1);
    let two = two.replacen(
        "from = \"battery\"",
        "from = \"battery\"\nservice = \"0x180F\"",
        1,
    );
    ProtocolFile::parse(&two).unwrap();
    ProtocolFile::parse(&ENVIRONMENTAL.replacen("version = 1", "version = 2", 1)).unwrap();
}

/// Limits are limits: what just keeps them is taken, one more is not.
#[test]
fn the_last_that_is_allowed_is_allowed() {
    let length = |at: usize, plus: usize| {
        let text = FRAMES
            .replace("at = 2, type", &format!("at = {at}, type"))
            .replace("plus = 5", &format!("plus = {plus}"));
        ProtocolFile::parse(&text).map_err(|error| error.field.unwrap_or_default())
    };
    assert!(length(2, 5).is_ok());
    let refused = |at, plus| length(at, plus).expect_err("refused");
    // Before the start bytes have ended, and beyond any frame.
    assert_eq!(refused(1, 5), "stream.frame.length.at");
    assert_eq!(refused(513, 5), "stream.frame.length.at");
    assert_ne!(
        length(512, 5).err().as_deref(),
        Some("stream.frame.length.at")
    );
    assert_eq!(refused(2, 513), "stream.frame.length.plus");
    assert_ne!(
        length(2, 512).err().as_deref(),
        Some("stream.frame.length.plus")
    );
    // A reading's last byte is the payload's 512th.
    let battery = |at: usize| {
        let text = REFERENCE.replace(
            "field = { role = \"battery\", type = \"u8\"",
            &format!("field = {{ at = {at}, role = \"battery\", type = \"u16\""),
        );
        assert_ne!(text, REFERENCE);
        ProtocolFile::parse(&text).map_err(|error| error.field.unwrap_or_default())
    };
    assert!(battery(510).is_ok());
    assert_eq!(battery(511).expect_err("refused"), "reading[1].field.at");
}
