//! The address as a QR code, in half blocks.

use qrcode::{Color, EcLevel, QrCode};

/// Light modules around it (ISO/IEC 18004: four on every side).
const QUIET: isize = 4;

/// The code's lines: two rows of modules each, dark ones as blocks. None if the text is too long.
pub(super) fn lines(text: &str) -> Option<Vec<String>> {
    let code = QrCode::with_error_correction_level(text, EcLevel::L).ok()?;
    let width = isize::try_from(code.width()).ok()?;
    let modules = code.to_colors();
    let dark = |x: isize, y: isize| {
        let inside = (0..width).contains(&x) && (0..width).contains(&y);
        let at = usize::try_from(y * width + x).ok();
        inside && at.and_then(|at| modules.get(at)) == Some(&Color::Dark)
    };
    let row = |y: isize| {
        let module = |x| match (dark(x, y), dark(x, y + 1)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        };
        (-QUIET..width + QUIET).map(module).collect()
    };
    let rows = (-QUIET..width + QUIET).step_by(2);
    Some(rows.map(row).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_fits_an_ordinary_window() {
        let url = format!("http://192.168.123.234:65535/{}", "x".repeat(26));
        let lines = lines(&url).expect("short enough");
        // Version 4, 33 modules wide, holds 78 bytes at the lowest level of correction (ISO/IEC
        // 18004; from memory).
        assert_eq!(lines.len(), (33 + 8_usize).div_ceil(2));
        assert!(lines.iter().all(|line| line.chars().count() == 41));
        assert!(lines.len() < 24);
    }
}
