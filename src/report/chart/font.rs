//! The font that the plots carry (`DejaVu` Sans), measured.

use ab_glyph::{Font, FontRef};
use std::sync::LazyLock;

static REGULAR: LazyLock<Option<FontRef<'static>>> =
    LazyLock::new(|| FontRef::try_from_slice(dejavu::sans::regular()).ok());
static BOLD: LazyLock<Option<FontRef<'static>>> =
    LazyLock::new(|| FontRef::try_from_slice(dejavu::sans::bold()).ok());

/// Ascent and descent together over the font size: 1901 + 483 of 2048 units. Where a size means
/// the font's height, it is this many times the font size.
pub(super) const HEIGHT: f64 = 2384.0 / 2048.0;

fn face(bold: bool) -> Option<&'static FontRef<'static>> {
    if bold {
        BOLD.as_ref()
    } else {
        REGULAR.as_ref()
    }
}

/// Width of a text in pixels, by the advances of its glyphs.
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    let Some(face) = face(bold) else {
        // Cannot happen with the carried font; one em a letter is always enough.
        return text.chars().count() as f64 * size;
    };
    let units = f64::from(face.units_per_em().unwrap_or(2048.0));
    let advance: f64 = text
        .chars()
        .map(|c| f64::from(face.h_advance_unscaled(face.glyph_id(c))))
        .sum();
    advance / units * size
}

/// Whether the font has every letter of the text, and the text runs from left to right: then it
/// can be drawn letter by letter.
pub fn covers(text: &str) -> bool {
    face(false).is_some_and(|face| {
        text.chars()
            .all(|c| face.glyph_id(c).0 != 0 && !needs_shaping(c))
    })
}

/// Scripts that run from right to left or join their letters: Hebrew, Arabic and what lies
/// between, the Indic and south-east Asian scripts, their presentation forms, combining marks.
fn needs_shaping(c: char) -> bool {
    matches!(c, '\u{300}'..='\u{36f}' | '\u{590}'..='\u{10ff}' | '\u{1780}'..='\u{18af}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefe}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knows_what_it_can_draw() {
        assert!(covers("Zylinder 2 – вперёд λ ± ²"));
        assert!(!covers("左"));
        assert!(!covers("يسار"));
        assert!(!covers("שמאל"));
    }

    #[test]
    fn digits_are_equally_wide() {
        assert_eq!(width("111", 10.0, false), width("888", 10.0, false));
        assert!(width("WWW", 10.0, true) > width("iii", 10.0, true));
    }
}
