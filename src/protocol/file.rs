//! A protocol file that has been read and found sound.

use super::command::{self, Command, CommandError};
use super::error::{ProtocolError, from_toml};
use super::layout::Layout;
use super::limits;
use super::spec::{Answer, Ask, Reference, Severity, Spec, StatusBit};
use super::validate::validate;
use super::values;
use crate::units::{Pressure, Rate};
use toml::Spanned;
use toml::de::DeTable;

/// A protocol file that has been read and found sound.
#[derive(Clone, Debug, PartialEq)]
pub struct ProtocolFile {
    text: String,
    spec: Spec,
    layout: Layout,
}

/// Name that a protocol file begins with.
pub const FORMAT: &str = "needlerest-protocol";
/// Newest version of the format that is read; older ones are read too.
pub const VERSION: u32 = 2;

impl ProtocolFile {
    /// Reads a protocol file.
    ///
    /// # Errors
    /// The first thing that is wrong with it: line, entry, what, and what to do.
    pub fn parse(text: &str) -> Result<Self, ProtocolError> {
        if text.len() > limits::FILE {
            return Err(ProtocolError {
                line: None,
                field: None,
                what: format!("the file is {} bytes long", text.len()),
                remedy: format!("a protocol file has at most {} bytes", limits::FILE),
            });
        }
        let table = DeTable::parse(text).map_err(|error| from_toml(text, &error))?;
        is_ours(text, &table)?;
        let spec: Spec = toml::from_str(text).map_err(|error| from_toml(text, &error))?;
        validate(&spec).map_err(|fault| fault.located(text, &table))?;
        let layout = Layout::new(&spec).ok_or_else(|| no_pressure().located(text, &table))?;
        Ok(Self {
            text: text.to_owned(),
            spec,
            layout,
        })
    }

    /// The file's text, as it was read.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Everything that the file says.
    pub fn spec(&self) -> &Spec {
        &self.spec
    }

    /// What the kind of sensor is called.
    pub fn name(&self) -> &str {
        &self.spec.name
    }

    /// Where the fields of a notification are.
    pub(super) fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Whether the sensor tells gauge or absolute pressure.
    pub fn reference(&self) -> Reference {
        self.spec.sensor.pressure
    }

    /// Lower end of the range, as the sensor tells pressure.
    pub fn range_low(&self) -> Option<Pressure> {
        self.spec.sensor.range_low.map(|written| written.0)
    }

    /// Upper end of the range, as the sensor tells pressure.
    pub fn range_high(&self) -> Option<Pressure> {
        self.spec.sensor.range_high.map(|written| written.0)
    }

    /// Upper end of the range above the air around; of an absolute sensor at sea level.
    pub fn gauge_top(&self) -> Option<Pressure> {
        let high = self.range_high()?;
        Some(match self.reference() {
            Reference::Gauge => high,
            Reference::Absolute => high - Pressure::ATMOSPHERE,
        })
    }

    /// The smallest difference that the sensor can tell; none if nothing says.
    pub fn resolution(&self) -> Option<Pressure> {
        let stated = self.spec.sensor.resolution.map(|written| written.0);
        let pressure = &self.layout.pressure;
        let zero = pressure.pressure(0.0);
        stated.or_else(|| Some(pressure.pressure(pressure.step()?) - zero))
    }

    /// Standard uncertainty due to resolution: a rectangle one step wide, q/√12 (GUM F.2.2.1).
    pub fn resolution_uncertainty(&self) -> Option<Pressure> {
        Some(self.resolution()? / libm::sqrt(12.0))
    }

    /// The largest error anywhere in the range; none if the file does not state one.
    pub fn accuracy(&self) -> Option<Pressure> {
        let sensor = &self.spec.sensor;
        let of_span = || {
            let span = self.range_high()? - self.range_low()?;
            Some(span * (sensor.accuracy_percent_of_span? / 100.0))
        };
        sensor.accuracy.map(|written| written.0).or_else(of_span)
    }

    /// Standard uncertainty due to the stated accuracy: the error lies anywhere within ± the
    /// bound, a/√3 (GUM 4.3.7).
    pub fn accuracy_uncertainty(&self) -> Option<Pressure> {
        Some(self.accuracy()? / libm::sqrt(3.0))
    }

    /// The accuracy in plain words.
    pub fn accuracy_text(&self) -> String {
        let sensor = &self.spec.sensor;
        match (self.accuracy(), sensor.accuracy_percent_of_span) {
            (Some(bound), Some(percent)) => {
                format!("±{} kPa ({percent} % of span)", bound.kpa())
            }
            (Some(bound), None) => format!("±{} kPa", bound.kpa()),
            (None, _) => "not stated".to_owned(),
        }
    }

    /// Samples a second, unless commanded otherwise.
    pub fn rate(&self) -> Option<Rate> {
        let asked = self.spec.stream.ask.as_ref();
        let asked = asked.filter(|ask| ask.answer != Answer::NotifyOrRead);
        let stated = self.spec.sensor.rate_hz;
        stated.or(asked.map(|ask| ask.rate_hz)).map(Rate::from_hz)
    }

    /// How and how often pressure is asked for; none if it comes by itself.
    pub fn ask(&self) -> Option<&Ask> {
        self.spec.stream.ask.as_ref()
    }

    /// The bytes of the question; none if reading alone is the question, or none is asked.
    pub fn question(&self) -> Option<Vec<u8>> {
        values::bytes(self.ask()?.write.as_ref()?).ok()
    }

    /// The rates that [`Command::SetRate`] takes; none if there is no such command.
    pub fn settable_rates(&self) -> Option<(Rate, Rate)> {
        self.spec.commands.as_ref()?.set_rate.as_ref()?;
        let sensor = &self.spec.sensor;
        Some((
            Rate::from_hz(sensor.rate_lowest_hz?),
            Rate::from_hz(sensor.rate_highest_hz?),
        ))
    }

    /// The most samples that a message holds.
    pub fn most_samples(&self) -> usize {
        self.layout.most.max(1)
    }

    /// Length of a tick of the sensor's clock in microseconds; none if it has no clock.
    pub fn tick_us(&self) -> Option<f64> {
        self.spec.clock.as_ref().map(|clock| clock.tick_us)
    }

    /// The bits of a status field that are set, with what they mean; those that the file does not
    /// explain are left out.
    pub fn status_bits(&self, status: u32) -> impl Iterator<Item = &StatusBit> {
        let set = move |bit: &&StatusBit| status >> bit.bit & 1 == 1;
        self.spec.status_bits.iter().filter(set)
    }

    /// The most severe of the status bits that are set.
    pub fn severity(&self, status: u32) -> Option<Severity> {
        self.status_bits(status).map(|bit| bit.severity).max()
    }

    /// The bits of the status field that the file explains.
    pub(super) fn known_status(&self) -> u32 {
        let bits = &self.spec.status_bits;
        bits.iter().fold(0, |known, bit| known | 1 << bit.bit)
    }

    /// The bytes of a command.
    ///
    /// # Errors
    /// The sensor has no such command, or does not take that rate.
    pub fn encode(&self, command: Command) -> Result<Vec<u8>, CommandError> {
        let rates = self.settable_rates().unwrap_or_default();
        command::encode(self.spec.commands.as_ref(), command, self.tick_us(), rates)
    }
}

fn no_pressure() -> super::error::Unplaced {
    super::error::fault(
        "stream",
        "no field has the role `pressure`",
        "say which field holds the pressure",
    )
}

/// Whether it is a protocol file at all, of a version known here: asked first, because a newer
/// file is best told so, not that an entry of it is unknown.
fn is_ours(text: &str, table: &Spanned<DeTable<'_>>) -> Result<(), ProtocolError> {
    let entries = table.get_ref();
    let format = entries
        .get("format")
        .and_then(|value| value.get_ref().as_str());
    if format != Some(FORMAT) {
        return Err(super::error::fault(
            "format",
            "this is not a protocol file of needlerest",
            format!("a protocol file begins with format = \"{FORMAT}\""),
        )
        .located(text, table));
    }
    let version = entries
        .get("version")
        .and_then(|value| value.get_ref().as_integer())
        .and_then(|number| u32::from_str_radix(number.as_str(), number.radix()).ok());
    match version {
        Some(1..=VERSION) => Ok(()),
        Some(newer) if newer > VERSION => Err(super::error::fault(
            "version",
            format!("the file is of version {newer}, this program reads up to version {VERSION}"),
            "use a newer needlerest",
        )
        .located(text, table)),
        _ => Err(super::error::fault(
            "version",
            "the version is missing or not a whole number",
            "write version = 1, or version = 2 for what version 1 cannot say",
        )
        .located(text, table)),
    }
}
