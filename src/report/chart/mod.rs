//! Plots. A plot is laid out once, as a [`Scene`] of lines, marks and texts in pixels; the page,
//! the SVG and PNG files and the PDF each draw that same scene.

mod axis;
mod build_up;
mod curve;
mod files;
mod font;
mod inline;
mod marks;
mod scene;
mod trace;
#[cfg(feature = "pdf")]
mod trace_scene;

pub use build_up::{by_condition, by_cylinder, sheet};
pub use files::{PlotError, png, svg};
pub use font::{covers, width as text_width};
pub use inline::inline;
pub use marks::outline;
pub use scene::{Align, Ink, Scene, Shape};
pub use trace::{TracePlot, highest_of_all, trace_plot};
#[cfg(feature = "pdf")]
pub use trace_scene::trace_scene;
