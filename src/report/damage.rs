//! What is the matter with a recording, in words: the same in every output, and said first.

use crate::pipeline::{Lost, RecordingFacts, Stretch};

/// Stretches of damage that are told one by one.
const TOLD: usize = 8;

/// One sentence each; none of a recording that is whole.
pub fn damage(recording: &RecordingFacts) -> Vec<String> {
    let mut said = Vec::new();
    if recording.damaged_lines > 0 || recording.missing_lines > 0 {
        said.push(format!(
            "The recording is damaged: {}. What they held is not in these results.",
            stretches(recording)
        ));
    }
    match (&recording.seal, recording.seal_holds) {
        (_, true) => {}
        (Some(_), false) => said.push(
            "The seal of the recording does not hold: it was changed after it was sealed."
                .to_owned(),
        ),
        (None, false) => said.push(
            "The recording is not sealed: it was cut short, or was still going on. What came \
             after is not in these results."
                .to_owned(),
        ),
    }
    said
}

fn stretches(recording: &RecordingFacts) -> String {
    let listed = recording.damage.iter().take(TOLD);
    let mut said: Vec<String> = listed.clone().map(stretch).collect();
    let told = listed.fold(0_u64, |all, stretch| all.saturating_add(stretch.lines));
    let all = recording
        .damaged_lines
        .saturating_add(recording.missing_lines);
    let more = all.saturating_sub(told);
    if more > 0 {
        let and = if said.is_empty() { "" } else { "and " };
        said.push(format!("{and}{more} more lines are damaged or missing"));
    }
    said.join("; ")
}

fn stretch(stretch: &Stretch) -> String {
    let Stretch { line, lines, what } = *stretch;
    let one = lines == 1;
    if what == Lost::Missing {
        let many = if one {
            "1 line is".to_owned()
        } else {
            format!("{lines} lines are")
        };
        return format!("{many} missing before line {line}");
    }
    let place = if one {
        format!("line {line}")
    } else {
        format!(
            "lines {line} to {}",
            line.saturating_add(lines.saturating_sub(1))
        )
    };
    let fate = match (what, one) {
        (Lost::CutOff, _) => "breaks off",
        (Lost::Misplaced, true) => "is out of place",
        (Lost::Misplaced, false) => "are out of place",
        _ => "cannot be used",
    };
    format!("{place} {fate}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Time;

    fn recording(damage: &[(u64, u64, Lost)]) -> RecordingFacts {
        let stretch = |(line, lines, what): &(u64, u64, Lost)| Stretch {
            line: *line,
            lines: *lines,
            what: *what,
        };
        RecordingFacts {
            started: String::new(),
            duration: Time::ZERO,
            seal: Some("00".to_owned()),
            seal_holds: damage.is_empty(),
            damaged_lines: 30,
            missing_lines: 4,
            damage: damage.iter().map(stretch).collect(),
            notes: Vec::new(),
        }
    }

    #[test]
    fn lines_are_named() {
        let said = damage(&recording(&[
            (541, 20, Lost::Damaged),
            (700, 1, Lost::Misplaced),
            (710, 4, Lost::Missing),
            (900, 1, Lost::CutOff),
        ]));
        assert_eq!(
            said[0],
            "The recording is damaged: lines 541 to 560 cannot be used; line 700 is out of place; \
             4 lines are missing before line 710; line 900 breaks off; and 8 more lines are \
             damaged or missing. What they held is not in these results."
        );
        assert!(said[1].contains("does not hold"));
    }

    #[test]
    fn of_a_whole_recording_nothing_is_said() {
        let mut whole = recording(&[]);
        (whole.damaged_lines, whole.missing_lines) = (0, 0);
        assert!(damage(&whole).is_empty());
        (whole.seal, whole.seal_holds) = (None, false);
        assert!(damage(&whole)[0].contains("not sealed"));
    }
}
