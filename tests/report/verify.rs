//! A report that was altered in a single digit is caught.

use crate::fixture;
use needlerest::report::verify::{
    Agreement, Comparison, ExamineError, Examined, Submitted, compare,
};
use needlerest::report::{Units, outputs};
use needlerest::units::PressureUnit;

pub(crate) fn files() -> Vec<Examined> {
    let findings = fixture::four();
    let units = Units {
        main: PressureUnit::Bar,
        also: Some(PressureUnit::Psi),
    };
    let made = outputs(&findings, &fixture::traces(&findings), units).unwrap();
    made.into_iter()
        .map(|output| Examined {
            name: output.name.to_owned(),
            bytes: output.bytes,
        })
        .collect()
}

fn compared(files: &[Examined]) -> Comparison {
    compared_beside(files, &[])
}

/// A folder with these files of a report, and with others.
fn compared_beside(files: &[Examined], others: &[&str]) -> Comparison {
    let findings = fixture::four();
    let others = others.iter().map(|name| (*name).to_owned()).collect();
    let report = Submitted::folder(files.to_vec(), others);
    compare(&report, &findings, &fixture::traces(&findings)).unwrap()
}

fn replace(file: &mut Examined, from: &str, to: &str) {
    let text = String::from_utf8(file.bytes.clone()).unwrap();
    assert!(text.contains(from), "{} has no {from}", file.name);
    file.bytes = text.replacen(from, to, 1).into_bytes();
}

#[test]
fn an_untouched_report_agrees_in_every_file() {
    let files = files();
    let found = compared(&files);
    assert!(found.same_version);
    assert_eq!(found.differences, []);
    assert_eq!(found.compared.len(), files.len());
    assert_eq!(found.agreement, Agreement::EveryByte);
}

#[test]
fn a_digit_changed_on_the_page_is_found() {
    let mut files = files();
    replace(&mut files[0], ">8.60</data>", ">9.60</data>");
    let found = compared(&files).differences;
    assert_eq!(found.len(), 1);
    assert!(found[0].report.contains("9.60") && found[0].today.contains("8.60"));
}

#[test]
fn a_digit_changed_in_the_pages_json_is_found_with_its_place() {
    let mut files = files();
    replace(
        &mut files[0],
        "\"share_expanded\":0.006",
        "\"share_expanded\":0.005",
    );
    let found = compared(&files).differences;
    // As a value, and as a line of the page.
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(
        found[0]
            .place
            .ends_with("/assessment/comparisons/0/share_expanded")
    );
    assert_eq!(
        (found[0].report.as_str(), found[0].today.as_str()),
        ("0.005", "0.006")
    );
}

#[test]
fn what_is_hung_onto_the_line_with_the_findings_is_found() {
    let mut files = files();
    let style = "</script><style>.verdict h2 { color: green }</style>";
    replace(
        &mut files[0],
        "</script>\n<script type",
        &format!("{style}\n<script type"),
    );
    let found = compared(&files);
    assert_eq!(found.agreement, Agreement::No);
    assert!(found.differences[0].place.starts_with("index.html, line "));
    assert!(found.differences[0].report.contains("<style>"));
}

#[test]
fn a_line_feed_at_the_end_of_any_file_is_found() {
    for n in 0..files().len() {
        let mut files = files();
        files[n].bytes.push(b'\n');
        let found = compared(&files);
        assert_eq!(found.agreement, Agreement::No, "{} passes", files[n].name);
        assert!(found.differences[0].place.contains(&files[n].name));
    }
}

#[test]
fn files_that_are_missing_or_added_are_named() {
    let mut files = files();
    // Not the paper: only some builds make that.
    files.retain(|file| file.name != "runs.csv");
    let found = compared_beside(&files, &["start-here.html"]);
    assert_eq!(found.agreement, Agreement::InPart);
    assert_eq!(found.missing, ["runs.csv"]);
    assert_eq!(found.not_compared, ["start-here.html"]);
    assert_eq!(found.differences, []);
}

#[test]
fn a_file_by_itself_lacks_nothing() {
    let findings = fixture::four();
    for file in files().into_iter().take(2) {
        let report = Submitted::file(file);
        let found = compare(&report, &findings, &fixture::traces(&findings)).unwrap();
        assert_eq!(found.agreement, Agreement::EveryByte);
    }
}

#[test]
fn of_a_report_by_another_version_the_findings_alone_are_compared() {
    let mut old = fixture::four();
    old.tool = "0.0.9".to_owned();
    let units = Units::of(&old);
    let made = outputs(&old, &fixture::traces(&old), units).unwrap();
    let as_file = |output: needlerest::report::Output| Examined {
        name: output.name.to_owned(),
        bytes: output.bytes,
    };
    let mut files: Vec<Examined> = made.into_iter().map(as_file).collect();
    // Whatever the page shows then, nobody has compared it, and that is said.
    replace(&mut files[0], "<h1>", "<h1>PASS ");
    let found = compared(&files);
    assert!(!found.same_version);
    assert_eq!(found.written_by, "0.0.9");
    assert_eq!(found.differences, []);
    assert_eq!(found.agreement, Agreement::InPart);
    assert_eq!(found.compared, ["index.html", "findings.json"]);
    assert!(found.not_compared.contains(&"index.html".to_owned()));
    assert!(found.not_compared.contains(&"build-up.png".to_owned()));

    let score = |text: &str| format!("\"score\": {text}");
    let own = serde_json::to_string(&old.assessment.score).unwrap();
    replace(&mut files[1], &score(&own), &score("100"));
    assert_eq!(compared(&files).agreement, Agreement::No);
    replace(&mut files[1], &score("100"), &score(&own));
    assert_eq!(compared(&files).agreement, Agreement::InPart);
    // The same values twice over: what a reader makes of them is anyone's guess.
    replace(
        &mut files[1],
        &score(&own),
        &format!("{}, {}", score("100"), score(&own)),
    );
    assert_eq!(compared(&files).agreement, Agreement::No);
}

#[test]
fn another_version_on_one_file_alone_is_a_difference() {
    for n in [0, 1] {
        let mut files = files();
        let tool = fixture::four().tool;
        let text = String::from_utf8(files[n].bytes.clone()).unwrap();
        files[n].bytes = text.replace(&tool, "0.0.9").into_bytes();
        assert_eq!(compared(&files).agreement, Agreement::No);
    }
}

#[test]
fn what_is_no_report_is_said_so() {
    let findings = fixture::one();
    let examine = |name: &str, bytes: &[u8]| {
        let file = Examined {
            name: name.to_owned(),
            bytes: bytes.to_vec(),
        };
        compare(&Submitted::file(file), &findings, &[]).unwrap_err()
    };
    assert!(matches!(
        examine("photo.jpg", b"\xff\xd8"),
        ExamineError::NoReport
    ));
    assert!(matches!(
        examine("a.html", b"<html>"),
        ExamineError::Damaged(..)
    ));
    assert!(matches!(
        examine("a.json", b"{\"format\":\"other\"}"),
        ExamineError::Damaged(..)
    ));
    assert!(matches!(
        examine("a.json", b"\xff"),
        ExamineError::Damaged(..)
    ));
}

/// Findings of another form have other numbers in other places: what is said of such a report is
/// which recording it is of, and that nothing else was compared.
#[test]
fn a_report_in_another_form_is_not_passed_off_as_verified() {
    let mut old = fixture::four();
    old.version = 1;
    let units = Units::of(&old);
    let made = outputs(&old, &fixture::traces(&old), units).unwrap();
    let mut files: Vec<Examined> = made
        .into_iter()
        .map(|output| Examined {
            name: output.name.to_owned(),
            bytes: output.bytes,
        })
        .collect();
    let found = compared(&files);
    assert!(found.other_form && !found.same_version);
    assert_eq!(found.agreement, Agreement::InPart);
    let seal = old.recording.seal.clone().unwrap();
    replace(&mut files[1], &seal, &"0".repeat(seal.len()));
    assert_eq!(compared(&files).agreement, Agreement::No);
}
