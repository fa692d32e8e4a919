//! What a connected sensor offers, held against its protocol file.

use crate::protocol::{Access, BleUuid, ProtocolFile};
use btleplug::api::{CharPropFlags, Characteristic, Service};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The characteristics to use.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    /// Notifies pressure.
    pub stream: Characteristic,
    /// Takes commands.
    pub command: Option<Characteristic>,
    /// Others that notify, by what recordings call them.
    pub notifying: Vec<(String, Characteristic)>,
    /// Others that are read now and then.
    pub readable: Vec<(String, Characteristic)>,
    /// Read once: name and characteristic.
    pub details: Vec<(String, Characteristic)>,
    /// What the protocol file names and the sensor lacks, though it can do without.
    pub lacking: Vec<String>,
}

impl Plan {
    /// What recordings call each characteristic that notifies.
    pub fn names(&self) -> BTreeMap<Uuid, String> {
        let stream = (self.stream.uuid, crate::protocol::STREAM.to_owned());
        let others = self
            .notifying
            .iter()
            .map(|(name, one)| (one.uuid, name.clone()));
        others.chain([stream]).collect()
    }

    /// Chooses the characteristics.
    ///
    /// # Errors
    /// Each thing that cannot be done without and is not there.
    pub fn make(file: &ProtocolFile, services: &BTreeSet<Service>) -> Result<Self, Vec<String>> {
        let spec = file.spec();
        let home = spec.recognise.service.map(BleUuid::uuid);
        let find = |uuid: Uuid| find(services, home, uuid);
        let mut faults = Vec::new();
        if services.is_empty() {
            return Err(vec![
                "it shows no services at all; connect again".to_owned(),
            ]);
        }
        let stream = find(spec.stream.uuid.uuid());
        match &stream {
            None => faults.push(format!(
                "characteristic {} (pressure) is missing{}",
                spec.stream.uuid,
                offered(services, home)
            )),
            Some(one) if !notifies(one) => faults.push(format!(
                "characteristic {} (pressure) does not notify, it offers {}",
                spec.stream.uuid,
                flags(one.properties)
            )),
            Some(_) => {}
        }
        let needs_commands = spec.commands.as_ref().is_some_and(|c| c.start.is_some());
        let mut lacking = Vec::new();
        let mut command = None;
        if let Some(commands) = &spec.commands {
            let wish = if commands.acknowledged {
                CharPropFlags::WRITE
            } else {
                CharPropFlags::WRITE | CharPropFlags::WRITE_WITHOUT_RESPONSE
            };
            let lack = match find(commands.uuid.uuid()) {
                None => Some("is missing".to_owned()),
                Some(one) if !one.properties.intersects(wish) => Some(format!(
                    "cannot be written, it offers {}",
                    flags(one.properties)
                )),
                Some(one) => {
                    command = Some(one);
                    None
                }
            };
            if let Some(lack) = lack {
                let text = format!("characteristic {} (commands) {lack}", commands.uuid);
                if needs_commands {
                    faults.push(text);
                } else {
                    lacking.push(text);
                }
            }
        }
        let Some(stream) = stream.filter(|_| faults.is_empty()) else {
            return Err(faults);
        };
        let mut plan = Self {
            stream,
            command,
            notifying: Vec::new(),
            readable: Vec::new(),
            details: Vec::new(),
            lacking,
        };
        for reading in &spec.readings {
            let one = find(reading.uuid.uuid());
            let notify = one.clone().filter(notifies);
            let read = one.filter(|one| one.properties.contains(CharPropFlags::READ));
            let wants = |access| reading.access.contains(&access);
            match (notify, read) {
                (Some(one), _) if wants(Access::Notify) => {
                    plan.notifying.push((reading.from.clone(), one));
                }
                (_, Some(one)) => plan.readable.push((reading.from.clone(), one)),
                _ => plan.lacking.push(format!(
                    "characteristic {} ({}) is missing or cannot be read",
                    reading.uuid, reading.from
                )),
            }
        }
        for detail in &spec.details {
            match find(detail.uuid.uuid()) {
                Some(one) => plan.details.push((detail.name.clone(), one)),
                None => plan.lacking.push(format!(
                    "characteristic {} ({}) is missing",
                    detail.uuid, detail.name
                )),
            }
        }
        Ok(plan)
    }
}

/// The characteristic, in the sensor's own service if that has it, else in any.
fn find(services: &BTreeSet<Service>, home: Option<Uuid>, uuid: Uuid) -> Option<Characteristic> {
    let of = |service: &Service| {
        service
            .characteristics
            .iter()
            .find(|c| c.uuid == uuid)
            .cloned()
    };
    services
        .iter()
        .filter(|service| Some(service.uuid) == home)
        .find_map(of)
        .or_else(|| services.iter().find_map(of))
}

fn notifies(one: &Characteristic) -> bool {
    one.properties
        .intersects(CharPropFlags::NOTIFY | CharPropFlags::INDICATE)
}

/// What the sensor's own service offers instead.
fn offered(services: &BTreeSet<Service>, home: Option<Uuid>) -> String {
    const MOST: usize = 8;
    let Some(home) = services.iter().find(|service| Some(service.uuid) == home) else {
        return format!(
            "; none of its {} service(s) is the one asked for",
            services.len()
        );
    };
    let there: Vec<String> = home
        .characteristics
        .iter()
        .take(MOST)
        .map(|one| one.uuid.to_string())
        .collect();
    format!(
        "; its service has {}",
        if there.is_empty() {
            "none".into()
        } else {
            there.join(", ")
        }
    )
}

fn flags(properties: CharPropFlags) -> String {
    let names = [
        (CharPropFlags::READ, "read"),
        (CharPropFlags::WRITE, "write"),
        (
            CharPropFlags::WRITE_WITHOUT_RESPONSE,
            "write without response",
        ),
        (CharPropFlags::NOTIFY, "notify"),
        (CharPropFlags::INDICATE, "indicate"),
    ];
    let there: Vec<&str> = names
        .into_iter()
        .filter(|(flag, _)| properties.contains(*flag))
        .map(|(_, name)| name)
        .collect();
    if there.is_empty() {
        "nothing".to_owned()
    } else {
        there.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = include_str!("../../../protocol/reference-sensor.toml");

    fn characteristic(
        file: &ProtocolFile,
        uuid: Uuid,
        properties: CharPropFlags,
    ) -> Characteristic {
        Characteristic {
            uuid,
            service_uuid: file.spec().recognise.service.expect("names one").uuid(),
            properties,
            descriptors: BTreeSet::new(),
        }
    }

    fn service(uuid: Uuid, characteristics: Vec<Characteristic>) -> Service {
        Service {
            uuid,
            primary: true,
            characteristics: characteristics.into_iter().collect(),
        }
    }

    /// The file, its own service's UUID, and the two characteristics that it cannot do without.
    fn reference() -> (ProtocolFile, Uuid, Characteristic, Characteristic) {
        let file = ProtocolFile::parse(FILE).expect("ships with the program");
        let home = file.spec().recognise.service.expect("names one").uuid();
        let stream = file.spec().stream.uuid.uuid();
        let command = file.spec().commands.as_ref().expect("has some").uuid.uuid();
        let stream = characteristic(&file, stream, CharPropFlags::NOTIFY);
        let command = characteristic(&file, command, CharPropFlags::WRITE);
        (file, home, stream, command)
    }

    #[test]
    fn what_can_be_done_without_is_told_not_refused() {
        let (file, home, stream, command) = reference();
        let services = BTreeSet::from([service(home, vec![stream.clone(), command])]);
        let plan = Plan::make(&file, &services).expect("enough");
        assert_eq!(plan.stream, stream);
        // Battery and five texts of the device information.
        assert_eq!(plan.lacking.len(), 6);
    }

    #[test]
    fn the_sensors_own_service_comes_first() {
        let (file, home, stream, command) = reference();
        let deaf = Characteristic {
            properties: CharPropFlags::READ,
            ..stream.clone()
        };
        let before = service(Uuid::from_u128(1), vec![deaf]);
        let services = BTreeSet::from([before, service(home, vec![stream.clone(), command])]);
        assert_eq!(Plan::make(&file, &services).expect("enough").stream, stream);
    }

    #[test]
    fn each_lack_is_named() {
        let (file, home, stream, command) = reference();
        let deaf = Characteristic {
            properties: CharPropFlags::READ,
            ..stream
        };
        let services = BTreeSet::from([service(home, vec![deaf])]);
        let faults = Plan::make(&file, &services).expect_err("not enough");
        assert!(
            faults[0].contains("does not notify, it offers read"),
            "{faults:?}"
        );
        assert!(faults[1].contains("(commands) is missing"), "{faults:?}");
        let services = BTreeSet::from([service(home, vec![command])]);
        let faults = Plan::make(&file, &services).expect_err("not enough");
        assert!(
            faults[0].contains("(pressure) is missing; its service has"),
            "{faults:?}"
        );
        let faults = Plan::make(&file, &BTreeSet::new()).expect_err("nothing");
        assert!(faults[0].contains("no services at all"), "{faults:?}");
    }
}
