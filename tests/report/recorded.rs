//! From a recording to a report, its signature and its verification, by the program itself.

use needlerest::assess::RuleSet;
use needlerest::engine::Condition;
use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{Event, Header, Packet, SensorIdentity, TimedEvent, Writer};
use needlerest::units::{Pressure, Rate};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const CARD: &str = r#"
format = "needlerest-card"
version = 1
[engine]
label = "Dipper, invented twin"
cycle = "four-stroke"
[[cylinder]]
name = "left"
[[cylinder]]
name = "right"
"#;

/// Pressure in kPa behind a check valve: rest, strokes that build up, held, bled.
fn level(in_run_s: f64, plateau: f64) -> f64 {
    let stroke = ((in_run_s - 2.0) / 0.4).floor();
    if stroke < 0.0 || in_run_s > 9.5 {
        0.0
    } else {
        plateau * (1.0 - 0.38 * libm::pow(0.5, stroke.min(11.0)))
    }
}

/// A recording of two cylinders, as the reference sensor sends it.
pub fn recording() -> Vec<u8> {
    recording_of(Some(CARD))
}

fn recording_of(card: Option<&str>) -> Vec<u8> {
    let protocol = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/reference-sensor.toml"),
    )
    .unwrap();
    let file = ProtocolFile::parse(&protocol).unwrap();
    let header = Header {
        format: needlerest::recording::FORMAT.to_owned(),
        version: needlerest::recording::VERSION,
        tool: "test".to_owned(),
        started: "2026-05-02T09:14:00Z".to_owned(),
        protocol,
        sensor: SensorIdentity {
            name: "Needlerest test".to_owned(),
            address: "made up".to_owned(),
            ..SensorIdentity::default()
        },
        card: card.map(str::to_owned),
    };
    let mut writer = Writer::begin(Vec::new(), &header).unwrap();
    let mut encoder = Encoder::new(&file);
    encoder.set_rate(Rate::from_hz(200.0));
    for (run, (cylinder, plateau)) in [("left", 1050.0), ("right", 820.0)].into_iter().enumerate() {
        let begin = run as u64 * 11_000_000;
        let event = Event::Run {
            cylinder: cylinder.to_owned(),
            condition: Condition::WarmDry,
        };
        writer.event(&TimedEvent { t_us: begin, event }).unwrap();
        for n in 0..2200_u64 {
            let tick = begin + n * 5000;
            let wobble = f64::from((n * 7 % 5) as u32) * 0.05;
            let sample = SensorSample {
                tick,
                pressure: Pressure::from_kpa(level(n as f64 / 200.0, plateau) + wobble),
                temperature: None,
                battery: Some(80.0),
                status: 0,
            };
            if let Some(hex) = encoder.push(&sample) {
                let from = "stream".to_owned();
                writer
                    .packet(&Packet {
                        t_us: tick,
                        from,
                        hex,
                    })
                    .unwrap();
            }
        }
    }
    writer.seal().unwrap().0
}

fn run(folder: &Path, line: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .current_dir(folder)
        .args(line.split_whitespace())
        .output()
        .unwrap()
}

/// Runs the program; it must end with this code. Gives what it printed.
fn expect(folder: &Path, line: &str, code: i32) -> String {
    let output = run(folder, line);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let complained = String::from_utf8_lossy(&output.stderr);
    assert_eq!(
        output.status.code(),
        Some(code),
        "{line}\n{said}\n{complained}"
    );
    said + &complained
}

fn replace(file: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(file).unwrap();
    assert!(text.contains(from), "no {from} in {}", file.display());
    fs::write(file, text.replacen(from, to, 1)).unwrap();
}

#[test]
fn a_report_follows_from_its_recording_until_a_digit_is_changed() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    expect(
        at,
        "replay visit.jsonl --report report --unit bar --also psi",
        0,
    );
    let said = expect(at, "verify report visit.jsonl", 0);
    assert!(said.contains("every line is whole") && said.contains("follows from the recording"));
    expect(at, "verify report/index.html visit.jsonl", 0);
    expect(at, "verify report/findings.json visit.jsonl", 0);

    let page = at.join("report/index.html");
    let text = fs::read_to_string(&page).unwrap();
    let shown = text
        .split("</data>")
        .next()
        .unwrap()
        .rsplit('>')
        .next()
        .unwrap()
        .to_owned();
    let altered = format!("{}>", shown.replace(|c: char| c.is_ascii_digit(), "9"));
    replace(
        &page,
        &format!(">{shown}</data>"),
        &format!(">{}</data>", altered.trim_end_matches('>')),
    );
    let said = expect(at, "verify report visit.jsonl", 6);
    assert!(
        said.contains("1 difference from") && said.contains("index.html, line"),
        "{said}"
    );
}

/// Runs the program where no file may grow beyond 20 kB: as good as a full disk.
#[cfg(unix)]
fn cramped(folder: &Path, line: &str) -> Output {
    let program = env!("CARGO_BIN_EXE_needlerest");
    // Blocks are of 512 bytes; without the trap the system would end the program at once.
    let script = format!("trap '' XFSZ; ulimit -f 40; exec '{program}' {line}");
    let mut shell = Command::new("sh");
    shell.current_dir(folder).args(["-c", &script]);
    shell.output().unwrap()
}

#[cfg(unix)]
#[test]
fn nothing_is_half_written_where_there_is_no_room() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    let found = cramped(at, "replay visit.jsonl --report report");
    let said = String::from_utf8_lossy(&found.stderr).into_owned();
    assert_eq!(found.status.code(), Some(1), "{said}");
    assert!(
        said.contains("report/") && said.contains("free space"),
        "{said}"
    );
    assert!(!at.join("report").exists());

    expect(at, "replay visit.jsonl --report report --unit bar", 0);
    let kept = || -> Vec<(std::ffi::OsString, Vec<u8>)> {
        let files = fs::read_dir(at.join("report")).unwrap().map(Result::unwrap);
        let mut files: Vec<_> = files
            .map(|file| (file.file_name(), fs::read(file.path()).unwrap()))
            .collect();
        files.sort();
        files
    };
    let before = kept();
    let found = cramped(at, "replay visit.jsonl --report report --replace");
    assert_eq!(found.status.code(), Some(1));
    assert!(before == kept(), "the older report is no longer as it was");
}

/// What was set on the command line is in the report, so that whoever checks it need not know.
#[test]
fn what_was_set_by_hand_is_repeated_without_being_told() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    fs::write(at.join("card.toml"), CARD.replace("Dipper", "Dunlin")).unwrap();
    let rules = RuleSet::SHIPPED.replacen("decision = 0.9\n", "decision = 0.8\n", 1);
    assert_ne!(rules, RuleSet::SHIPPED);
    fs::write(at.join("rules.toml"), &rules).unwrap();
    let set = "--card card.toml --rules rules.toml --tolerance 2.5 --rig holding --unit bar";
    expect(at, &format!("replay visit.jsonl {set} --report report"), 0);
    for name in ["card.toml", "rules.toml"] {
        fs::remove_file(at.join(name)).unwrap();
    }
    for part in ["report", "report/index.html", "report/findings.json"] {
        let said = expect(at, &format!("verify {part} visit.jsonl"), 0);
        for told in [
            "within: 2.5 %",
            "card: engine.label = \"Dunlin, invented twin\" (was \"Dipper, invented twin\")",
            "rules: decision = 0.8 (was 0.9)",
            "rig: holding",
            "job card: a file",
            "rule set: a file",
        ] {
            assert!(said.contains(told), "{told} is not in\n{said}");
        }
    }
    let said = expect(at, "verify report visit.jsonl --tolerance 3", 6);
    assert!(said.contains("/set_by_hand/tolerance_share"), "{said}");

    let findings = at.join("report/findings.json");
    replace(&findings, "decision = 0.8\\n", "decision = 0.7\\n");
    let said = expect(at, "verify report/findings.json visit.jsonl", 6);
    assert!(said.contains("/set_by_hand/rules/sha256"), "{said}");
    replace(&findings, "decision = 0.7\\n", "decision = 8\\n");
    let said = expect(at, "verify report/findings.json visit.jsonl", 4);
    assert!(said.contains("rule set in the report"), "{said}");
}

#[test]
fn units_asked_for_without_a_card_are_kept_too() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording_of(None)).unwrap();
    expect(
        at,
        "replay visit.jsonl --unit bar --runs a,b:wet --report report",
        0,
    );
    let said = expect(at, "verify report/findings.json visit.jsonl", 0);
    assert!(said.contains("names of runs: a cold, b wet"), "{said}");
}

#[test]
fn a_recording_altered_in_one_byte_is_caught() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    let mut bytes = recording();
    fs::write(at.join("visit.jsonl"), &bytes).unwrap();
    expect(at, "replay visit.jsonl --report report", 0);
    let middle = bytes.len() / 2;
    bytes[middle] = if bytes[middle] == b'0' { b'1' } else { b'0' };
    fs::write(at.join("visit.jsonl"), &bytes).unwrap();
    let said = expect(at, "verify report visit.jsonl", 6);
    assert!(
        said.contains("cannot be used") && said.contains("does NOT hold"),
        "{said}"
    );
}

#[test]
fn signed_by_one_key_and_not_by_another() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    expect(at, "replay visit.jsonl --report report", 0);
    expect(at, "key my.key", 0);
    expect(at, "key other.key", 0);
    let refused = expect(at, "key my.key", 1);
    assert!(refused.contains("left as it is"), "{refused}");
    expect(at, "sign visit.jsonl --key my.key", 0);
    for look in ["verify report visit.jsonl", "inspect visit.jsonl"] {
        let said = expect(at, look, 0);
        assert!(said.contains("--public-key checks whose that is"), "{said}");
    }
    let said = expect(at, "inspect visit.jsonl --json", 0);
    assert!(said.contains("\"signature\": {") && said.contains("\"holds\": true"));
    // The signature of another recording, and one that is none.
    fs::write(at.join("other.jsonl"), recording_of(None)).unwrap();
    let place = at.join("other.jsonl.signature");
    fs::copy(at.join("visit.jsonl.signature"), &place).unwrap();
    let said = expect(at, "inspect other.jsonl", 6);
    assert!(said.contains("NOT accepted"), "{said}");
    fs::write(&place, "{}").unwrap();
    let said = expect(at, "inspect other.jsonl", 4);
    assert!(
        said.contains("seal         holds") && said.contains("not a signature file"),
        "{said}"
    );
    let said = expect(at, "verify report visit.jsonl --public-key my.key.pub", 0);
    assert!(said.contains("with the key you named"), "{said}");
    let said = expect(
        at,
        "verify report visit.jsonl --public-key other.key.pub",
        6,
    );
    assert!(said.contains("another key"), "{said}");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |name| fs::metadata(at.join(name)).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode("my.key"), 0o600);
        fs::set_permissions(at.join("my.key"), fs::Permissions::from_mode(0o644)).unwrap();
        let said = expect(at, "sign visit.jsonl --key my.key", 1);
        assert!(said.contains("chmod 600"), "{said}");
    }
}

#[test]
fn a_folder_becomes_an_overview() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::create_dir(at.join("shed")).unwrap();
    let bytes = recording();
    fs::write(at.join("shed/a.jsonl"), &bytes).unwrap();
    fs::write(at.join("shed/b.jsonl"), &bytes).unwrap();
    fs::write(at.join("shed/notes.txt"), "not a recording").unwrap();
    let said = expect(at, "overview shed --out all --unit bar", 0);
    assert!(said.contains("2 recordings of 1 engine"), "{said}");
    assert_eq!(said.matches("Dipper, invented twin").count(), 1, "{said}");
    assert!(at.join("all/overview.html").is_file() && at.join("all/overview.csv").is_file());
    let again = expect(at, "overview shed --out all", 1);
    assert!(again.contains("choose another folder"), "{again}");
    fs::create_dir(at.join("empty")).unwrap();
    expect(at, "overview empty", 5);
}

#[test]
fn what_is_no_report_or_no_recording_is_said_so() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    fs::write(at.join("page.html"), "<p>hello").unwrap();
    expect(at, "verify page.html visit.jsonl", 4);
    expect(at, "verify nothing visit.jsonl", 1);
    expect(at, "verify page.html page.html", 4);
    expect(at, "sign page.html --key page.html", 4);
}

#[test]
fn sentences_and_numbers_are_in_the_unit_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    let said = expect(at, "replay visit.jsonl --unit kPa --report report", 0);
    assert!(said.contains("kPa") && !said.contains(" psi"), "{said}");
    for part in ["report", "report/findings.json"] {
        expect(at, &format!("verify {part} visit.jsonl"), 0);
    }
}

/// With `--samples` JSON and CSV hold the same samples, and the report can still be verified.
#[test]
fn every_sample_of_each_run_is_there_when_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    expect(at, "replay visit.jsonl --samples", 2);
    expect(at, "replay visit.jsonl --report plain", 0);
    assert!(!at.join("plain/samples.csv").exists());
    expect(at, "replay visit.jsonl --report visit-report --samples", 0);
    expect(at, "verify visit-report visit.jsonl", 0);
    expect(at, "verify visit-report/index.html visit.jsonl", 0);

    let findings = fs::read(at.join("visit-report/findings.json")).unwrap();
    let findings: serde_json::Value = serde_json::from_slice(&findings).unwrap();
    let table = fs::read_to_string(at.join("visit-report/samples.csv")).unwrap();
    let mut rows = table.lines().skip(1);
    for run in findings["runs"].as_array().unwrap() {
        let number = |list: &str, n: usize| run["samples"][list][n].as_f64().unwrap();
        let count = run["samples"]["time_s"].as_array().unwrap().len();
        // 200 a second, in a run that is cranked for more than 5 s.
        assert!(count > 1000, "{count}");
        let mut highest = f64::MIN;
        for n in 0..count {
            let cells: Vec<&str> = rows.next().unwrap().split(',').collect();
            assert_eq!(cells[1], run["cylinder"].as_str().unwrap());
            assert_eq!(cells[4].parse::<f64>().unwrap(), number("time_s", n));
            assert_eq!(cells[5].parse::<f64>().unwrap(), number("pressure_pa", n));
            highest = highest.max(number("pressure_pa", n));
        }
        let peak = run["result"]["strokes"].as_array().unwrap().iter();
        let peak = peak.map(|stroke| stroke["peak_pa"].as_f64().unwrap());
        let peak = peak.fold(f64::MIN, f64::max);
        // Behind a check valve the held level, with its noise, may lie a little above the last step.
        assert!(highest >= peak && highest < peak * 1.01, "{highest} {peak}");
    }
    assert_eq!(rows.next(), None);
}

/// The Python of the guide's page, run as it stands.
#[test]
fn the_python_in_the_guide_reads_a_report() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    let python = |code: &str| {
        let mut command = Command::new("python3");
        command.current_dir(at).args(["-c", code]).output()
    };
    if !python("").is_ok_and(|output| output.status.success()) {
        crate::skip::for_want_of("python3");
        return;
    }
    fs::write(at.join("visit.jsonl"), recording()).unwrap();
    expect(at, "replay visit.jsonl --report visit-report --samples", 0);
    let page = include_str!("../../src/cli/guide/data.md");
    let codes: Vec<&str> = page.split("```python\n").skip(1).collect();
    assert_eq!(codes.len(), 2);
    for code in codes {
        let code = code.split("```").next().unwrap();
        let output = python(code).unwrap();
        let said = String::from_utf8_lossy(&output.stdout);
        let complained = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{complained}");
        for name in ["left", "right"] {
            assert!(said.contains(name) && said.contains(" psi"), "{said}");
        }
    }
}
