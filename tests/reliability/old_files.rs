//! Files of every released version open for ever; a newer one is refused by its version.

use needlerest::engine::{JobCard, Start};
use needlerest::protocol::ProtocolFile;
use needlerest::recording::{Reader, SealState, Writer};

/// Kept as version 0.1.0 read them; never to be changed.
const SESSION: &[u8] = include_bytes!("../../fixtures/recording/v1/session.jsonl");
const PROTOCOL: &str = include_str!("../../fixtures/recording/v1/protocol.toml");
const CARD: &str = include_str!("../../fixtures/recording/v1/card.toml");

#[test]
fn version_1_of_everything_opens() {
    assert!(ProtocolFile::parse(PROTOCOL).is_ok());
    let mut session = Reader::new(SESSION).unwrap();
    assert!(session.by_ref().all(|line| line.unwrap().outcome.is_ok()));
    assert!(matches!(session.seal(), SealState::Holds { .. }));
    let card = JobCard::parse(CARD).unwrap();
    assert_eq!(card.engine.start, Some(Start::Kick));
    assert_eq!(card.cylinders[1].neighbours, ["left"]);
    let limits = card.limits.unwrap();
    assert_eq!(limits.service_limit.unwrap().kpa().round(), 862.0);
    assert_eq!(card.site.unwrap().altitude_m, Some(320.0));
    assert_eq!(card.tester.unwrap().wet_oil_cm3, Some(10.0));
    assert_eq!(card.costs.unwrap().decoke, Some(90.0));
}

/// Of the next version, and with an entry that is not known here.
fn newer(text: &str, line: &str) -> String {
    text.replacen("version = 1\n", &format!("version = 2\n{line}\n"), 1)
}

#[test]
fn a_newer_version_is_refused_by_its_number() {
    // Protocol files are at version 2.
    let protocol = newer(PROTOCOL, "colour = 1").replacen("version = 2", "version = 3", 1);
    let protocol = ProtocolFile::parse(&protocol).unwrap_err().to_string();
    assert!(
        protocol.contains("version 3") && protocol.contains("newer needlerest"),
        "{protocol}"
    );
    assert!(!protocol.contains("colour"), "{protocol}");
    let card = JobCard::parse(&newer(CARD, "colour = 1"))
        .unwrap_err()
        .to_string();
    let mut reader = Reader::new(SESSION).unwrap();
    let mut header = reader.header().clone();
    assert!(reader.by_ref().all(|line| line.is_ok()));
    // Recordings are at version 2.
    header.version = 3;
    let session = Writer::begin(Vec::new(), &header)
        .and_then(Writer::seal)
        .unwrap()
        .0;
    let session = Reader::new(session.as_slice()).unwrap_err().to_string();
    // A later version may write its lines in another way.
    let other = b"{\"format\":\"needlerest-session\",\"version\":3,\"check\":\"sha3\"}\n";
    let other = Reader::new(&other[..]).unwrap_err().to_string();
    for (told, version, known) in [(card, 2, '1'), (session, 3, '2'), (other, 3, '2')] {
        assert!(told.contains(&format!("version {version}")), "{told}");
        assert!(
            told.contains(known) && told.contains("newer needlerest"),
            "{told}"
        );
        assert!(!told.contains("colour"), "{told}");
    }
}
