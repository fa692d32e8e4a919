//! What the main job's claims are held against outside this project: `tests/results/sources.md`, made
//! from the tests' own notes. `NEEDLEREST_UPDATE=1 cargo test --test house sources` writes it anew.
//!
//! A test meets an outside source where the comment above it names one, or where it reads a fixture
//! that a general-purpose library or a program of others made.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// A claim of the main job, and the files (or single tests) that hold it.
const CLAIMS: [(&str, &[&str]); 24] = [
    (
        "bytes become the right numbers",
        &[
            "tests/protocol/numbers.rs",
            "src/protocol/wire/check.rs",
            "src/transport/presentation.rs",
        ],
    ),
    (
        "packets become samples at their times",
        &[
            "tests/protocol/decoding.rs",
            "tests/protocol/wire.rs",
            "tests/protocol/worked.rs",
            "tests/protocol/shipped.rs",
        ],
    ),
    (
        "a protocol file, a card and findings are what their schemas say",
        &[
            "tests/protocol/schema.rs",
            "tests/engine/schema.rs",
            "tests/report/tables.rs",
        ],
    ),
    (
        "units are converted rightly",
        &[
            "src/units/pressure.rs",
            "tests/report/page.rs::a_second_unit",
        ],
    ),
    (
        "strokes without a check valve",
        &[
            "tests/signal/peaks.rs",
            "tests/signal/recordings.rs::without",
            "tests/signal/recordings.rs::the_",
        ],
    ),
    (
        "strokes and needle behind a check valve",
        &[
            "tests/signal/recordings.rs::behind",
            "tests/signal/steps.rs::the_needle",
        ],
    ),
    (
        "a slow sample rate's error is known",
        &["tests/signal/sampling.rs"],
    ),
    (
        "the needle has stopped: STOP",
        &[
            "tests/signal/steps.rs::stop",
            "tests/signal/steps.rs::what",
            "tests/signal/decision.rs",
        ],
    ),
    (
        "what the build-up leads to",
        &["src/signal/build_up/climb.rs", "tests/signal/pump_up.rs"],
    ),
    (
        "how well a reading is known",
        &[
            "src/signal/decide/budget.rs",
            "src/signal/decide/droop",
            "src/signal/find/holding/tests.rs",
            "src/signal/find/peak_fit/tests.rs",
            "src/engine/rating.rs",
            "tests/signal/other_model.rs",
            "tests/commands/demo.rs",
        ],
    ),
    ("quality of the test is told", &["tests/signal/quality.rs"]),
    ("air by height", &["tests/engine/atmosphere.rs"]),
    (
        "what a sound cylinder should read",
        &[
            "tests/engine/stroke.rs",
            "tests/engine/geometry.rs",
            "src/engine/usual.rs",
            "tests/assess/printed_engines.rs",
            "tests/assess/other_model.rs::sound",
        ],
    ),
    (
        "published rules are applied as printed",
        &[
            "tests/assess/published_rules.rs",
            "tests/assess/common_practice.rs",
            "tests/assess/rule_sets.rs",
            "tests/assess/verdict.rs::a_diesel_is",
        ],
    ),
    ("decisions near a limit", &["tests/assess/guard_bands.rs"]),
    (
        "causes are ranked rightly",
        &[
            "tests/assess/causes.rs",
            "tests/assess/other_model.rs::the_leading",
            "tests/assess/other_model.rs::what_cannot",
            "tests/assess/against_the_card.rs",
        ],
    ),
    (
        "the verdict",
        &["tests/assess/verdict.rs", "tests/assess/bad_input.rs"],
    ),
    ("the score", &["tests/assess/score.rs"]),
    ("the buyer's allowance", &["tests/assess/buyer.rs"]),
    ("change between visits", &["tests/assess/history.rs"]),
    (
        "a recording that was changed is found out",
        &[
            "tests/recording/seals.rs",
            "tests/recording/strict.rs",
            "tests/recording/damage.rs",
            "src/recording/line.rs",
        ],
    ),
    (
        "a signature is one that others can check",
        &["tests/report/openssl.rs", "src/report/signature.rs"],
    ),
    (
        "pages and tables are safe, and others can read them",
        &[
            "tests/report/page.rs",
            "src/report/tables.rs",
            "tests/commands/import.rs",
        ],
    ),
    (
        "the simulator, on which much was tuned, is like an engine",
        &["tests/simulate"],
    ),
];

/// Words in a note that name an outside source, and how the table calls it.
const SOURCES: [(&str, &str); 48] = [
    ("TM 5-4210-230-14&P-1", "TM 5-4210-230-14&P-1"),
    ("TM 10-3930-618-20", "TM 10-3930-618-20"),
    ("TM 10-3930-647-14&P", "TM 10-3930-647-14&P"),
    ("TM 1-1500-204-23-1", "TM 1-1500-204-23-1"),
    ("TM 5-2420-230-24-2", "TM 5-2420-230-24-2"),
    ("TM 5-3895-359-14&P", "TM 5-3895-359-14&P"),
    ("TM 5-4310-389-14", "TM 5-4310-389-14"),
    ("OD1001", "OD1001"),
    ("AC 43.13-1B", "AC 43.13-1B"),
    ("car maker's", "car maker's manual"),
    ("Car makers' manuals", "car makers' manuals"),
    ("NASA Glenn", "NASA Glenn"),
    ("NASA (1976)", "printed tables after NASA (1976)"),
    ("Standard Atmosphere 1976", "U.S. Standard Atmosphere 1976"),
    ("printed 1976 table", "U.S. Standard Atmosphere 1976"),
    ("JCGM 106", "JCGM 106"),
    ("JCGM 100", "JCGM 100"),
    ("GUM", "JCGM 100 (GUM)"),
    ("TN 1297", "NIST TN 1297"),
    ("SP 811", "NIST SP 811"),
    ("FIPS 180", "FIPS 180"),
    ("IEEE 11073", "IEEE 11073-20601"),
    ("IEEE 754", "IEEE 754"),
    ("bluetooth-sig-python", "bluetooth-sig-python"),
    (
        "GATT Specification Supplement",
        "GATT Specification Supplement",
    ),
    ("Presentation Format", "Presentation Format (0x2904)"),
    ("PresentationFormat_t", "mbed BLE API"),
    ("RFC 8410", "RFC 8410"),
    ("RFC 8032", "RFC 8032"),
    ("RFC 4180", "RFC 4180"),
    ("Content Security Policy", "Content Security Policy Level 3"),
    ("OpenSSL", "OpenSSL"),
    ("SciPy", "SciPy"),
    ("NumPy", "NumPy"),
    ("Cantera", "Cantera"),
    ("CoolProp", "CoolProp"),
    ("fixtures/engine/tables.py", "SciPy, NumPy"),
    ("fixtures/other-model", "a model of others"),
    ("Heywood", "Heywood"),
    ("Cengel", "Cengel and Boles"),
    ("Wikipedia", "Wikipedia"),
    ("Aitken", "Aitken"),
    (
        "10.1007/978-3-658-03981-3",
        "doi 10.1007/978-3-658-03981-3_17",
    ),
    ("Assigned Numbers", "Bluetooth Assigned Numbers"),
    ("Core Specification", "Bluetooth Core Specification"),
    (
        "catalogue of parametrised CRC",
        "catalogue of parametrised CRC algorithms",
    ),
    ("PresentationFormat_t`", "mbed BLE API"),
    ("crate `crc`", "the crate crc"),
];

/// Pieces of code that read what others made, and who did.
const READERS: [(&str, &str); 19] = [
    ("kept().climbs", "NumPy"),
    ("kept().droops", "SciPy, NumPy"),
    ("kept().tops", ARITHMETIC),
    ("kept().rests", ARITHMETIC),
    ("fixtures/assess/weigh.json", ARITHMETIC),
    ("fixtures/signal/peaks.json", "SciPy"),
    ("fixtures/signal/lines.json", "NumPy"),
    ("fixtures/signal/steps.json", "ruptures"),
    ("fixtures/signal/recordings.json", "SciPy, ruptures"),
    ("fixtures/simulate/isentropic.json", "Cantera, CoolProp"),
    ("fixtures/simulate/strokes.json", ARITHMETIC),
    (
        "fixtures/protocol/",
        "Python's libraries (fixtures/protocol/make.py)",
    ),
    ("fixtures/recording/seals.json", "Python's hashlib"),
    ("fixtures/report/openssl", "OpenSSL"),
    ("fixtures/import", "Python's csv (fixtures/import/make.py)"),
    ("in visits()", "a model of others"),
    (" = visits()", "a model of others"),
    ("section(\"", "bluetoothd 5.66"),
    ("jsonschema::", "the crate jsonschema"),
];

/// Equations of ours, integrated by a library from another writing of them.
const ARITHMETIC: &str = "SciPy (arithmetic only)";

/// A test and what is said above it.
struct Test {
    place: String,
    note: String,
    sources: BTreeSet<String>,
}

/// Whether it meets a source that is not our own equations again.
fn meets(test: &Test) -> bool {
    test.sources.iter().any(|source| source != ARITHMETIC)
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The functions of a file: name, the comment above it, whether it is a test, its text.
fn functions(text: &str) -> Vec<(String, String, bool, String)> {
    let lines: Vec<&str> = text.lines().collect();
    let (mut found, mut note, mut is_test) = (Vec::new(), String::new(), false);
    for (at, line) in lines.iter().enumerate() {
        let bare = line.trim_start();
        let indent = line.len() - bare.len();
        if let Some(comment) = bare.strip_prefix("///") {
            note.push_str(comment);
        } else if bare.starts_with("#[test]") || bare.starts_with("#[tokio::test") {
            is_test = true;
        } else if let Some(name) = function_name(bare) {
            let end = format!("{}}}", " ".repeat(indent));
            let body = lines[at..].iter().take_while(|line| **line != end);
            let body: Vec<&str> = body.copied().collect();
            found.push((name, note.trim().to_owned(), is_test, body.join("\n")));
            (note, is_test) = (String::new(), false);
        } else if !bare.starts_with("#[") {
            (note, is_test) = (String::new(), false);
        }
    }
    found
}

fn function_name(line: &str) -> Option<String> {
    let line = line.trim_start_matches("pub ").trim_start_matches("async ");
    let rest = line.strip_prefix("fn ")?;
    let name: String = rest
        .chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect();
    Some(name)
}

/// Who made what a function reads, itself or through others of its file.
fn read_by(
    functions: &[(String, String, bool, String)],
    body: &str,
    deep: usize,
) -> BTreeSet<String> {
    let code: Vec<&str> = body
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect();
    let code = code.join("\n");
    let mut found: BTreeSet<String> = READERS
        .iter()
        .filter(|(piece, _)| code.contains(piece))
        .map(|(_, who)| (*who).to_owned())
        .collect();
    if deep > 0 {
        for (name, _, is_test, inner) in functions {
            if !is_test
                && code.contains(&format!("{name}("))
                && !body.contains(&format!("fn {name}"))
            {
                found.extend(read_by(functions, inner, deep - 1));
            }
        }
    }
    found
}

fn tests_of(path: &Path) -> Vec<Test> {
    let text = fs::read_to_string(path).expect("a source file");
    let name = path.strip_prefix(root()).expect("below the root");
    let functions = functions(&text);
    let tests = functions.iter().filter(|(_, _, is_test, _)| *is_test);
    let read = |(function, note, _, body): &(String, String, bool, String)| {
        let mut sources = read_by(&functions, body, 3);
        let named = SOURCES.iter().filter(|(word, _)| note.contains(word));
        sources.extend(named.map(|(_, source)| (*source).to_owned()));
        let memory = if note.contains("from memory") {
            " (from memory)"
        } else {
            ""
        };
        Test {
            place: format!("{}::{function}", name.display()),
            note: format!("{}{memory}", first_sentence(note, function)),
            sources,
        }
    };
    tests.map(read).collect()
}

/// The first sentence of a comment, or the test's name in words.
fn first_sentence(note: &str, function: &str) -> String {
    let words = function.replace('_', " ");
    let end = note.match_indices([':', '.']).find(|(at, _)| {
        let after = &note[at + 1..];
        let before = note[..*at].chars().next_back();
        (after.is_empty() || after.starts_with(' ')) && before.is_none_or(char::is_alphabetic)
    });
    let sentence = end.map_or(note, |(at, _)| &note[..at]);
    if sentence.is_empty() || sentence.len() > 160 {
        words
    } else {
        sentence.replace('|', "/")
    }
}

fn all() -> Vec<Test> {
    let mut paths = super::rust_files(&root().join("tests"));
    paths.extend(super::rust_files(&root().join("src")));
    paths.retain(|path| !path.ends_with("house/sources.rs"));
    paths.iter().flat_map(|path| tests_of(path)).collect()
}

fn page() -> String {
    let tests = all();
    let outside = tests.iter().filter(|test| !test.sources.is_empty());
    let (met, all) = (
        outside.clone().filter(|test| meets(test)).count(),
        tests.len(),
    );
    let again = outside.clone().count() - met;
    let mut text = format!(
        "# Claims, and what they are held against outside this project\n\n\
         Made by `tests/house/sources.rs` from the tests' own notes: \
         `NEEDLEREST_UPDATE=1 cargo test --test house sources`.\n\n\
         {met} of {all} tests meet an outside source; {again} more check arithmetic only: the same \
         equations, written down a second time. A value from memory is marked.\n\n\
         | claim | outside check | source | where |\n| --- | --- | --- | --- |\n"
    );
    let mut told = BTreeSet::new();
    for (claim, places) in CLAIMS {
        let of_claim = |test: &&Test| places.iter().any(|place| test.place.starts_with(place));
        let mut rows = 0;
        for test in outside.clone().filter(of_claim) {
            if told.insert(&test.place) {
                row(&mut text, if rows == 0 { claim } else { "" }, test);
                rows += 1;
            }
        }
        if rows == 0 {
            let _ = writeln!(
                text,
                "| {claim} | **none** | – | `{}` |",
                places.join("`, `")
            );
        }
    }
    for (at, test) in outside
        .filter(|test| !told.contains(&test.place))
        .enumerate()
    {
        row(
            &mut text,
            if at == 0 { "beside the main job" } else { "" },
            test,
        );
    }
    text
}

fn row(text: &mut String, claim: &str, test: &Test) {
    let sources: Vec<&str> = test.sources.iter().map(String::as_str).collect();
    let _ = writeln!(
        text,
        "| {claim} | {} | {} | `{}` |",
        test.note,
        sources.join("; "),
        test.place
    );
}

#[test]
fn the_table_of_sources_is_that_of_the_tests() {
    let path = root().join("tests/results/sources.md");
    if std::env::var_os("NEEDLEREST_UPDATE").is_some() {
        fs::write(&path, page()).expect("written");
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == page(),
        "NEEDLEREST_UPDATE=1 cargo test --test house sources"
    );
}

/// Every place that a claim names is there.
#[test]
fn the_claims_name_tests_that_are_there() {
    let tests = all();
    for (claim, places) in CLAIMS {
        for place in places {
            let there = tests.iter().any(|test| test.place.starts_with(place));
            assert!(there || Path::new(place).exists(), "{claim}: {place}");
        }
    }
}

#[test]
fn enough_tests_meet_an_outside_source() {
    let met = all().iter().filter(|test| meets(test)).count();
    assert!(met >= 120, "{met}");
}
