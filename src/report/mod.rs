//! What is handed over: text, plots, page, tables. Pure functions from findings to bytes; one
//! writer puts them in place atomically.
//!
//! [`outputs`] makes every file in memory, [`write_folder`] alone writes; [`text`](text()) is what
//! the terminal shows; [`verify`] makes the report again and compares. Numbers become text in
//! [`view`], pictures are laid out once in [`chart`].

mod air;
mod carried;
pub mod chart;
#[cfg(feature = "parquet")]
pub mod columns;
mod corrected;
mod damage;
mod difference;
mod folder;
mod given;
mod link;
mod outputs;
pub mod overview;
mod page;
pub mod palette;
#[cfg(feature = "pdf")]
mod pdf;
mod remarks;
pub mod signature;
mod sparkline;
mod tables;
mod text;
pub mod verify;
pub mod view;
pub mod words;

pub use crate::pipeline::{FORMAT, json, schema};
pub use corrected::beware;
pub use damage::damage;
pub use folder::{Consent, FolderError, NAMES, temporary_in, write_folder};
pub use given::changed_entries;
pub use outputs::{LARGEST, ReportError, outputs};
pub use page::{Made, PAGE, PageError, page};
#[cfg(feature = "pdf")]
pub use pdf::{PdfError, pdf};
pub use sparkline::sparkline;
pub use tables::{runs_csv, samples_csv, strokes_csv};
pub use text::{badge, text};
pub use view::Units;

/// A finished output: its file name and its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Output {
    /// Name of the file in the report's folder.
    pub name: &'static str,
    /// What it holds.
    pub bytes: Vec<u8>,
}
