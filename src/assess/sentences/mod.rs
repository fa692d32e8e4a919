//! What is said of verdict, causes and evidence. They are data; here they become sentences.

mod air;
mod causes;
mod verdict;

pub(super) use air::beside_cranking;
pub(super) use causes::{cause, sign};
pub(super) use verdict::verdict;

/// A probability in words: never rounded to a certainty.
pub(super) fn percent(probability: f64) -> String {
    if probability > 0.99 {
        "over 99 %".to_owned()
    } else if probability < 0.01 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", probability * 100.0)
    }
}

/// "cylinder 1", "cylinders 1 and 2", "cylinders 1, 2 and 3".
pub(in crate::assess) fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => format!("cylinder {one}"),
        [most @ .., last] => format!("cylinders {} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::percent;

    #[test]
    fn a_probability_is_never_rounded_to_a_certainty() {
        assert_eq!(percent(1.0), "over 99 %");
        assert_eq!(percent(0.9951), "over 99 %");
        assert_eq!(percent(0.99), "99 %");
        assert_eq!(percent(0.501), "50 %");
        assert_eq!(percent(0.004), "under 1 %");
    }
}
