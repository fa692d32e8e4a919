//! A forger at work: bytes of a report's files are altered, added and taken away, each by itself.
//! None of it may pass.

use crate::fixture;
use crate::verify::files;
use needlerest::report::Units;
use needlerest::report::verify::{Agreement, Submitted, Today};
use needlerest::units::PressureUnit;
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// So many places are drawn of a file that has more bytes.
const DRAWN: usize = 20_000;

#[derive(Clone, Copy, Debug)]
enum Forgery {
    Altered,
    Inserted,
    Deleted,
}

/// Plays every forgery of one file on a whole folder.
fn forge(n: usize, forgery: Forgery) {
    let findings = fixture::four();
    let units = Units {
        main: PressureUnit::Bar,
        also: Some(PressureUnit::Psi),
    };
    let today = Today::make(&findings, &fixture::traces(&findings), units).unwrap();
    let mut report = Submitted::folder(files(), Vec::new());
    let whole = today.compare(&report).unwrap();
    assert_eq!(whole.agreement, Agreement::EveryByte);

    let mut random = Pcg64Mcg::seed_from_u64(n as u64);
    let length = report.files[n].bytes.len();
    for turn in 0..length.min(DRAWN) {
        let place = if length <= DRAWN {
            turn
        } else {
            random.next_u64() as usize % length
        };
        let bytes = &mut report.files[n].bytes;
        let before = bytes[place];
        match forgery {
            Forgery::Altered => bytes[place] ^= (random.next_u32() % 255 + 1) as u8,
            Forgery::Inserted => bytes.insert(place, random.next_u32() as u8),
            Forgery::Deleted => _ = bytes.remove(place),
        }
        // Findings that cannot be read are refused, which is as good.
        let passes = today
            .compare(&report)
            .is_ok_and(|found| found.agreement != Agreement::No);
        let name = &report.files[n].name;
        assert!(!passes, "{name}: byte {place} {forgery:?} passes");
        let bytes = &mut report.files[n].bytes;
        match forgery {
            Forgery::Altered => bytes[place] = before,
            Forgery::Inserted => _ = bytes.remove(place),
            Forgery::Deleted => bytes.insert(place, before),
        }
    }
}

fn forge_all(forgery: Forgery) {
    for n in 0..files().len() {
        forge(n, forgery);
    }
}

#[test]
fn no_altered_byte_passes() {
    forge_all(Forgery::Altered);
}

#[test]
fn no_inserted_byte_passes() {
    forge_all(Forgery::Inserted);
}

#[test]
fn no_deleted_byte_passes() {
    forge_all(Forgery::Deleted);
}
