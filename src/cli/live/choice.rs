//! Which sensor, described by which protocol file, through which adapter.

use super::known;
use crate::cli::{Exit, Failure, document};
use crate::protocol::ProtocolFile;
use crate::transport::TransportError;
use crate::transport::ble::{Found, Scanner, Sought};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a sensor is looked for.
const LOOK: Duration = Duration::from_secs(15);

/// Which sensor, described by which protocol file, through which adapter.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Choice {
    /// The sensor: a name you gave it, its address, or the name it advertises
    #[arg(long, value_name = "WHICH")]
    pub sensor: Option<String>,
    /// The protocol file that describes it, if not one that comes with needlerest
    #[arg(long, value_name = "FILE")]
    pub protocol: Vec<PathBuf>,
    /// The Bluetooth adapter, such as hci0
    #[arg(long, value_name = "NAME")]
    pub adapter: Option<String>,
}

impl Choice {
    /// The protocol files to choose from: those given, else those that come with needlerest.
    pub(in crate::cli) fn protocols(&self) -> Result<Vec<ProtocolFile>, Failure> {
        let remembered = self.remembered()?.and_then(|known| known.protocol);
        let mut given = self.protocol.clone();
        if given.is_empty() {
            given.extend(remembered);
        }
        if given.is_empty() {
            return Ok(shipped());
        }
        given.iter().map(|path| read(path)).collect()
    }

    fn remembered(&self) -> Result<Option<known::Known>, Failure> {
        let Some(sensor) = &self.sensor else {
            return Ok(None);
        };
        Ok(known::load(&known::path()?)?.remove(sensor))
    }

    fn wanted(&self) -> Result<Sought, Failure> {
        let Some(sensor) = self.sensor.clone() else {
            return Ok(Sought::default());
        };
        if let Some(known) = self.remembered()? {
            return Ok(Sought::address(&known.address));
        }
        if is_address(&sensor) {
            return Ok(Sought::address(&sensor));
        }
        Ok(Sought {
            address: None,
            name: Some(sensor),
        })
    }

    /// Looks for the sensor; gives it with the one protocol file that describes it.
    pub(in crate::cli) async fn find(
        &self,
        scanner: &mut Scanner,
        protocols: &[ProtocolFile],
    ) -> Result<(Found, ProtocolFile), Failure> {
        let found = scanner.find(&self.wanted()?, protocols, LOOK).await?;
        let protocol = self.describing(&found, protocols)?;
        Ok((found, protocol))
    }

    /// The one protocol file that describes a sensor. A file given by hand needs no recognising.
    fn describing(
        &self,
        found: &Found,
        protocols: &[ProtocolFile],
    ) -> Result<ProtocolFile, Failure> {
        if let ([_], [only]) = (self.protocol.as_slice(), protocols) {
            return Ok(only.clone());
        }
        let fitting: Vec<&ProtocolFile> = found
            .protocols
            .iter()
            .filter_map(|&index| protocols.get(index))
            .collect();
        match fitting.as_slice() {
            [one] => Ok((*one).clone()),
            several => Err(TransportError::WhichProtocol {
                sensor: found.label(),
                fitting: several.iter().map(|file| file.name().to_owned()).collect(),
            }
            .into()),
        }
    }
}

/// The protocol files that come with needlerest.
pub(in crate::cli) fn shipped() -> Vec<ProtocolFile> {
    let texts = [
        include_str!("../../../protocol/reference-sensor.toml"),
        include_str!("../../../protocol/environmental-sensing.toml"),
    ];
    // A test reads them: none is left out.
    texts
        .iter()
        .filter_map(|text| ProtocolFile::parse(text).ok())
        .collect()
}

/// Reads a protocol file.
///
/// # Errors
/// A file that cannot be read or does not make sense, by its line and field.
pub(in crate::cli) fn read(path: &Path) -> Result<ProtocolFile, Failure> {
    let text = document::text(path)?;
    ProtocolFile::parse(&text).map_err(|error| {
        let line = error.line.map(|line| format!("line {line}"));
        let place = [Some(path.display().to_string()), line, error.field.clone()];
        let place: Vec<String> = place.into_iter().flatten().collect();
        Failure::new(Exit::BadInput, &error.what)
            .at(place.join(", "))
            .remedy(&error.remedy)
    })
}

/// `AA:BB:CC:DD:EE:FF`, or the UUID that stands for it on macOS.
fn is_address(text: &str) -> bool {
    let pairs: Vec<&str> = text.split(':').collect();
    let pair = |pair: &&str| pair.len() == 2 && pair.bytes().all(|b| b.is_ascii_hexdigit());
    (pairs.len() == 6 && pairs.iter().all(pair)) || uuid::Uuid::parse_str(text).is_ok()
}

/// A length of time in seconds, for the command line.
pub(in crate::cli) fn seconds(text: &str) -> Result<Duration, String> {
    text.parse::<f64>()
        .ok()
        .filter(|seconds| (0.1..=86_400.0).contains(seconds))
        .map(Duration::from_secs_f64)
        .ok_or_else(|| "give a number of seconds from 0.1 to 86400".to_owned())
}

#[cfg(test)]
mod tests {
    use super::{is_address, shipped};

    #[test]
    fn every_protocol_file_that_comes_along_is_sound() {
        assert_eq!(shipped().len(), 2);
    }

    #[test]
    fn addresses_are_told_from_names() {
        for address in [
            "00:AA:01:01:00:01",
            "aa:bb:cc:dd:ee:ff",
            "68b10e13-3478-42dd-93a6-67967aa01e94",
        ] {
            assert!(is_address(address), "{address}");
        }
        for name in [
            "shed",
            "Needlerest 12",
            "AA:BB",
            "AA:BB:CC:DD:EE:GG",
            "AAA:B:CC:DD:EE:FF",
            "",
        ] {
            assert!(!is_address(name), "{name}");
        }
    }
}
