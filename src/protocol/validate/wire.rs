//! Text, frames, checks and questions.

use super::common::{Check, positive, short_text};
use crate::protocol::error::{Unplaced, fault};
use crate::protocol::layout::head;
use crate::protocol::limits;
use crate::protocol::number::NumberType;
use crate::protocol::slot::Slot;
use crate::protocol::spec::{
    Answer, Ask, Check as Sum, CheckKind, Field, Frame, Length, Spec, Stream, Text,
};
use crate::protocol::values;
use crate::protocol::wire::{Pattern, check_digits};

pub(super) fn wire(spec: &Spec) -> Check {
    let stream = &spec.stream;
    if stream.text.is_some() && stream.frame.is_some() {
        return Err(fault(
            "stream.frame",
            "a stream is text or frames, not both",
            "remove `[stream.frame]` or `[stream.text]`",
        ));
    }
    if let Some(frame) = &stream.frame {
        frames(stream, frame)?;
    }
    match &stream.text {
        Some(lines) => text(stream, lines)?,
        None => no_decimals(stream)?,
    }
    stream.ask.as_ref().map_or(Ok(()), |ask| asked(stream, ask))
}

/// Numbers written as text are read from text alone.
fn no_decimals(stream: &Stream) -> Check {
    let block = stream.samples.as_ref().map_or(&[][..], |s| &s.fields);
    for (path, fields) in [
        ("stream.field", stream.fields.as_slice()),
        ("stream.samples.field", block),
    ] {
        if let Some(index) = fields.iter().position(|f| f.kind == NumberType::Decimal) {
            return Err(fault(
                format!("{path}[{}].type", index + 1),
                "decimal is a number in a line of text, but the stream is not text",
                "add `[stream.text]`, or use another type",
            ));
        }
    }
    Ok(())
}

fn frames(stream: &Stream, frame: &Frame) -> Check {
    let start = values::bytes(&frame.start)
        .map_err(|what| fault("stream.frame.start", what, "write bytes such as \"AA 55\""))?;
    if !(1..=limits::START).contains(&start.len()) {
        return Err(fault(
            "stream.frame.start",
            format!("it is {} bytes long", start.len()),
            format!(
                "give the 1 to {} bytes that every frame begins with",
                limits::START
            ),
        ));
    }
    if let Some(check) = &frame.check {
        sum("stream.frame.check", check)?;
    }
    match (&frame.length, frame.longest) {
        (None, None) => {}
        (Some(length), Some(longest)) => has_length(start.len(), length, longest)?,
        (Some(_), None) => {
            return Err(fault(
                "stream.frame",
                "nothing says how long a frame can be: after damage, a wrong length would keep \
                 the frames after it waiting",
                "give `longest`, in bytes with start and check",
            ));
        }
        (None, Some(_)) => {
            return Err(fault(
                "stream.frame.longest",
                "without `length` every frame is as long as its fields",
                "remove this entry or add `length`",
            ));
        }
    }
    let block = stream.samples.as_ref();
    if frame.length.is_none() && block.is_some_and(|samples| samples.count.is_none()) {
        return Err(fault(
            "stream.frame",
            "nothing says how long a frame is",
            "add `length`, or `count` in `[stream.samples]`",
        ));
    }
    let slots = head(stream);
    let fields = slots
        .iter()
        .map(Slot::end)
        .fold(stream.header(), usize::max);
    if let Some(check) = &frame.check
        && check.from + check.leave_out >= fields
    {
        return Err(fault(
            "stream.frame.check",
            "it may cover nothing",
            "make `from` and `leave_out` smaller",
        ));
    }
    let covered = |slot: &&Slot| {
        let length = frame.length.as_ref();
        let length = length.map(|l| l.at..l.at + l.kind.size());
        slot.at < start.len() || length.is_some_and(|l| slot.at < l.end && l.start < slot.end())
    };
    if let Some(index) = slots.iter().position(|slot| covered(&slot)) {
        return Err(fault(
            format!("stream.field[{}]", index + 1),
            "it overlaps the frame's start or length",
            "correct `at`: it counts from the first byte of the frame",
        ));
    }
    Ok(())
}

fn has_length(start: usize, length: &Length, longest: usize) -> Check {
    if !length.kind.is_unsigned() {
        return Err(fault(
            "stream.frame.length.type",
            format!("{} cannot hold a length", length.kind.name()),
            "use u8, u16, u24 or u32",
        ));
    }
    if length.at < start || length.at > limits::MESSAGE {
        return Err(fault(
            "stream.frame.length.at",
            "the length must come after the start bytes, within the frame",
            format!("use {start} or more: it counts from the first byte of the frame"),
        ));
    }
    if length.plus > limits::MESSAGE {
        let remedy = format!("use at most {}", limits::MESSAGE);
        return Err(fault(
            "stream.frame.length.plus",
            "no frame is so long",
            remedy,
        ));
    }
    if longest > limits::MESSAGE {
        return Err(fault(
            "stream.frame.longest",
            format!("{longest} bytes is out of bounds"),
            format!("use at most {}", limits::MESSAGE),
        ));
    }
    let (_, highest) = length.kind.limits().unwrap_or_default();
    if highest.unsigned_abs() + (length.plus as u64) < longest as u64 {
        return Err(fault(
            "stream.frame.longest",
            format!("the length, {}, cannot say so much", length.kind.name()),
            "use a smaller number",
        ));
    }
    Ok(())
}

/// The parameters of a check.
fn sum(path: &str, check: &Sum) -> Check {
    let widths: &[u32] = match check.kind {
        CheckKind::Crc => &[8, 16, 32],
        CheckKind::Sum => &[8, 16],
        CheckKind::Xor => &[8],
    };
    if !widths.contains(&check.width) {
        let known: Vec<String> = widths.iter().map(u32::to_string).collect();
        return Err(fault(
            format!("{path}.width"),
            format!("{} bits cannot be", check.width),
            format!("use {}", known.join(" or ")),
        ));
    }
    let is_crc = check.kind == CheckKind::Crc;
    if is_crc && check.poly.is_none() {
        return Err(fault(
            path,
            "nothing says by which polynomial",
            "give `poly` as a catalogue of such checks has it, such as 0x1021",
        ));
    }
    if !is_crc && (check.poly.is_some() || check.refin || check.refout) {
        let what = "poly, refin and refout belong to a crc";
        return Err(fault(path, what, "remove them, or use kind = \"crc\""));
    }
    let mask = check.mask();
    for (name, value) in [
        ("poly", check.poly.unwrap_or(0)),
        ("init", check.init),
        ("xorout", check.xorout),
        ("check", check.check.unwrap_or(0)),
    ] {
        if value & !mask != 0 {
            return Err(fault(
                format!("{path}.{name}"),
                format!("{value:#x} has more than {} bits", check.width),
                format!("use at most {mask:#x}"),
            ));
        }
    }
    for (name, value) in [("from", check.from), ("leave_out", check.leave_out)] {
        if value > limits::MESSAGE {
            let remedy = format!("use at most {}", limits::MESSAGE);
            return Err(fault(
                format!("{path}.{name}"),
                "no message is so long",
                remedy,
            ));
        }
    }
    let found = check.of(b"123456789");
    if check.check.is_some_and(|stated| stated != found) {
        return Err(fault(
            format!("{path}.check"),
            format!("over 123456789 these parameters give {found:#x}"),
            "correct the parameters until they give the catalogue's check value",
        ));
    }
    Ok(())
}

fn text(stream: &Stream, text: &Text) -> Check {
    if !(1..=limits::MESSAGE).contains(&text.longest) {
        return Err(fault(
            "stream.text.longest",
            format!("{} bytes is out of bounds", text.longest),
            format!("use 1 to {}", limits::MESSAGE),
        ));
    }
    if stream.samples.is_some() {
        return Err(fault(
            "stream.samples",
            "a line of text is one sample",
            "remove the block; lines of several samples cannot be described",
        ));
    }
    for (index, field) in stream.fields.iter().enumerate() {
        in_line(&format!("stream.field[{}]", index + 1), field)?;
    }
    words(text)?;
    if let Some(check) = &text.check {
        sum("stream.text.check", check)?;
        if text.longest < check_digits(check) + check.from + check.leave_out {
            let what = "it covers more than the longest line";
            return Err(fault("stream.text.check", what, "make `from` smaller"));
        }
    }
    pattern(stream)
}

/// A field of a line.
fn in_line(path: &str, field: &Field) -> Check {
    let wrong = |entry: &str, what: String, remedy: &str| {
        Err(fault(format!("{path}.{entry}"), what, remedy))
    };
    if field.at.is_some() || field.byte_order.is_some() {
        let entry = if field.at.is_some() {
            "at"
        } else {
            "byte_order"
        };
        let what = "a field of a line stands where the pattern has it".to_owned();
        return wrong(entry, what, "remove this entry");
    }
    if field.kind.limits().is_none() && field.kind != NumberType::Decimal {
        let what = format!("{} cannot be written as text", field.kind.name());
        return wrong("type", what, "use decimal, or u8 to i32 for whole numbers");
    }
    Ok(())
}

fn words(text: &Text) -> Check {
    let words = [
        ("over_range", &text.over_range),
        ("under_range", &text.under_range),
        ("no_value", &text.no_value),
    ];
    let mut seen: Vec<&str> = Vec::new();
    for (name, word) in words {
        let Some(word) = word else { continue };
        let path = format!("stream.text.{name}");
        short_text(&path, word, limits::NAME)?;
        if !word.bytes().all(|byte| byte.is_ascii_graphic()) {
            let what = "only printed ASCII without spaces can stand for a number";
            return Err(fault(path, what, "write the word as the sensor sends it"));
        }
        if text.decimal.begins_a_number(word) {
            let what = format!("\"{word}\" begins like a number");
            return Err(fault(path, what, "a number is not told from it"));
        }
        if seen.contains(&word.as_str()) {
            return Err(fault(path, "two words are the same", "use different ones"));
        }
        seen.push(word);
    }
    Ok(())
}

fn pattern(stream: &Stream) -> Check {
    const PATH: &str = "stream.text.line";
    const REMEDY: &str = "write the line as the sensor sends it, with {pressure} where the \
                          pressure stands; protocol/README.md has examples";
    let slots = head(stream);
    let Some(pattern) = Pattern::new(stream, &slots) else {
        return Ok(());
    };
    let pattern = pattern.map_err(|what| fault(PATH, what, REMEDY))?;
    if let Some(index) = pattern.not_once() {
        return Err(fault(
            PATH,
            format!(
                "field {} of the list does not stand in it exactly once",
                index + 1
            ),
            "put it into the pattern in braces, by its role, or by its name if it has one",
        ));
    }
    if !pattern.check_is_at_its_place() {
        return Err(fault(
            PATH,
            "a check and its description belong together",
            "end the pattern with {check} and add `check`, or remove both",
        ));
    }
    match pattern.ambiguity() {
        Some(what) => Err(fault(PATH, what, "such lines cannot be described")),
        None => Ok(()),
    }
}

fn asked(stream: &Stream, ask: &Ask) -> Check {
    positive("stream.ask.rate_hz", ask.rate_hz, limits::ASK_HZ)?;
    if ask.rate_hz < 0.1 {
        let what = format!("{} is too slow to be of use", ask.rate_hz);
        return Err(fault("stream.ask.rate_hz", what, "use 0.1 or more"));
    }
    match &ask.write {
        Some(text) => question(text)?,
        None if ask.answer == Answer::Notify => {
            return Err(fault(
                "stream.ask",
                "nothing says what is asked",
                "give `write`, the bytes of the question; a sensor that notifies by itself needs \
                 no `[stream.ask]`",
            ));
        }
        None if ask.uuid.is_some() || ask.service.is_some() || ask.acknowledged => {
            let what = "says where a question goes, but there is none";
            return Err(fault("stream.ask", what, "give `write`, or read alone"));
        }
        None => {}
    }
    if ask.answer == Answer::NotifyOrRead && (ask.write.is_some() || stream.text.is_some()) {
        return Err(fault(
            "stream.ask.answer",
            "a sensor that may notify by itself is not asked, and its values are not text",
            "use answer = \"notify\" or answer = \"read\"",
        ));
    }
    if ask.answer != Answer::Notify && stream.frame.is_some() {
        return Err(fault(
            "stream.frame",
            "a value that is read comes whole",
            "describe it by `[[stream.field]]` alone",
        ));
    }
    Ok(())
}

fn question(text: &str) -> Result<(), Unplaced> {
    let path = "stream.ask.write";
    let bytes = values::bytes(text).map_err(|what| fault(path, what, "write \"01 0D\""))?;
    if (1..=limits::COMMAND).contains(&bytes.len()) {
        return Ok(());
    }
    Err(fault(
        path,
        format!("it is {} bytes long", bytes.len()),
        format!("use 1 to {}", limits::COMMAND),
    ))
}
