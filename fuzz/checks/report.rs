use super::bytes::Bytes;
use needlerest::assess::{RuleSet, RunInput, assess};
use needlerest::engine::{Condition, Display, JobCard};
use needlerest::pipeline::{
    ByHand, Findings, Lost, PacketCounts, RecordingFacts, Run, SensorFacts, Stretch, Trace, inputs,
};
use needlerest::report::chart::{sheet, svg};
use needlerest::report::{Units, json, outputs, page, runs_csv, strokes_csv, text};
use needlerest::signal::{
    BuildUp, Cadence, Call, Contribution, Droop, Flag, Grade, Outcome, Reading, Rig, RunResult,
    Stroke, Turned, Zero,
};
use needlerest::units::{Pressure, PressureUnit, Rate, Time};

const CARD: &str = include_str!("../../demo/heron.card.toml");

/// Any results, however impossible: every output is made, no name ends up as markup on the page,
/// no cell of a table as a formula, and the findings come back from their JSON.
pub fn report(data: &[u8]) {
    let mut bytes = Bytes::new(data);
    let findings = findings(&mut bytes);
    let traces = traces(&mut bytes, findings.runs.len());
    let units = Units {
        main: PressureUnit::ALL[usize::from(bytes.below(10))],
        also: bytes.perhaps(|bytes| PressureUnit::ALL[usize::from(bytes.below(10))]),
    };
    if bytes.byte() == 0xF0 {
        // Pictures in pixels take long: seldom.
        outputs(&findings, &traces, units).expect("outputs");
    }
    svg(&sheet(&findings, units)).expect("a plot");
    let page = page(&findings, &traces, units).expect("a page");
    assert!(!page.contains("<script>alert"), "a name is markup");
    for width in [20, 80] {
        let text = text(&findings, units, width);
        let steers = |c: char| c.is_control() && c != '\n';
        assert!(!text.contains(steers), "a terminal is steered: {text:?}");
    }
    for table in [runs_csv(&findings, units), strokes_csv(&findings, units)] {
        let starts = |line: &str| line.starts_with('=') || line.contains(",=");
        assert!(!table.lines().any(starts), "a cell is a formula: {table}");
    }
    let json = json(&findings).expect("JSON");
    serde_json::from_str::<serde_json::Value>(&json).expect("JSON is JSON");
}

fn findings(bytes: &mut Bytes<'_>) -> Findings {
    let card = bytes.perhaps(|bytes| {
        let mut card = JobCard::parse(CARD).expect("the demo's card is sound");
        card.engine.label = bytes.text();
        for cylinder in &mut card.cylinders {
            if bytes.chance() {
                cylinder.name = bytes.text();
            }
        }
        card
    });
    let count = bytes.below(7);
    let runs: Vec<Run> = (0..count).map(|_| run(bytes)).collect();
    let inputs: Vec<RunInput<'_>> = inputs(&runs);
    let display = card
        .as_ref()
        .map_or_else(Display::default, |card| card.display);
    let assessment = assess(card.as_ref(), &inputs, &RuleSet::default()).said(display);
    Findings {
        format: Findings::FORMAT.to_owned(),
        version: Findings::VERSION,
        tool: bytes.text(),
        set_by_hand: ByHand::default(),
        recording: RecordingFacts {
            started: bytes.text(),
            duration: Time::from_s(bytes.number(100.0)),
            seal: bytes.perhaps(Bytes::text),
            seal_holds: bytes.chance(),
            damaged_lines: bytes.u64(),
            missing_lines: bytes.u64(),
            damage: (0..bytes.below(3)).map(|_| stretch(bytes)).collect(),
            notes: (0..bytes.below(3)).map(|_| bytes.text()).collect(),
        },
        sensor: SensorFacts {
            name: bytes.text(),
            protocol: bytes.text(),
            accuracy: bytes.text(),
            correction: None,
            range_max: bytes.perhaps(|bytes| pressure(bytes, 2e6)),
            samples_per_s: bytes.perhaps(|bytes| bytes.number(500.0)),
            packets: PacketCounts {
                lost: bytes.u64(),
                ..PacketCounts::default()
            },
            link: None,
        },
        card,
        runs,
        air: Vec::new(),
        assessment,
    }
}

fn stretch(bytes: &mut Bytes<'_>) -> Stretch {
    let kinds = [Lost::Damaged, Lost::Misplaced, Lost::Missing, Lost::CutOff];
    Stretch {
        line: bytes.u64(),
        lines: bytes.u64(),
        what: kinds[usize::from(bytes.below(4))],
    }
}

fn pressure(bytes: &mut Bytes<'_>, usual: f64) -> Pressure {
    Pressure::from_pa(bytes.number(usual))
}

fn run(bytes: &mut Bytes<'_>) -> Run {
    Run {
        cylinder: bytes.text(),
        named: bytes.chance(),
        condition: Condition::ALL[usize::from(bytes.below(3))],
        void: bytes.below(4) == 3,
        void_reason: bytes.perhaps(Bytes::text),
        result: result(bytes),
        samples: None,
    }
}

fn result(bytes: &mut Bytes<'_>) -> RunResult {
    let outcomes = [
        Outcome::Settled,
        Outcome::AtRest,
        Outcome::StillClimbing,
        Outcome::NoReading,
    ];
    let rigs = [Some(Rig::Holding), Some(Rig::Following), None];
    let turned = [Turned::ByStarter, Turned::ByHand, Turned::InKicks];
    let grades = [Grade::Good, Grade::Fair, Grade::Poor];
    let strokes = bytes.below(24);
    RunResult {
        started: Time::from_s(bytes.number(10.0)),
        ended: Time::from_s(bytes.number(30.0)),
        rig: rigs[usize::from(bytes.below(3))],
        zero: Zero {
            level: pressure(bytes, 500.0),
            standard: pressure(bytes, 10.0),
            measured: bytes.chance(),
        },
        noise: pressure(bytes, 50.0),
        strokes: (0..strokes)
            .map(|number| stroke(bytes, number.into()))
            .collect(),
        turned: turned[usize::from(bytes.below(3))],
        count: bytes.u32(),
        build_up: bytes.perhaps(build_up),
        outcome: outcomes[usize::from(bytes.below(4))],
        call: bytes.perhaps(|bytes| Call {
            time: Time::from_s(bytes.number(9.0)),
            count: bytes.u32(),
            unseen: bytes.byte().into(),
        }),
        reading: bytes.perhaps(reading),
        cadence: bytes.perhaps(|bytes| Cadence {
            median: Rate::from_hz(bytes.number(3.0)),
            slowest: Rate::from_hz(bytes.number(2.0)),
            fastest: Rate::from_hz(bytes.number(4.0)),
            unevenness: bytes.number(0.1),
            pauses: bytes.u32(),
        }),
        droop: bytes.perhaps(|bytes| Droop {
            per_second: pressure(bytes, 1e3),
            per_second_standard: pressure(bytes, 100.0),
            watched: Time::from_s(bytes.number(5.0)),
        }),
        flags: (0..bytes.below(5)).map(|_| flag(bytes)).collect(),
        grade: grades[usize::from(bytes.below(3))],
    }
}

fn stroke(bytes: &mut Bytes<'_>, number: u32) -> Stroke {
    Stroke {
        number: if bytes.byte() == 0 {
            bytes.u32()
        } else {
            number + 1
        },
        time: Time::from_s(bytes.number(f64::from(number) + 1.0)),
        peak: pressure(bytes, 800e3),
        rise: pressure(bytes, 100e3),
        needle: pressure(bytes, 800e3),
        count: bytes.u32(),
        interval: bytes.perhaps(|bytes| Time::from_s(bytes.number(0.3))),
        cut_off: pressure(bytes, 1e3),
        packets_missing: bytes.chance(),
        clipped: bytes.chance(),
    }
}

fn build_up(bytes: &mut Bytes<'_>) -> BuildUp {
    BuildUp {
        plateau: pressure(bytes, 900e3),
        plateau_uncertainty: pressure(bytes, 5e3),
        ratio: bytes.number(0.6),
        ratio_uncertainty: bytes.number(0.02),
        first_share: bytes.number(0.5),
        first_share_uncertainty: bytes.number(0.02),
        strokes: bytes.u32(),
    }
}

fn reading(bytes: &mut Bytes<'_>) -> Reading {
    Reading {
        value: pressure(bytes, 900e3),
        expanded: pressure(bytes, 15e3),
        expanded_relative: pressure(bytes, 8e3),
        heading: bytes.perhaps(|bytes| pressure(bytes, 950e3)),
        budget: (0..bytes.below(4))
            .map(|_| Contribution {
                source: bytes.text(),
                standard: pressure(bytes, 3e3),
                common: bytes.chance(),
            })
            .collect(),
    }
}

fn flag(bytes: &mut Bytes<'_>) -> Flag {
    match bytes.below(10) {
        0 => Flag::NoStrokes,
        1 => Flag::StoppedEarly {
            strokes: bytes.u32(),
        },
        2 => Flag::ZeroOffset {
            offset: pressure(bytes, 5e3),
        },
        3 => Flag::Clipped {
            samples: bytes.u64(),
        },
        4 => Flag::Undersampled {
            cut_off_share: bytes.number(0.1),
        },
        5 => Flag::UnevenCadence {
            unevenness: bytes.number(0.3),
        },
        6 => Flag::SlowCadence {
            median: Rate::from_hz(bytes.number(1.0)),
        },
        7 => Flag::TesterLeaks {
            per_second: pressure(bytes, 4e3),
        },
        8 => Flag::ThrottleMayBeShut {
            reading: pressure(bytes, 200e3),
        },
        _ => Flag::SlowBuildUp {
            first_share: bytes.number(0.2),
        },
    }
}

fn traces(bytes: &mut Bytes<'_>, runs: usize) -> Vec<Trace> {
    let mut made = Vec::new();
    for run in 0..runs {
        let points = bytes.below(32);
        let mut point = |at: u8| {
            (
                Time::from_s(bytes.number(f64::from(at))),
                pressure(bytes, 800e3),
            )
        };
        made.push(Trace {
            run,
            points: (0..points).map(&mut point).collect(),
        });
    }
    made
}
