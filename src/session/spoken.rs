//! Numbers and names as a voice says them.

use super::plan::UNNAMED;

/// `Cylinder two`; `Next cylinder` where it has no name.
pub(super) fn cylinder(name: &str) -> String {
    if name.starts_with(UNNAMED) {
        return "Next cylinder".to_owned();
    }
    match name.parse() {
        Ok(number) => format!("Cylinder {}", whole(number)),
        Err(_) => format!("Cylinder {name}"),
    }
}

/// `one point four`, `three`.
pub(super) fn tenths(value: f64) -> String {
    let tenths = (value.max(0.0) * 10.0 + 0.5) as u32;
    match tenths % 10 {
        0 => whole(tenths / 10),
        rest => format!("{} point {}", whole(tenths / 10), whole(rest)),
    }
}

const SMALL: [&str; 20] = [
    "nought",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];

/// A whole number in words, below a million; others in digits.
pub(super) fn whole(number: u32) -> String {
    let word = |words: &[&str], at: u32| words.get(at as usize).copied().unwrap_or("").to_owned();
    let with = |head: String, rest: u32, joint: &str| match rest {
        0 => head,
        rest => format!("{head}{joint}{}", whole(rest)),
    };
    match number {
        0..20 => word(&SMALL, number),
        20..100 => with(word(&TENS, number / 10), number % 10, "-"),
        100..1000 => {
            let hundreds = format!("{} hundred", whole(number / 100));
            with(hundreds, number % 100, " and ")
        }
        1000..1_000_000 => {
            let rest = number % 1000;
            let joint = if rest < 100 { " and " } else { " " };
            with(format!("{} thousand", whole(number / 1000)), rest, joint)
        }
        _ => number.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::whole;

    #[test]
    fn numbers_are_spelled_as_they_are_said() {
        for (number, words) in [
            (0, "nought"),
            (13, "thirteen"),
            (40, "forty"),
            (99, "ninety-nine"),
            (100, "one hundred"),
            (115, "one hundred and fifteen"),
            (793, "seven hundred and ninety-three"),
            (1000, "one thousand"),
            (1014, "one thousand and fourteen"),
            (12_345, "twelve thousand three hundred and forty-five"),
        ] {
            assert_eq!(whole(number), words);
        }
    }
}
