//! The page's part on how it was measured.

use super::by_hand::by_hand;
use super::corrected::corrected;
use super::fact::Fact;
use crate::pipeline::Findings;
use crate::report::link::poor;
use crate::report::view::{Number, Units};
use crate::report::words;

pub(in crate::report) fn measured(findings: &Findings, units: Units) -> Vec<Fact> {
    let (sensor, recording) = (&findings.sensor, &findings.recording);
    let mut facts = vec![
        Fact::text("Sensor", words::clean(&sensor.name)),
        Fact::text("Protocol file", words::clean(&sensor.protocol)),
        Fact::text(
            "Accuracy, as its protocol file states it",
            words::clean(&sensor.accuracy),
        ),
    ];
    facts.extend(corrected(findings, units));
    if let Some(range) = sensor.range_max {
        let number = Number::pressure(range, units.main, "/sensor/range_max_pa".to_owned());
        facts.push(Fact::number(
            "Upper end of its range",
            number,
            units.main.to_string(),
        ));
    }
    if let Some(rate) = sensor.samples_per_s {
        let number = Number::plain(rate, 1, "/sensor/samples_per_s".to_owned());
        facts.push(Fact::number("Samples a second, as measured", number, ""));
    }
    let duration = Number::plain(
        recording.duration.s(),
        1,
        "/recording/duration_s".to_owned(),
    );
    facts.push(Fact::number("Length of the recording", duration, "s"));
    facts.extend(packets(findings));
    let poor = poor(findings).into_iter();
    facts.extend(poor.map(|one| Fact::number(one.label, one.number, one.after)));
    facts.push(Fact::text(
        "Rule set",
        words::clean(&findings.assessment.rule_set),
    ));
    facts.extend(by_hand(findings));
    facts.push(Fact::text(
        "Uncertainties",
        "expanded, k = 2, about 95 % (JCGM 100, JCGM 106)",
    ));
    facts.push(Fact::text("Pressures", "gauge: above the air around"));
    facts.push(Fact::text(
        "Program",
        format!("needlerest {}", words::clean(&findings.tool)),
    ));
    facts.push(Fact::text(
        "Seal (SHA-256 of the recording)",
        seal(findings),
    ));
    facts
}

fn packets(findings: &Findings) -> Vec<Fact> {
    let packets = &findings.sensor.packets;
    let counts = [
        ("Packets received", packets.received, "received"),
        ("Samples", packets.samples, "samples"),
        ("Packets lost", packets.lost, "lost"),
        ("Packets that came twice", packets.repeated, "repeated"),
        ("Packets put back in order", packets.reordered, "reordered"),
        ("Packets too short", packets.short, "short"),
        ("Packets too long", packets.long, "long"),
        (
            "Packets with unknown status",
            packets.unknown_status,
            "unknown_status",
        ),
        ("Samples out of range", packets.out_of_range, "out_of_range"),
    ];
    let always = ["received", "samples", "lost"];
    let mut facts: Vec<Fact> = counts
        .into_iter()
        .filter(|(_, count, name)| *count > 0 || always.contains(name))
        .map(|(label, count, name)| {
            let from = format!("/sensor/packets/{name}");
            Fact::number(label, Number::plain(count as f64, 0, from), "")
        })
        .collect();
    if findings.recording.damaged_lines > 0 {
        let from = "/recording/damaged_lines".to_owned();
        let number = Number::plain(findings.recording.damaged_lines as f64, 0, from);
        facts.push(Fact::number("Damaged lines left out", number, ""));
    }
    if findings.recording.missing_lines > 0 {
        let from = "/recording/missing_lines".to_owned();
        let number = Number::plain(findings.recording.missing_lines as f64, 0, from);
        facts.push(Fact::number("Lines missing", number, ""));
    }
    facts
}

pub(in crate::report) fn seal(findings: &Findings) -> String {
    match (&findings.recording.seal, findings.recording.seal_holds) {
        (Some(seal), true) => words::clean(seal),
        (Some(seal), false) => format!(
            "{} – does not hold: the recording was altered or damaged",
            words::clean(seal)
        ),
        (None, _) => "none: the recording was not sealed".to_owned(),
    }
}
