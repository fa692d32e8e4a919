//! A folder of recordings at a glance.

use crate::fixture;
use needlerest::report::overview::{Failed, Overview, Session, outputs, text};
use needlerest::report::{Consent, FolderError, Units, write_folder};
use unicode_width::UnicodeWidthStr;

pub fn three() -> Overview {
    let mut later = fixture::four();
    "2026-08-01T10:00:00Z".clone_into(&mut later.recording.started);
    later.assessment.score = Some(60.0);
    let failed = Failed {
        file: "torn.jsonl".to_owned(),
        why: "the first line is damaged".to_owned(),
    };
    let sessions = vec![
        Session::new("b.jsonl", &later),
        Session::new("c.jsonl", &fixture::one()),
        Session::new("a.jsonl", &fixture::four()),
    ];
    Overview::new(sessions, vec![failed])
}

fn golden(name: &str, text: &str) {
    insta::with_settings!({snapshot_path => "golden", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::assert_snapshot!(name, text);
    });
}

#[test]
fn sessions_stand_by_engine_and_date_with_their_change() {
    let overview = three();
    let files: Vec<&str> = overview.sessions.iter().map(|s| s.file.as_str()).collect();
    assert_eq!(files, ["a.jsonl", "b.jsonl", "c.jsonl"]);
    let change = overview.sessions[1].change.as_ref().unwrap();
    assert_eq!(change.since, "2026-05-02T09:14:00Z");
    let before = overview.sessions[0].score.unwrap();
    assert_eq!(change.score, 60.0 - before);
    // Two scores, each ± 3: the difference is known to ± 3·√2.
    assert!((change.expanded - 18.0_f64.sqrt()).abs() < 1e-12);
    assert!(overview.sessions[0].change.is_none() && overview.sessions[2].change.is_none());
}

/// A score changes with what was tested as well as with the engine.
#[test]
fn a_change_is_told_only_between_sessions_that_compare() {
    let later = |mut findings: needlerest::pipeline::Findings, month: u32| {
        findings.recording.started = format!("2026-{month:02}-01T10:00:00Z");
        Session::new(&format!("{month:02}.jsonl"), &findings)
    };
    let mut fewer = fixture::four();
    fewer.assessment.cylinders.pop();
    let sessions = vec![
        later(fixture::four(), 5),
        later(fewer, 6),
        later(fixture::four(), 7),
    ];
    let overview = Overview::new(sessions, Vec::new());
    assert_eq!(overview.sessions[1].change, None);
    let change = overview.sessions[2].change.as_ref().unwrap();
    assert_eq!(change.since, "2026-05-01T10:00:00Z");

    let mut unknown = fixture::one();
    unknown.card = None;
    let sessions = vec![later(unknown.clone(), 5), later(unknown, 6)];
    let overview = Overview::new(sessions, Vec::new());
    assert_eq!(
        overview.sessions[1].change, None,
        "two engines, for all we know"
    );
}

#[test]
fn distributions_are_over_all_sessions() {
    let overview = three();
    let settled = overview.strokes_to_settle.unwrap();
    // Seven settled runs in each of the two four-cylinder sessions, one in the other.
    assert_eq!((settled.count, settled.p50), (15, 7));
    // 12 of 10 737 packets lost: 11 of ten thousand.
    assert_eq!(overview.lost_per_10000.unwrap().max, 11);
}

#[test]
fn text_fits_the_terminal() {
    golden("overview-160", &text(&three(), Units::default(), 160));
    golden("overview-60", &text(&three(), Units::default(), 60));
    for width in [40, 80, 120] {
        for line in text(&three(), Units::default(), width).lines() {
            assert!(line.width() <= width, "{line}");
        }
    }
}

#[test]
fn names_cannot_break_out_of_page_or_table() {
    let sessions = vec![Session::new(
        "=cmd|' /C calc'!A0.jsonl",
        &fixture::hostile(),
    )];
    let made = outputs(&Overview::new(sessions, Vec::new()), Units::default()).unwrap();
    let page = String::from_utf8(made[0].bytes.clone()).unwrap();
    assert!(!page.contains("<script") && !page.contains("<img"));
    let csv = String::from_utf8(made[2].bytes.clone()).unwrap();
    assert!(csv.lines().nth(1).unwrap().starts_with("'=cmd"));
}

#[test]
fn an_overview_never_replaces_a_report_nor_the_other_way_round() {
    let dir = tempfile::tempdir().unwrap();
    let made = outputs(&three(), Units::default()).unwrap();
    write_folder(dir.path(), &made, Consent::Keep).unwrap();
    let again = write_folder(dir.path(), &made, Consent::Keep).unwrap_err();
    assert!(matches!(again, FolderError::Exists(_)));
    let report = needlerest::report::outputs(&fixture::one(), &[], Units::default()).unwrap();
    write_folder(dir.path(), &report, Consent::Keep).unwrap();
    write_folder(dir.path(), &made, Consent::Replace).unwrap();
    assert!(dir.path().join("index.html").exists() && dir.path().join("overview.html").exists());
}

/// Nothing says that two recordings without a job card are of one engine.
#[test]
fn recordings_without_a_card_are_not_made_one_engine() {
    let mut unknown = fixture::four();
    unknown.card = None;
    let sessions = vec![
        Session::new("a.jsonl", &unknown),
        Session::new("b.jsonl", &unknown),
    ];
    let overview = Overview::new(sessions, Vec::new());
    let said = text(&overview, Units::default(), 120);
    assert!(said.contains("2 recordings of 2 engines"), "{said}");
    assert!(said.contains("without a job card: a.jsonl"), "{said}");
}
