//! What a connected sensor offers, held against its protocol file.

use crate::protocol::{Access, Answer, BleUuid, ProtocolFile};
use btleplug::api::{CharPropFlags, Characteristic, Service};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The characteristics to use.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    /// Carries pressure.
    pub stream: Characteristic,
    /// The stream is read at a rate: it does not notify, or is not meant to.
    pub is_read: bool,
    /// Takes the question that pressure is the answer to.
    pub question: Option<Characteristic>,
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
    /// What recordings call each characteristic that notifies, by its service and its own UUID.
    pub fn names(&self) -> BTreeMap<(Uuid, Uuid), String> {
        let stream = (&self.stream, crate::protocol::STREAM);
        let stream = [stream].into_iter().filter(|_| !self.is_read);
        let others = self.notifying.iter();
        let others = others.map(|(name, one)| (one, name.as_str()));
        let all = others.chain(stream);
        all.map(|(one, name)| ((one.service_uuid, one.uuid), name.to_owned()))
            .collect()
    }

    /// Chooses the characteristics.
    ///
    /// # Errors
    /// Each thing that cannot be done without and is not there.
    pub fn make(file: &ProtocolFile, services: &BTreeSet<Service>) -> Result<Self, Vec<String>> {
        let spec = file.spec();
        let home = spec.recognise.service.map(BleUuid::uuid);
        let find = |service: Option<BleUuid>, uuid: BleUuid| match service {
            Some(service) => within(services, service.uuid(), uuid.uuid()),
            None => find(services, home, uuid.uuid()),
        };
        let mut faults = Vec::new();
        if services.is_empty() {
            return Err(vec![
                "it shows no services at all; connect again".to_owned(),
            ]);
        }
        let stream = find(spec.stream.service, spec.stream.uuid);
        let answer = spec.stream.ask.as_ref().map(|ask| ask.answer);
        let is_read = match (answer, &stream) {
            (Some(Answer::Read), _) => true,
            (Some(Answer::NotifyOrRead), Some(one)) => !notifies(one),
            _ => false,
        };
        let lack = match &stream {
            None => Some(format!("is missing{}", offered(services, home))),
            Some(one) => unfit(one, is_read),
        };
        let text = |lack| format!("characteristic {} (pressure) {lack}", spec.stream.uuid);
        faults.extend(lack.map(text));
        let needs_commands = spec.commands.as_ref().is_some_and(|c| c.start.is_some());
        let mut lacking = Vec::new();
        let mut command = None;
        if let Some(commands) = &spec.commands {
            let wish = if commands.acknowledged {
                CharPropFlags::WRITE
            } else {
                CharPropFlags::WRITE | CharPropFlags::WRITE_WITHOUT_RESPONSE
            };
            let lack = match find(commands.service, commands.uuid) {
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
        let mut question = None;
        if file.question().is_some() {
            let found = asked(file, stream.as_ref(), find);
            question = found.map_err(|fault| faults.push(fault)).ok();
        }
        let Some(stream) = stream.filter(|_| faults.is_empty()) else {
            return Err(faults);
        };
        let mut plan = Self {
            stream,
            is_read,
            question,
            command,
            notifying: Vec::new(),
            readable: Vec::new(),
            details: Vec::new(),
            lacking,
        };
        plan.add_others(file, find);
        Ok(plan)
    }

    /// Chooses the characteristics that one can do without.
    fn add_others(
        &mut self,
        file: &ProtocolFile,
        find: impl Fn(Option<BleUuid>, BleUuid) -> Option<Characteristic>,
    ) {
        let spec = file.spec();
        for reading in &spec.readings {
            let one = find(reading.service, reading.uuid);
            let notify = one.clone().filter(notifies);
            let read = one.filter(|one| one.properties.contains(CharPropFlags::READ));
            let wants = |access| reading.access.contains(&access);
            match (notify, read) {
                (Some(one), _) if wants(Access::Notify) => {
                    self.notifying.push((reading.from.clone(), one));
                }
                (_, Some(one)) => self.readable.push((reading.from.clone(), one)),
                _ => self.lacking.push(format!(
                    "characteristic {} ({}) is missing or cannot be read",
                    reading.uuid, reading.from
                )),
            }
        }
        for detail in &spec.details {
            match find(detail.service, detail.uuid) {
                Some(one) => self.details.push((detail.name.clone(), one)),
                None => self.lacking.push(format!(
                    "characteristic {} ({}) is missing",
                    detail.uuid, detail.name
                )),
            }
        }
    }
}

/// Why a characteristic cannot carry pressure in this way.
fn unfit(one: &Characteristic, is_read: bool) -> Option<String> {
    let offers = || format!("it offers {}", flags(one.properties));
    if is_read {
        let reads = one.properties.contains(CharPropFlags::READ);
        (!reads).then(|| format!("cannot be read, {}", offers()))
    } else {
        (!notifies(one)).then(|| format!("does not notify, {}", offers()))
    }
}

/// The characteristic that takes the question.
fn asked(
    file: &ProtocolFile,
    stream: Option<&Characteristic>,
    find: impl Fn(Option<BleUuid>, BleUuid) -> Option<Characteristic>,
) -> Result<Characteristic, String> {
    let ask = file.ask();
    let uuid = ask.and_then(|ask| ask.uuid);
    let one = match uuid {
        Some(uuid) => find(ask.and_then(|ask| ask.service), uuid),
        None => stream.cloned(),
    };
    let named = uuid.unwrap_or(file.spec().stream.uuid);
    let writes = CharPropFlags::WRITE | CharPropFlags::WRITE_WITHOUT_RESPONSE;
    match one {
        None => Err(format!("characteristic {named} (question) is missing")),
        Some(one) if !one.properties.intersects(writes) => Err(format!(
            "characteristic {named} (question) cannot be written, it offers {}",
            flags(one.properties)
        )),
        Some(one) => Ok(one),
    }
}

/// The characteristic in this very service.
fn within(services: &BTreeSet<Service>, service: Uuid, uuid: Uuid) -> Option<Characteristic> {
    let here = services.iter().filter(|one| one.uuid == service);
    let mut all = here.flat_map(|one| &one.characteristics);
    all.find(|one| one.uuid == uuid).cloned()
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

    /// One UUID in two services: the file's `service` says which.
    #[test]
    fn a_characteristic_is_looked_for_in_its_service_alone() {
        let two = FILE.replacen("version = 1", "version = 2", 1);
        let other = "0000fff0-0000-1000-8000-00805f9b34fb";
        let stream = "[stream]\n";
        let text = two.replacen(stream, &format!("{stream}service = \"{other}\"\n"), 1);
        let file = ProtocolFile::parse(&text).expect("sound");
        let (_, home, stream, command) = reference();
        let other = Uuid::parse_str(other).expect("a UUID");
        let there = Characteristic {
            service_uuid: other,
            ..stream.clone()
        };
        let own = service(home, vec![stream, command]);
        let both = BTreeSet::from([own.clone(), service(other, vec![there.clone()])]);
        let plan = Plan::make(&file, &both).expect("enough");
        assert_eq!(plan.stream, there);
        assert_eq!(plan.names()[&(other, there.uuid)], crate::protocol::STREAM);
        let faults = Plan::make(&file, &BTreeSet::from([own])).expect_err("not there");
        assert!(faults[0].contains("(pressure) is missing"), "{faults:?}");
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
