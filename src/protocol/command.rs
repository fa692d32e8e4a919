//! Commands to the sensor.

use super::number::{ByteOrder, NumberType, Raw};
use super::spec::Commands;
use super::values::bytes;
use crate::units::Rate;

/// What a sensor can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Command {
    /// Start the stream.
    Start,
    /// Stop it.
    Stop,
    /// Take the pressure at this moment as zero.
    Zero,
    /// Set the sample rate.
    SetRate(Rate),
}

/// Why a command cannot be encoded.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CommandError {
    /// The protocol file has no such command.
    #[error("this sensor's protocol file has no command \"{0}\"")]
    Unsupported(&'static str),
    /// The rate is outside what the sensor can be set to.
    #[error(
        "this sensor cannot be set to {asked} samples a second; it takes {lowest} to {highest}"
    )]
    Rate {
        /// What was asked for, in Hz.
        asked: String,
        /// The slowest, in Hz.
        lowest: String,
        /// The fastest, in Hz.
        highest: String,
    },
}

/// A command's bytes, with or without a number to fill in.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Template {
    before: Vec<u8>,
    number: Option<(Placeholder, NumberType)>,
    after: Vec<u8>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Placeholder {
    /// Samples a second.
    Rate,
    /// Ticks from one sample to the next.
    Interval,
}

impl Template {
    /// Parses `04 {rate:u16} 00`: pairs of hexadecimal digits, spaces anywhere between them, and
    /// at most one placeholder. The error says what is wrong with it.
    pub(super) fn parse(text: &str) -> Result<Self, String> {
        let (before, rest) = match text.split_once('{') {
            Some((before, rest)) => (before, Some(rest)),
            None => (text, None),
        };
        let mut template = Self {
            before: bytes(before)?,
            number: None,
            after: Vec::new(),
        };
        if let Some(rest) = rest {
            let (inside, after) = rest
                .split_once('}')
                .ok_or("a placeholder has no closing \"}\"")?;
            template.number = Some(placeholder(inside)?);
            template.after = bytes(after)?;
        }
        Ok(template)
    }

    pub(super) fn placeholder(&self) -> Option<Placeholder> {
        self.number.map(|(what, _)| what)
    }

    /// Length of the command in bytes.
    pub(super) fn len(&self) -> usize {
        let number = self.number.map_or(0, |(_, kind)| kind.size());
        self.before.len() + number + self.after.len()
    }

    /// The command's bytes, with the rate filled in.
    fn fill(&self, rate: Rate, tick_us: Option<f64>, order: ByteOrder) -> Vec<u8> {
        let mut command = self.before.clone();
        if let Some((what, kind)) = self.number {
            let number = match what {
                Placeholder::Rate => rate.hz(),
                Placeholder::Interval => 1e6 / (rate.hz() * tick_us.unwrap_or(1.0)),
            };
            kind.write(Raw::Real(number), order, &mut command);
        }
        command.extend_from_slice(&self.after);
        command
    }
}

fn placeholder(inside: &str) -> Result<(Placeholder, NumberType), String> {
    let wrong = || {
        format!(
            "\"{{{inside}}}\" is not a placeholder; write \"{{rate:u16}}\" or \"{{interval:u32}}\""
        )
    };
    let (what, kind) = inside.split_once(':').ok_or_else(wrong)?;
    let what = match what.trim() {
        "rate" => Placeholder::Rate,
        "interval" => Placeholder::Interval,
        _ => return Err(wrong()),
    };
    let kind = match kind.trim() {
        "u8" => NumberType::U8,
        "u16" => NumberType::U16,
        "u24" => NumberType::U24,
        "u32" => NumberType::U32,
        "f32" => NumberType::F32,
        _ => return Err(wrong()),
    };
    Ok((what, kind))
}

/// The bytes of a command as the file's `commands` table has it.
pub(super) fn encode(
    commands: Option<&Commands>,
    command: Command,
    tick_us: Option<f64>,
    (lowest, highest): (Rate, Rate),
) -> Result<Vec<u8>, CommandError> {
    let (name, rate) = match command {
        Command::Start => ("start", Rate::default()),
        Command::Stop => ("stop", Rate::default()),
        Command::Zero => ("zero", Rate::default()),
        Command::SetRate(rate) => ("set_rate", rate),
    };
    let text = commands.and_then(|commands| match command {
        Command::Start => commands.start.as_deref(),
        Command::Stop => commands.stop.as_deref(),
        Command::Zero => commands.zero.as_deref(),
        Command::SetRate(_) => commands.set_rate.as_deref(),
    });
    let (Some(commands), Some(text)) = (commands, text) else {
        return Err(CommandError::Unsupported(name));
    };
    if matches!(command, Command::SetRate(_)) && !(lowest <= rate && rate <= highest) {
        return Err(CommandError::Rate {
            asked: rate.hz().to_string(),
            lowest: lowest.hz().to_string(),
            highest: highest.hz().to_string(),
        });
    }
    let template = Template::parse(text).map_err(|_| CommandError::Unsupported(name))?;
    Ok(template.fill(rate, tick_us, commands.byte_order))
}
