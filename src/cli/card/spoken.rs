//! What people type where the card has a word or a number of its own.

/// Numbers as words.
const NUMBERS: [&str; 12] = [
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// Other words for a card's word, in lower case and with hyphens.
const WORDS: [(&str, &str); 27] = [
    ("petrol", "spark"),
    ("gas", "spark"),
    ("gasoline", "spark"),
    ("diesel", "compression"),
    ("4", "four-stroke"),
    ("4-stroke", "four-stroke"),
    ("4t", "four-stroke"),
    ("four", "four-stroke"),
    ("2", "two-stroke"),
    ("2-stroke", "two-stroke"),
    ("2t", "two-stroke"),
    ("two", "two-stroke"),
    ("starter", "electric"),
    ("electric-start", "electric"),
    ("key", "electric"),
    ("kickstart", "kick"),
    ("kick-start", "kick"),
    ("kick-lever", "kick"),
    ("kicker", "kick"),
    ("pull", "pull-cord"),
    ("cord", "pull-cord"),
    ("recoil", "pull-cord"),
    ("rope", "pull-cord"),
    ("crank", "hand-crank"),
    ("handle", "hand-crank"),
    ("carburetor", "carburettor"),
    ("carb", "carburettor"),
];

/// The card's word for what was typed; what was typed if there is none.
pub(super) fn word(text: &str) -> String {
    let text = text.trim().to_lowercase().replace([' ', '_'], "-");
    let known = WORDS.iter().find(|(said, _)| *said == text);
    known.map_or(text, |(_, word)| (*word).to_owned())
}

/// Whether somebody says that he does not know.
pub(super) fn unknown(text: &str) -> bool {
    let text = text.trim().to_lowercase().replace('\'', "");
    let said = [
        "unknown",
        "not known",
        "dont know",
        "do not know",
        "no idea",
        "-",
    ];
    said.contains(&text.as_str())
}

/// How many: "4", "four", "4 cylinders", "twin".
pub(super) fn count(text: &str) -> Option<usize> {
    let text = text.trim().to_lowercase();
    let bare = ["cylinders", "cylinder", "cyl.", "cyl"]
        .iter()
        .find_map(|unit| text.strip_suffix(unit))
        .unwrap_or(&text)
        .trim_end_matches(['-', ' ']);
    match bare {
        "single" => return Some(1),
        "twin" => return Some(2),
        "triple" => return Some(3),
        _ => {}
    }
    let in_words = NUMBERS.iter().position(|number| *number == bare);
    in_words.map(|at| at + 1).or_else(|| bare.parse().ok())
}

/// A number, also as a fraction: "2.5", "2 13/16", "2-13/16", "7/8".
pub(super) fn number(text: &str) -> Option<f64> {
    let text = text.trim();
    if let Ok(number) = text.parse::<f64>() {
        return Some(number);
    }
    let (whole, fraction) = text.rsplit_once([' ', '-']).unwrap_or(("0", text));
    let (over, under) = fraction.split_once('/')?;
    let whole: u32 = whole.trim().parse().ok()?;
    let (over, under): (u32, u32) = (over.trim().parse().ok()?, under.trim().parse().ok()?);
    (under > 0 && over < under).then(|| f64::from(whole) + f64::from(over) / f64::from(under))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_numbers_as_people_type_them() {
        for (said, meant) in [
            ("4-Stroke", "four-stroke"),
            ("kickstart", "kick"),
            ("Pull cord", "pull-cord"),
            ("diesel", "compression"),
            ("rotary", "rotary"),
        ] {
            assert_eq!(word(said), meant);
        }
        for (said, meant) in [
            ("two", Some(2)),
            ("2 cylinders", Some(2)),
            ("4-cylinder", Some(4)),
            ("twin", Some(2)),
            ("left right", None),
        ] {
            assert_eq!(count(said), meant, "{said}");
        }
        for (said, meant) in [
            ("2 13/16", Some(2.8125)),
            ("2-13/16", Some(2.8125)),
            ("7/8", Some(0.875)),
            ("2.5", Some(2.5)),
            ("2 16/13", None),
            ("1/0", None),
            ("wide", None),
        ] {
            assert_eq!(number(said), meant, "{said}");
        }
    }
}
