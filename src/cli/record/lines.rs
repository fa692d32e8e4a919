//! Each sample and event as a line of JSON on standard output, for other programs.

use crate::cli::out;
use crate::protocol::{ProtocolFile, RawSample, Reference};
use crate::recording::TimedEvent;
use serde_json::{Value, json};
use std::io::{self, Write as _};

/// Prints the lines. When nobody reads them any more, recording goes on without.
pub(super) struct Lines {
    on: bool,
}

impl Lines {
    /// Prints nothing unless asked to.
    pub(super) fn new(on: bool) -> Self {
        Self { on }
    }

    /// The first line: what the others mean.
    pub(super) fn begin(&mut self, protocol: &ProtocolFile, sensor: &str) -> Option<String> {
        let pressure = match protocol.reference() {
            Reference::Gauge => "gauge",
            Reference::Absolute => "absolute",
        };
        self.print(&[json!({
            "type": "begin",
            "format": "needlerest-lines",
            "version": 1,
            "sensor": sensor,
            "pressure": pressure,
        })])
    }

    /// Samples as the sensor told them: no zero is subtracted.
    pub(super) fn samples(&mut self, samples: &[RawSample]) -> Option<String> {
        let lines: Vec<Value> = samples.iter().map(sample).collect();
        self.print(&lines)
    }

    /// Something that happened, as the recording has it.
    pub(super) fn event(&mut self, event: &TimedEvent) -> Option<String> {
        let mut line = json!(event);
        if let Value::Object(members) = &mut line {
            members.insert("type".to_owned(), "event".into());
        }
        self.print(&[line])
    }

    /// What to tell the user if it is the last time.
    fn print(&mut self, lines: &[Value]) -> Option<String> {
        if !self.on || lines.is_empty() {
            return None;
        }
        let error = write(lines).err()?;
        self.on = false;
        Some(format!(
            "no more lines are printed, recording goes on: {error}"
        ))
    }
}

fn write(lines: &[Value]) -> io::Result<()> {
    let mut out = out::stdout();
    for line in lines {
        out.json(&line.to_string())?;
    }
    out.flush()
}

fn sample(sample: &RawSample) -> Value {
    json!({
        "type": "sample",
        "time_s": sample.time.s(),
        "pressure_pa": sample.pressure.pa(),
        "temperature_celsius": sample.temperature.map(crate::units::Temperature::celsius),
        "out_of_range": sample.out_of_range,
        "gap_before": sample.gap_before,
    })
}
