//! Flow of air through a small hole, as a shape: the rest is the hole's area and what drives it.

use std::sync::LazyLock;

/// Ratio of specific heats of air.
const GAMMA: f64 = 1.4;

/// Nozzle function ψ of air, from the logarithm of the ratio of outside to inside pressure; 0 with
/// nothing to drive it.
pub(super) fn nozzle(ratio: f64) -> f64 {
    // Where the flow chokes, and ψ from there on: most of the stroke.
    static CHOKED: LazyLock<(f64, f64)> = LazyLock::new(|| {
        let critical = libm::log(2.0 / (GAMMA + 1.0)) * GAMMA / (GAMMA - 1.0);
        (critical, unchoked(critical))
    });
    let (critical, choked) = *CHOKED;
    match ratio {
        r if r >= 0.0 => 0.0,
        r if r > critical => unchoked(r),
        _ => choked,
    }
}

fn unchoked(ratio: f64) -> f64 {
    let driving = libm::exp(ratio * (2.0 / GAMMA)) - libm::exp(ratio * ((GAMMA + 1.0) / GAMMA));
    libm::sqrt(2.0 * GAMMA / (GAMMA - 1.0) * driving.max(0.0))
}
