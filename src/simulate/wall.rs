//! Heat from the gas to the cylinder's wall.

/// Heat transfer coefficient in W/(m² K) after G. F. Hohenberg, "Advanced approaches for heat
/// transfer calculations", SAE paper 790825 (1979):
/// `h = 130 · V^-0.06 · p^0.8 · T^-0.4 · (w + 1.4)^0.8` with V in m³, p in bar, T in K and the
/// mean piston speed w in m/s. Constants from memory.
///
/// `log_volume` is ln V.
///
/// It is fitted to running engines. At cranking speed the constant 1.4 m/s does most of the work:
/// a cold engine turned at 250 rpm gets a polytropic exponent of compression near 1.3, in the
/// middle of the 1.25 to 1.35 of motored engines (Heywood, ch. 9; from memory).
#[inline]
pub(super) fn coefficient(log_volume: f64, pascal: f64, kelvin: f64, piston_speed: f64) -> f64 {
    let flow = pascal * 1e-5 * (piston_speed + 1.4);
    // x^0.8 · T^-0.4 = (x²/T)^0.4, and one exponential in all.
    130.0 * libm::exp(0.4 * libm::log(flow * flow / kelvin) - 0.06 * log_volume)
}
