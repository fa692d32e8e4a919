//! The middle of some values.

/// The median of some values; none of none. Sorts them.
///
/// Of an even number it is the mean of the two in the middle.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *values.get(values.len() / 2 - 1)?;
    Some(0.5 * (lower + upper))
}
