//! Colours and marker shapes that tell the curves apart.
//!
//! The colours are those of M. Okabe and K. Ito, *Color Universal Design* (2002, revised 2008),
//! also printed in B. Wong, "Points of view: Color blindness", *Nature Methods* 8, 441 (2011).
//! Their yellow is left out: on white it can hardly be seen. Each curve also has a marker shape of its
//! own, so that no colour is needed to tell it from another.

use crate::engine::Condition;

/// An 8-bit sRGB colour.
pub type Rgb = (u8, u8, u8);

/// Blue, vermilion, bluish green, reddish purple, orange, sky blue, black.
pub const COLOURS: [Rgb; 7] = [
    (0x00, 0x72, 0xb2),
    (0xd5, 0x5e, 0x00),
    (0x00, 0x9e, 0x73),
    (0xcc, 0x79, 0xa7),
    (0xe6, 0x9f, 0x00),
    (0x56, 0xb4, 0xe9),
    (0x00, 0x00, 0x00),
];

/// Shape of a curve's markers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Marker {
    /// ●
    Circle,
    /// ■
    Square,
    /// ▲
    TriangleUp,
    /// ◆
    Diamond,
    /// ▼
    TriangleDown,
    /// A five-pointed star.
    Star,
    /// A narrow upright bar.
    Bar,
    /// ✚
    Plus,
}

/// In the order in which they are given out. Their number and that of the colours have no common
/// divisor, so that the first 56 curves differ.
pub const MARKERS: [Marker; 8] = [
    Marker::Circle,
    Marker::Square,
    Marker::TriangleUp,
    Marker::Diamond,
    Marker::TriangleDown,
    Marker::Star,
    Marker::Bar,
    Marker::Plus,
];

/// Which colour and shape a curve has: a number to look both up by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style(pub usize);

impl Style {
    /// The style of a condition, where curves differ by condition.
    pub const fn of_condition(condition: Condition) -> Self {
        Self(match condition {
            Condition::ColdDry => 0,
            Condition::WarmDry => 1,
            Condition::Wet => 2,
        })
    }
    /// Index into [`COLOURS`].
    pub const fn colour_index(self) -> usize {
        self.0 % COLOURS.len()
    }
    /// The colour on a light ground.
    pub const fn colour(self) -> Rgb {
        COLOURS[self.colour_index()]
    }
    /// The marker's shape.
    pub const fn marker(self) -> Marker {
        MARKERS[self.0 % MARKERS.len()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn the_first_56_curves_differ() {
        let pairs: BTreeSet<_> = (0..56)
            .map(|n| (Style(n).colour_index(), n % MARKERS.len()))
            .collect();
        assert_eq!(pairs.len(), 56);
    }
}
