//! A report that was altered in a single digit is caught.

use crate::fixture;
use needlerest::pipeline::Findings;
use needlerest::report::verify::{Comparison, ExamineError, Examined, compare};
use needlerest::report::{Units, outputs};
use needlerest::units::PressureUnit;

fn files() -> Vec<Examined> {
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
    let findings = fixture::four();
    compare(files, &findings, &fixture::traces(&findings)).unwrap()
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
    assert_eq!(found.len(), 1, "{found:?}");
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
fn a_digit_changed_in_any_other_file_is_found() {
    for n in 1..files().len() {
        let mut files = files();
        let middle = files[n].bytes.len() / 2;
        files[n].bytes[middle] ^= 1;
        if let Ok(found) = compare(&files, &fixture::four(), &fixture::traces(&fixture::four())) {
            assert!(!found.differences.is_empty(), "{} passes", files[n].name);
            assert!(found.differences[0].place.contains(&files[n].name));
        }
    }
}

#[test]
fn a_report_by_another_version_is_compared_by_its_numbers() {
    let mut old = fixture::four();
    old.tool = "0.0.9".to_owned();
    let json = |findings: &Findings| serde_json::to_vec(findings).unwrap();
    let mut files = vec![Examined {
        name: "findings.json".to_owned(),
        bytes: json(&old),
    }];
    let found = compared(&files);
    assert!(!found.same_version && found.differences.is_empty());
    assert_eq!(found.written_by, "0.0.9");
    old.assessment.score = Some(100.0);
    files[0].bytes = json(&old);
    assert_eq!(compared(&files).differences.len(), 1);
}

#[test]
fn what_is_no_report_is_said_so() {
    let findings = fixture::one();
    let examine = |name: &str, bytes: &[u8]| {
        let file = Examined {
            name: name.to_owned(),
            bytes: bytes.to_vec(),
        };
        compare(&[file], &findings, &[]).unwrap_err()
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
