//! What a plot consists of, before anybody draws it.

use crate::report::palette::{Rgb, Style};

/// A point in pixels: right, down.
pub type Point = (f64, f64);

/// What a shape is drawn with; each drawer has its own colours for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Texts, axes, rings.
    Ink,
    /// Grid.
    Grid,
    /// A curve and its marks.
    Curve(Style),
    /// The normal range.
    Range,
    /// The service limit.
    Limit,
}

impl Ink {
    /// Its colour on white paper.
    pub const fn rgb(self) -> Rgb {
        match self {
            Self::Ink => (0x22, 0x22, 0x22),
            Self::Grid => (0xdd, 0xdd, 0xdd),
            Self::Curve(style) => style.colour(),
            Self::Range => (0xe3, 0xef, 0xe6),
            Self::Limit => (0x80, 0x80, 0x80),
        }
    }
}

/// Where a text's given point is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// At its left end.
    Left,
    /// In its middle.
    Middle,
    /// At its right end.
    Right,
}

/// A part of a plot.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line through points.
    Line {
        /// At least two.
        points: Vec<Point>,
        /// Drawn with.
        ink: Ink,
        /// In pixels.
        width: f64,
        /// Drawn in dashes.
        dashed: bool,
    },
    /// A filled upright rectangle.
    Band {
        /// Upper left corner.
        from: Point,
        /// Lower right corner.
        to: Point,
        /// Drawn with.
        ink: Ink,
    },
    /// A curve's marker.
    Mark {
        /// Its centre.
        at: Point,
        /// Colour and shape.
        style: Style,
        /// Half its size in pixels.
        radius: f64,
        /// Filled; otherwise an outline only.
        filled: bool,
    },
    /// A ring around a mark: settled here.
    Ring {
        /// Its centre.
        at: Point,
        /// In pixels.
        radius: f64,
    },
    /// A line of text.
    Text {
        /// On the base line.
        at: Point,
        /// The text, cleaned.
        text: String,
        /// Font size in pixels.
        size: f64,
        /// What `at` is of it.
        align: Align,
        /// In bold.
        bold: bool,
    },
}

/// A plot, laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// In pixels.
    pub width: f64,
    /// In pixels.
    pub height: f64,
    /// In the order in which they are drawn.
    pub shapes: Vec<Shape>,
    /// What it shows, in a few words.
    pub title: String,
    /// What is to be seen in it, for those who cannot see it.
    pub description: String,
}

impl Scene {
    /// Adds another scene's shapes, moved down.
    pub fn append(&mut self, other: &Self, down: f64) {
        let moved = |(x, y): Point| (x, y + down);
        self.shapes
            .extend(other.shapes.iter().cloned().map(|shape| match shape {
                Shape::Line {
                    points,
                    ink,
                    width,
                    dashed,
                } => Shape::Line {
                    points: points.into_iter().map(moved).collect(),
                    ink,
                    width,
                    dashed,
                },
                Shape::Band { from, to, ink } => Shape::Band {
                    from: moved(from),
                    to: moved(to),
                    ink,
                },
                Shape::Mark {
                    at,
                    style,
                    radius,
                    filled,
                } => Shape::Mark {
                    at: moved(at),
                    style,
                    radius,
                    filled,
                },
                Shape::Ring { at, radius } => Shape::Ring {
                    at: moved(at),
                    radius,
                },
                Shape::Text {
                    at,
                    text,
                    size,
                    align,
                    bold,
                } => Shape::Text {
                    at: moved(at),
                    text,
                    size,
                    align,
                    bold,
                },
            }));
    }
}
