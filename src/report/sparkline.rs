//! A build-up curve in one line of text.

use crate::units::Pressure;

const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The peaks as bars of eight heights between zero and `top`, at most `columns` wide. Where there
/// are more strokes than columns, each bar is the highest of its strokes.
pub fn sparkline(peaks: &[Pressure], top: Pressure, columns: usize) -> String {
    if columns == 0 || peaks.is_empty() || top.pa().is_nan() || top <= Pressure::ZERO {
        return String::new();
    }
    let per_bar = peaks.len().div_ceil(columns);
    peaks
        .chunks(per_bar)
        .map(|group| {
            let highest = group.iter().fold(Pressure::ZERO, |a, b| a.max(*b));
            let height = (highest / top * 8.0).ceil().clamp(1.0, 8.0);
            BARS.get((height as usize).saturating_sub(1))
                .copied()
                .unwrap_or('▁')
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pressures(kpa: &[f64]) -> Vec<Pressure> {
        kpa.iter().map(|k| Pressure::from_kpa(*k)).collect()
    }

    #[test]
    fn heights_follow_the_peaks() {
        let top = Pressure::from_kpa(800.0);
        let line = sparkline(&pressures(&[100.0, 400.0, 799.0, 800.0]), top, 10);
        assert_eq!(line, "▁▄██");
    }

    #[test]
    fn never_wider_than_asked() {
        let many: Vec<f64> = (1..=101).map(f64::from).collect();
        let line = sparkline(&pressures(&many), Pressure::from_kpa(101.0), 12);
        assert!(line.chars().count() <= 12);
        assert!(line.ends_with('█'));
    }

    #[test]
    fn nothing_sensible_gives_nothing() {
        assert_eq!(sparkline(&[], Pressure::from_kpa(1.0), 5), "");
        assert_eq!(sparkline(&pressures(&[1.0]), Pressure::ZERO, 5), "");
        let odd = sparkline(&pressures(&[f64::NAN, -5.0]), Pressure::from_kpa(1.0), 5);
        assert_eq!(odd, "▁▁");
        let endless = Pressure::from_pa(f64::INFINITY);
        assert_eq!(sparkline(&[endless], endless, 5), "▁");
    }
}
