//! What the sample rate leaves in doubt.

use super::*;

fn found(level: f64, added: f64, cut_off: f64, bias: f64) -> Found {
    Found {
        time: 0.0,
        level,
        standard: 300.0,
        bias,
        added,
        cut_off,
        from: 0.0,
        missing: false,
        clipped: false,
    }
}

/// Samples that fall evenly on a parabola's top, half a step to either side at most: the variance of what
/// is added is 4 / 45 · (1 / 2)⁴ of (cut-off over a half squared)², and the doubt of the shape is all that is
/// left of the bias. In step with the strokes all of it is left, and in between in proportion.
#[test]
fn samples_that_fall_evenly_leave_the_doubt_of_the_shape() {
    let tops = |spread: f64| {
        let mut tops = Tops::default();
        for n in 0..1000 {
            let x = spread * ((f64::from(n) + 0.5) / 1000.0 - 0.5);
            tops.push(&found(1e6, 4.0 * 8000.0 * x * x, 8000.0, 900.0));
        }
        tops
    };
    let (in_step, evenly) = (tops(0.0).sampling_doubt(), tops(1.0).sampling_doubt());
    assert!((in_step - 900.0).abs() < 1e-6, "{in_step}");
    assert!(
        (evenly / (900.0 * quality::SHAPE.sqrt()) - 1.0).abs() < 1e-3,
        "{evenly}"
    );
    // x² spreads by the square of the stretch that x falls on: half of it.
    let half = tops(0.5_f64.sqrt()).sampling_doubt();
    let expected = 900.0 * (0.5 + 0.5 * quality::SHAPE).sqrt();
    assert!((half / expected - 1.0).abs() < 1e-3, "{half} {expected}");
    // More than evenly is not possible, and leaves no less.
    let more = tops(1.4).sampling_doubt();
    assert!(
        (more / (900.0 * quality::SHAPE.sqrt()) - 1.0).abs() < 1e-9,
        "{more}"
    );
}

/// Where nothing is cut off, nothing shows how the samples fell.
#[test]
fn without_a_cut_off_the_bias_stands() {
    let mut tops = Tops::default();
    tops.push(&found(1e6, 0.0, 0.0, 50.0));
    tops.push(&found(1e6, 10.0, 0.0, 70.0));
    assert!((tops.sampling_doubt() - 60.0).abs() < 1e-9);
}

#[test]
fn the_cut_off_is_a_share_of_the_mean_height() {
    let mut tops = Tops::default();
    assert_eq!(tops.cut_off_share(), 0.0);
    tops.push(&found(1e6, 0.0, 3e4, 0.0));
    tops.push(&found(2e6, 0.0, 9e4, 0.0));
    assert!((tops.cut_off_share() - 6e4 / 1.5e6).abs() < 1e-12);
    let mut below = Tops::default();
    below.push(&found(-2e3, 0.0, 1e3, 0.0));
    assert_eq!(below.cut_off_share(), 0.0);
}
