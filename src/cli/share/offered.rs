//! What can be fetched after a visit.

use serde::Serialize;
use std::path::{Path, PathBuf};

/// A file that can be fetched.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Offered {
    /// Its name in the address.
    pub(super) name: String,
    /// What it is; none for what belongs to another one.
    what: Option<&'static str>,
    #[serde(skip)]
    pub(super) path: PathBuf,
}

impl Offered {
    /// It is told of, not only fetched with another one.
    pub(super) fn is_named(&self) -> bool {
        self.what.is_some()
    }
}

/// What there is of these: every file of the report's folder, and the recording.
pub(super) fn offered(report: Option<&Path>, recording: &Path) -> Vec<Offered> {
    let entries = report.and_then(|folder| folder.read_dir().ok());
    let in_report = entries.into_iter().flatten().flatten();
    let in_report = in_report.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()));
    let mut files: Vec<Offered> = in_report
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let what = match name.as_str() {
                crate::report::PAGE => Some("Report"),
                _ if kind(&name) == "application/pdf" => Some("Report to print (PDF)"),
                _ => None,
            };
            let path = entry.path();
            Some(Offered { name, what, path })
        })
        .collect();
    files.sort_by(|one, other| one.name.cmp(&other.name));
    files.push(Offered {
        name: "recording.jsonl".to_owned(),
        what: Some("Recording"),
        path: recording.to_owned(),
    });
    files
}

/// Its media type.
pub(super) fn kind(name: &str) -> &'static str {
    let end = name.rsplit_once('.').map_or("", |(_, end)| end);
    match end {
        "html" => "text/html; charset=utf-8",
        "pdf" => "application/pdf",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "json" => "application/json",
        "csv" => "text/csv; charset=utf-8",
        "txt" | "md" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
