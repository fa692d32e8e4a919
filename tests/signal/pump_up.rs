//! Check-valve pump-up: `p(k) = p∞·(1 − ρᵏ)`, ρ = Vg/(Vg + Vc), by mixing the gas in the tester's
//! volume Vg with that in the clearance Vc of the reference cylinder (55.6 cm³), worked out by
//! hand from the mass balance at one temperature.

use crate::synth::{analyse, holding, runs, samples, settings};
use needlerest::signal::{Outcome, Rig};

/// Volume behind the check valve in cm³, ρ, and strokes 1 to 5 in per cent of the plateau.
const TABLE: [(f64, f64, [f64; 5]); 4] = [
    (5.0, 0.083, [91.7, 99.3, 99.9, 100.0, 100.0]),
    (10.0, 0.153, [84.7, 97.7, 99.6, 99.9, 100.0]),
    (20.0, 0.265, [73.5, 93.0, 98.1, 99.5, 99.9]),
    (30.0, 0.351, [64.9, 87.7, 95.7, 98.5, 99.5]),
];

#[test]
fn levels_ratio_and_plateau_are_those_of_the_table() {
    let plateau = 1.4705e6;
    for (volume, rho, levels) in TABLE {
        let exact = volume / (volume + 55.6);
        assert!((exact - rho).abs() < 6e-4);
        let trace = samples(200.0, 12.0, 100.0, 7, |t| {
            holding(t, 0.48, plateau, exact, 14)
        });
        let mut settings = settings();
        settings.resolution = needlerest::units::Pressure::from_pa(100.0);
        let run = &runs(&analyse(settings, &trace))[0];
        assert_eq!(run.rig, Some(Rig::Holding));
        for (stroke, share) in run.strokes.iter().zip(levels) {
            let shown = 100.0 * stroke.peak.pa() / plateau;
            assert!(
                (shown - share).abs() < 0.1,
                "{volume} cm³: {shown} %, table {share} %"
            );
        }
        let fit = run.build_up.unwrap();
        assert!(
            (fit.plateau.pa() / plateau - 1.0).abs() < 0.002,
            "{volume} cm³: {fit:?}"
        );
        assert!(
            (fit.first_share - levels[0] / 100.0).abs() < 0.003,
            "{volume} cm³: {fit:?}"
        );
        assert!((fit.ratio - exact).abs() < 0.02, "{volume} cm³: {fit:?}");
        // With a hardly measurable third step there is nothing to decide on; otherwise it settles.
        if volume > 5.0 {
            assert_eq!(run.outcome, Outcome::Settled, "{volume} cm³: {run:#?}");
        }
    }
}
