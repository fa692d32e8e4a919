//! Findings made by hand (invented engines), and the traces that go with them.

use needlerest::assess::{
    Allowance, AllowancePart, Amount, Assessment, Cause, CauseKind, Comparison, Corrected,
    Correction, CorrectionKind, CylinderAssessment, CylinderReading, Evidence, ExpectedReading,
    Finding, Judgement, LeakArea, Origin, Quantity, Role, Sign,
};
use needlerest::engine::{
    Condition, Cycle, CylinderSpec, Display, EngineSpec, Ignition, JobCard, Limits, Start,
};
use needlerest::pipeline::{
    ByHand, Findings, PacketCounts, RecordingFacts, Run, SensorFacts, Trace,
};
use needlerest::recording::{LinkQuality, Spread};
use needlerest::signal::{
    BuildUp, Cadence, Call, Contribution, Flag, Grade, Outcome, Reading, Rig, RunResult, Stroke,
    Turned, Zero,
};
use needlerest::units::{Pressure, PressureUnit, Rate, Time};

fn psi(value: f64) -> Pressure {
    Pressure::new(value, PressureUnit::Psi)
}

/// A run to be made up: cylinder, condition, plateau in psi, strokes.
pub type Wanted<'a> = (&'a str, Condition, f64, u32);

/// An engine with the given label and runs; the cylinders are those of the runs.
pub fn engine(label: &str, wanted: &[Wanted<'_>]) -> Findings {
    let mut names: Vec<&str> = Vec::new();
    for (name, ..) in wanted {
        if !names.contains(name) {
            names.push(name);
        }
    }
    let runs: Vec<Run> = wanted
        .iter()
        .enumerate()
        .map(|(index, wanted)| run(index, wanted))
        .collect();
    let assessment = assessment(&names, &runs);
    Findings {
        format: "needlerest-findings".to_owned(),
        version: Findings::VERSION,
        tool: "0.1.0".to_owned(),
        recording: recording(),
        sensor: sensor(),
        set_by_hand: ByHand::default(),
        card: Some(card(label, &names)),
        air: Vec::new(),
        runs,
        assessment,
    }
}

fn recording() -> RecordingFacts {
    RecordingFacts {
        started: "2026-05-02T09:14:00Z".to_owned(),
        duration: Time::from_s(214.5),
        seal: Some("9f2c".repeat(16)),
        seal_holds: true,
        damaged_lines: 0,
        missing_lines: 0,
        damage: Vec::new(),
        notes: vec!["Throttle held open with a strap.".to_owned()],
    }
}

fn sensor() -> SensorFacts {
    SensorFacts {
        name: "NR-REF-01".to_owned(),
        protocol: "needlerest reference sensor".to_owned(),
        accuracy: "0.5 % of full scale".to_owned(),
        correction: None,
        range_max: Some(psi(300.0)),
        samples_per_s: Some(500.0),
        link: None,
        packets: PacketCounts {
            received: 10_725,
            samples: 107_250,
            lost: 12,
            ..PacketCounts::default()
        },
    }
}

fn card(label: &str, names: &[&str]) -> JobCard {
    JobCard {
        format: "needlerest-card".to_owned(),
        version: 1,
        engine: EngineSpec {
            label: label.to_owned(),
            cycle: Cycle::FourStroke,
            ignition: Ignition::Spark,
            bore_mm: Some(76.0),
            stroke_mm: Some(82.0),
            rod_mm: None,
            compression_ratio: Some(8.5),
            closes_deg_abdc: None,
            start: Some(Start::Electric),
            fuel: None,
            decompressor: None,
            cooling: None,
        },
        cylinders: names
            .iter()
            .map(|name| CylinderSpec {
                name: (*name).to_owned(),
                neighbours: Vec::new(),
            })
            .collect(),
        limits: Some(Limits {
            service_limit: Some(psi(110.0)),
            normal_low: Some(psi(130.0)),
            normal_high: Some(psi(165.0)),
        }),
        site: None,
        tester: None,
        checked: None,
        costs: None,
        display: Display::default(),
    }
}

fn run(index: usize, &(cylinder, condition, plateau, count): &Wanted<'_>) -> Run {
    let (first_share, ratio) = (0.62, 0.55);
    let start = 10.0 + 20.0 * index as f64;
    let mut strokes = Vec::new();
    let mut left = plateau * (1.0 - first_share);
    let mut before = 0.0;
    for n in 0..count {
        let level = plateau - left;
        strokes.push(Stroke {
            number: n + 1,
            time: Time::from_s(start + 0.45 * f64::from(n)),
            peak: psi(level),
            rise: psi(level - before),
            needle: psi(level),
            count: n + 1,
            interval: (n > 0).then(|| Time::from_s(0.45)),
            cut_off: Pressure::ZERO,
            packets_missing: false,
            clipped: false,
        });
        before = level;
        left *= ratio;
    }
    let settled = count >= 7;
    let outcome = match count {
        0..=2 => Outcome::NoReading,
        _ if settled => Outcome::Settled,
        _ => Outcome::StillClimbing,
    };
    let reading = (outcome != Outcome::NoReading).then(|| Reading {
        value: psi(if settled { plateau } else { before }),
        expanded: psi(if settled { 1.9 } else { 6.4 }),
        expanded_relative: psi(if settled { 0.6 } else { 6.1 }),
        heading: (!settled).then(|| psi(plateau * 1.03)),
        budget: vec![
            contribution("sensor accuracy", 0.87, true),
            contribution("noise", 0.12, false),
            contribution("repeat", if settled { 0.25 } else { 3.0 }, false),
        ],
    });
    let flags = match outcome {
        Outcome::Settled | Outcome::AtRest => Vec::new(),
        Outcome::StillClimbing => vec![Flag::StoppedEarly { strokes: count }],
        Outcome::NoReading => vec![Flag::NoStrokes],
    };
    let grade = match outcome {
        Outcome::Settled | Outcome::AtRest => Grade::Good,
        Outcome::StillClimbing => Grade::Fair,
        Outcome::NoReading => Grade::Poor,
    };
    let result = RunResult {
        started: Time::from_s(start - 2.0),
        ended: Time::from_s(start + 0.45 * f64::from(count) + 3.0),
        rig: Some(Rig::Holding),
        zero: Zero {
            level: psi(0.3),
            standard: psi(0.02),
            measured: true,
        },
        noise: psi(0.08),
        build_up: (count > 2).then(|| BuildUp {
            plateau: psi(plateau),
            plateau_uncertainty: psi(0.25),
            ratio,
            ratio_uncertainty: 0.01,
            first_share,
            first_share_uncertainty: 0.01,
            strokes: count,
        }),
        strokes,
        turned: Turned::ByStarter,
        count,
        outcome,
        call: settled.then_some(Call {
            time: Time::from_s(start + 0.45 * 6.0),
            count: 7,
            unseen: 0,
        }),
        reading,
        cadence: (count > 1).then(|| Cadence {
            median: Rate::from_hz(1.0 / 0.45),
            slowest: Rate::from_hz(2.1),
            fastest: Rate::from_hz(2.3),
            unevenness: 0.03,
            pauses: 0,
        }),
        droop: None,
        flags,
        grade,
    };
    Run {
        cylinder: cylinder.to_owned(),
        named: true,
        condition,
        void: false,
        void_reason: None,
        result,
        samples: None,
    }
}

fn contribution(source: &str, standard: f64, common: bool) -> Contribution {
    Contribution {
        source: source.to_owned(),
        standard: psi(standard),
        common,
    }
}

fn readings_in(runs: &[Run], condition: Condition) -> Vec<(usize, &Run, Pressure)> {
    runs.iter()
        .enumerate()
        .filter(|(_, run)| run.condition == condition)
        .filter_map(|(n, run)| run.result.reading.as_ref().map(|r| (n, run, r.value)))
        .collect()
}

fn highest(runs: &[Run], condition: Condition) -> Pressure {
    readings_in(runs, condition)
        .iter()
        .fold(Pressure::ZERO, |top, (.., value)| top.max(*value))
}

fn assessment(names: &[&str], runs: &[Run]) -> Assessment {
    let cylinders: Vec<_> = names.iter().map(|name| cylinder(name, runs)).collect();
    let comparisons: Vec<_> = Condition::ALL
        .into_iter()
        .filter_map(|condition| comparison(runs, condition))
        .collect();
    let judgement = comparisons
        .last()
        .map_or(Judgement::NotJudged, |c| c.judgement);
    let lowest = comparisons.last().map_or("none", |c| c.lowest.as_str());
    Assessment {
        verdict: format!("Lowest is cylinder {lowest}; consistent with a leaking valve there."),
        judgement,
        score: cylinders.first().and_then(|c| c.score),
        score_expanded: Some(3.0),
        findings: vec![Finding {
            rule: "lowest-over-highest".to_owned(),
            cylinders: names.iter().map(|n| (*n).to_owned()).collect(),
            condition: Some(Condition::WarmDry),
            amount: Some(Amount {
                quantity: Quantity::Share,
                measured: 0.81,
                standard: 0.005,
                limit: 0.9,
            }),
            text: "The lowest cylinder reads 81 ± 1 % of the highest; 90 % is asked.".to_owned(),
            judgement,
            role: Role::Decides,
            probability_within: Some(0.02),
            origin: Origin::CommonPractice,
            source: "common practice, no source".to_owned(),
        }],
        cylinders,
        comparisons,
        expected: Vec::new(),
        disagreement: None,
        allowance: None,
        notes: Vec::new(),
        cannot_tell: vec!["Intake and exhaust valve cannot be told apart.".to_owned()],
        next_steps: vec!["Check the valve clearance, then repeat the warm runs.".to_owned()],
        rule_set: "ten per cent".to_owned(),
    }
}

fn cylinder(name: &str, runs: &[Run]) -> CylinderAssessment {
    let readings: Vec<CylinderReading> = runs
        .iter()
        .enumerate()
        .filter(|(_, run)| run.cylinder == name)
        .filter_map(|(n, run)| {
            let reading = run.result.reading.as_ref()?;
            Some(CylinderReading {
                run: n,
                condition: run.condition,
                value: reading.value,
                expanded: reading.expanded,
                expanded_relative: reading.expanded_relative,
                at_least: reading.is_at_least(),
                share_of_highest: (readings_in(runs, run.condition).len() > 1)
                    .then(|| reading.value / highest(runs, run.condition)),
                crank: Some(Rate::from_per_min(267.0)),
                corrected: None,
                leak: None,
            })
        })
        .collect();
    let lowest_share = readings
        .iter()
        .filter_map(|r| r.share_of_highest)
        .fold(1.0, f64::min);
    let kind = if lowest_share < 0.9 {
        CauseKind::Valve
    } else {
        CauseKind::Healthy
    };
    let score = (!readings.is_empty()).then_some(lowest_share * 100.0);
    let causes = vec![Cause {
        valve: None,
        kind,
        cylinders: vec![name.to_owned()],
        probability: 0.74,
        text: "Consistent with what was read.".to_owned(),
        evidence_for: vec![Evidence {
            sign: Sign::Oil {
                cylinder: name.to_owned(),
                change: 0.004,
                by_volume_most: None,
            },
            text: "Oil changed the reading by less than its uncertainty.".to_owned(),
        }],
        evidence_against: vec![Evidence {
            sign: Sign::OfOthers {
                cylinder: name.to_owned(),
                share: 0.99,
            },
            text: "The reading is not far below the others.".to_owned(),
        }],
    }];
    CylinderAssessment {
        leak_down: None,
        name: name.to_owned(),
        score,
        score_expanded: score.map(|_| 3.0),
        causes: if readings.is_empty() {
            Vec::new()
        } else {
            causes
        },
        readings,
    }
}

fn comparison(runs: &[Run], condition: Condition) -> Option<Comparison> {
    let read = readings_in(runs, condition);
    let (_, high, top) = *read.iter().max_by(|a, b| a.2.pa().total_cmp(&b.2.pa()))?;
    let (_, low, bottom) = *read.iter().min_by(|a, b| a.2.pa().total_cmp(&b.2.pa()))?;
    if read.len() < 2 {
        return None;
    }
    let share = bottom / top;
    Some(Comparison {
        condition,
        highest: high.cylinder.clone(),
        highest_pressure: top,
        lowest: low.cylinder.clone(),
        lowest_pressure: bottom,
        share,
        share_expanded: 0.006,
        corrected_share: None,
        judgement: if share >= 0.9 {
            Judgement::Pass
        } else {
            Judgement::Fail
        },
    })
}

/// Four cylinders, cold and warm, the third low, one run still climbing.
pub fn four() -> Findings {
    use Condition::{ColdDry, WarmDry};
    engine(
        "Kestrel, invented four-cylinder",
        &[
            ("1", ColdDry, 146.2, 9),
            ("2", ColdDry, 149.8, 8),
            ("3", ColdDry, 118.4, 10),
            ("4", ColdDry, 147.0, 4),
            ("1", WarmDry, 151.3, 9),
            ("2", WarmDry, 154.0, 8),
            ("3", WarmDry, 124.7, 11),
            ("4", WarmDry, 150.9, 8),
        ],
    )
}

/// Twelve cylinders in all three conditions.
pub fn twelve() -> Findings {
    let names: Vec<String> = (1..=12).map(|n| n.to_string()).collect();
    let mut wanted: Vec<Wanted<'_>> = Vec::new();
    for (c, condition) in Condition::ALL.into_iter().enumerate() {
        for (n, name) in names.iter().enumerate() {
            let level = 140.0 + 5.0 * c as f64 + (n * 7 % 12) as f64 * 1.5;
            wanted.push((name, condition, level, 7 + (n % 5) as u32));
        }
    }
    engine("Crossbill, invented twelve-cylinder", &wanted)
}

/// No runs at all.
pub fn none() -> Findings {
    let mut findings = engine("Siskin, nothing recorded", &[]);
    findings.assessment.findings.clear();
    "No reading was made.".clone_into(&mut findings.assessment.verdict);
    findings
}

/// One cylinder, one run.
pub fn one() -> Findings {
    engine("Siskin", &[("only", Condition::WarmDry, 131.0, 8)])
}

/// Names that try to break out of wherever they are put.
pub fn hostile() -> Findings {
    let long = "A very long name ".repeat(40);
    let mut findings = engine(
        "<script>alert(1)</script>\u{1b}[31m & \"Ко\" {{ label }}",
        &[
            (
                "</script><img src=x onerror=alert(2)>",
                Condition::WarmDry,
                150.0,
                8,
            ),
            (&long, Condition::WarmDry, 149.0, 8),
            ("الأسطوانة اليسرى", Condition::WarmDry, 148.0, 8),
            ("左气缸", Condition::WarmDry, 147.0, 5),
            ("abc\u{202e}def]]>--><!--", Condition::WarmDry, 120.0, 2),
        ],
    );
    findings.recording.notes = vec!["</script><script>alert(3)</script>\u{2028}".to_owned()];
    findings
}
/// A trace for each run: steps that hold, as behind a check valve.
pub fn traces(findings: &Findings) -> Vec<Trace> {
    findings
        .runs
        .iter()
        .enumerate()
        .map(|(run, wanted)| {
            let result = &wanted.result;
            let (from, to) = (result.started.s(), result.ended.s());
            let points = (0..400)
                .map(|n| {
                    let time = from + (to - from) * f64::from(n) / 399.0;
                    let level = result
                        .strokes
                        .iter()
                        .rfind(|stroke| stroke.time.s() <= time)
                        .map_or(Pressure::ZERO, |stroke| stroke.peak);
                    let wobble = psi(0.1) * f64::from(n % 3 - 1);
                    (Time::from_s(time), level + wobble)
                })
                .collect();
            Trace { run, points }
        })
        .collect()
}

/// An engine of so many cylinders, cold and warm.
pub fn cylinders(count: u32) -> Findings {
    let names: Vec<String> = (1..=count).map(|n| format!("cylinder {n}")).collect();
    let wanted: Vec<Wanted<'_>> = [Condition::ColdDry, Condition::WarmDry]
        .into_iter()
        .flat_map(|condition| {
            names.iter().map(move |name| {
                (
                    name.as_str(),
                    condition,
                    10.0 + 10.0 * f64::from(count),
                    3 + 6 * count,
                )
            })
        })
        .collect();
    engine("Crake, invented", &wanted)
}

/// Everything that a full job card brings: expected readings, corrections, leaks, allowance.
pub fn full() -> Findings {
    let mut findings = four();
    let assessment = &mut findings.assessment;
    assessment.disagreement = Some("A second rule would pass these readings.".to_owned());
    assessment.notes = vec!["Rod length assumed: twice the stroke.".to_owned()];
    assessment.expected = vec![ExpectedReading {
        condition: Condition::WarmDry,
        low: psi(138.0),
        likely: psi(151.0),
        high: psi(163.0),
        basis: "From bore, stroke and ratio.".to_owned(),
    }];
    assessment.allowance = Some(Allowance {
        currency: "EUR".to_owned(),
        expected: 214.0,
        parts: vec![AllowancePart {
            job: "valve job".to_owned(),
            cost: 290.0,
            probability: 0.74,
        }],
        text: "The readings do not tell which valve.".to_owned(),
    });
    let reading = &mut assessment.cylinders[2].readings[1];
    reading.leak = Some(LeakArea {
        mm2: 0.84,
        expanded_mm2: 0.12,
    });
    reading.corrected = Some(Corrected {
        value: psi(126.1),
        expanded_relative: psi(0.9),
        parts: vec![Correction {
            kind: CorrectionKind::Cadence,
            factor: 1.011,
            factor_standard: 0.002,
            text: "to the crank speed that the cylinders have in common".to_owned(),
        }],
    });
    findings
}

/// Everything above, by name.
pub fn all() -> Vec<(&'static str, Findings)> {
    vec![
        ("four", four()),
        ("full", full()),
        ("twelve", twelve()),
        ("none", none()),
        ("one", one()),
        ("hostile", hostile()),
        ("poor link", poor_link()),
    ]
}

/// Four cylinders through a link that was poor in every way.
pub fn poor_link() -> Findings {
    let mut findings = four();
    let packets = &mut findings.sensor.packets;
    (packets.lost, packets.link_losses) = (400, 2);
    let spread = |p99, max| {
        Some(Spread {
            p50: 1000,
            p99,
            max,
        })
    };
    findings.sensor.link = Some(LinkQuality {
        packets: packets.received,
        lost: Some(packets.lost),
        link_losses: packets.link_losses,
        rssi_dbm: Some(-93),
        spacing_us: spread(40_000, 1_834_000),
        latency_us: spread(310_000, 1_800_000),
        drift_ppm: Some(-812.4),
    });
    findings
}
