//! Putting a report in place: all or nothing, and never over something that is not ours.

use crate::fixture;
use needlerest::report::{Consent, FolderError, Output, json, write_folder};
use std::fs;

fn outputs() -> Vec<Output> {
    vec![
        Output {
            name: "findings.json",
            bytes: json(&fixture::one()).unwrap().into_bytes(),
        },
        Output {
            name: "index.html",
            bytes: b"<!doctype html>".to_vec(),
        },
    ]
}

#[test]
fn writes_all_and_leaves_nothing_else_behind() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("a/report");
    let written = write_folder(&folder, &outputs(), Consent::Keep).unwrap();
    assert_eq!(written.len(), 2);
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 2);
    assert_eq!(fs::read(&written[1]).unwrap(), b"<!doctype html>");
}

#[test]
fn an_older_report_is_replaced_only_with_consent() {
    let dir = tempfile::tempdir().unwrap();
    write_folder(dir.path(), &outputs(), Consent::Keep).unwrap();
    let refused = write_folder(dir.path(), &outputs(), Consent::Keep).unwrap_err();
    assert!(matches!(refused, FolderError::Exists(_)));
    fs::write(dir.path().join("strokes.csv"), "from the older report").unwrap();
    fs::write(dir.path().join("mine.txt"), "the user's").unwrap();
    write_folder(dir.path(), &outputs(), Consent::Replace).unwrap();
    assert!(!dir.path().join("strokes.csv").exists());
    assert!(dir.path().join("mine.txt").exists());
}

#[test]
fn foreign_files_are_never_touched() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("index.html"), "my home page").unwrap();
    for consent in [Consent::Keep, Consent::Replace] {
        let refused = write_folder(dir.path(), &outputs(), consent).unwrap_err();
        assert!(matches!(refused, FolderError::Foreign(_)), "{refused}");
    }
    let kept = fs::read_to_string(dir.path().join("index.html")).unwrap();
    assert_eq!(kept, "my home page");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn a_foreign_file_that_this_report_does_not_write_stays() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("report.pdf"), "a report of somebody else").unwrap();
    write_folder(dir.path(), &outputs(), Consent::Replace).unwrap();
    assert!(dir.path().join("report.pdf").exists());
}

#[test]
fn a_file_where_the_folder_should_be_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("report");
    fs::write(&place, "a file").unwrap();
    let refused = write_folder(&place, &outputs(), Consent::Replace).unwrap_err();
    assert!(matches!(refused, FolderError::Foreign(_)));
}

/// `/proc` takes no new folder, whoever asks.
#[cfg(target_os = "linux")]
#[test]
fn an_unwritable_place_is_said_with_its_path() {
    let place = std::path::Path::new("/proc/needlerest-report");
    let refused = write_folder(place, &outputs(), Consent::Keep).unwrap_err();
    assert!(refused.to_string().contains("/proc/needlerest-report"));
    assert!(refused.remedy().contains("rights"));
}

/// What is written through a link lands elsewhere, unseen.
#[cfg(unix)]
#[test]
fn a_link_to_a_folder_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (real, link) = (dir.path().join("real"), dir.path().join("link"));
    fs::create_dir(&real).unwrap();
    for target in [&real, &dir.path().join("nowhere")] {
        std::os::unix::fs::symlink(target, &link).unwrap();
        for consent in [Consent::Keep, Consent::Replace] {
            for name in ["link", "link/", "link/."] {
                let refused = write_folder(&dir.path().join(name), &outputs(), consent);
                let refused = refused.unwrap_err();
                assert!(matches!(refused, FolderError::Link(_)), "{name}: {refused}");
                assert!(refused.remedy().contains("leads to"));
            }
        }
        assert_eq!(fs::read_dir(&real).unwrap().count(), 0);
        fs::remove_file(&link).unwrap();
    }
    assert!(!dir.path().join("nowhere").exists());
}
