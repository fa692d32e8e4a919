//! Styles. Meaning is never in a colour alone: every coloured thing differs in its words, its
//! symbol or its shape as well. Colours of the palette by Okabe and Ito (2008), which can be told
//! apart with any kind of colour vision; always set with their own background, so that they serve
//! on light and dark terminals alike. Everything else is in the terminal's own colours.

use crate::session::Tone;
use ratatui::style::{Color, Modifier, Style};

/// How the gauge is coloured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// In colours.
    Colour,
    /// In the terminal's own two colours (`NO_COLOR`).
    Plain,
}

/// The palette's blue, bluish green and orange, in the nearest of the 256 terminal colours.
const BLUE: Color = Color::Indexed(25);
const GREEN: Color = Color::Indexed(36);
const ORANGE: Color = Color::Indexed(214);
const WHITE: Color = Color::Indexed(231);
const BLACK: Color = Color::Indexed(16);

impl Theme {
    /// The banner with the headline.
    pub(super) fn banner(self, tone: Tone) -> Style {
        let bold = STRONG;
        match (self, tone) {
            (_, Tone::Calm) | (Self::Plain, Tone::Go) => bold,
            (Self::Plain, Tone::Stop | Tone::Trouble) => bold.add_modifier(Modifier::REVERSED),
            (Self::Colour, Tone::Go) => bold.fg(BLACK).bg(GREEN),
            (Self::Colour, Tone::Stop) => bold.fg(WHITE).bg(BLUE),
            (Self::Colour, Tone::Trouble) => bold.fg(BLACK).bg(ORANGE),
        }
    }

    /// A code to be scanned: dark on light, whatever the terminal's own colours are.
    pub(super) const fn code(self) -> Style {
        match self {
            Self::Colour => Style::new().fg(BLACK).bg(WHITE),
            Self::Plain => Style::new(),
        }
    }

    /// A line that tells of trouble.
    pub(super) fn trouble(self) -> Style {
        self.banner(Tone::Trouble)
    }
}

/// What stands out.
pub(super) const STRONG: Style = Style::new().add_modifier(Modifier::BOLD);
/// What may stay in the background.
pub(super) const QUIET: Style = Style::new().add_modifier(Modifier::DIM);
/// The lines at the top and at the bottom.
pub(super) const BAR: Style = Style::new().add_modifier(Modifier::REVERSED);
