//! What a job card must keep to, beyond its form.

use super::mistake::CardMistake;
use super::{EngineKind, EngineSpec, JobCard, oil};
use crate::units::{Pressure, PressureUnit};
use std::collections::BTreeSet;

/// What a job card's `format` says.
pub(super) const FORMAT: &str = "needlerest-card";
/// The version of the card that is read.
pub(super) const VERSION: u32 = 1;
/// Longest job card in bytes: as long as a recording can carry.
pub(super) const MOST_BYTES: usize = 64 * 1024;
/// Most cylinders that a card may list.
const MOST_CYLINDERS: usize = 64;
/// Longest name in bytes: as long as a recording can carry.
const LONGEST_NAME: usize = 256;

/// Collects mistakes; lines are added by the reader.
#[derive(Default)]
struct Checker {
    mistakes: Vec<CardMistake>,
}

impl Checker {
    fn wrong(&mut self, field: impl Into<String>, problem: impl Into<String>, remedy: &str) {
        self.mistakes.push(CardMistake {
            line: None,
            field: field.into(),
            problem: problem.into(),
            remedy: remedy.into(),
        });
    }

    /// A name must fit where it is recorded and shown.
    fn short(&mut self, field: &str, name: &str) {
        if name.len() > LONGEST_NAME {
            self.wrong(
                field,
                format!("is {} bytes long", name.len()),
                &format!("use at most {LONGEST_NAME} bytes"),
            );
        }
    }

    /// A number, where given, must be finite and within the range any engine could have.
    fn within(&mut self, field: &str, value: Option<f64>, low: f64, high: f64, unit: &str) {
        if let Some(value) = value
            && !(low..=high).contains(&value)
        {
            self.wrong(
                field,
                format!("{value} {unit} is not between {low} and {high} {unit}"),
                "check the number and its unit, or leave the key out",
            );
        }
    }
}

/// Every mistake in the card, without line numbers.
pub(super) fn mistakes(card: &JobCard) -> Vec<CardMistake> {
    let mut checker = Checker::default();
    header(&mut checker, card);
    engine(&mut checker, &card.engine);
    cylinders(&mut checker, card);
    limits(&mut checker, card);
    surroundings(&mut checker, card);
    costs(&mut checker, card);
    checker.mistakes
}

fn header(checker: &mut Checker, card: &JobCard) {
    if card.format != FORMAT {
        checker.wrong(
            "format",
            format!("\"{}\" is not a job card", card.format),
            "write format = \"needlerest-card\"",
        );
    }
    if card.version != VERSION {
        checker.mistakes.push(unknown_version(card.version.into()));
    }
}

pub(super) fn unknown_version(version: u64) -> CardMistake {
    CardMistake {
        line: None,
        field: "version".into(),
        problem: format!("version {version} is not known here; this tool reads {VERSION}"),
        remedy: format!("use a newer needlerest, or write version = {VERSION}"),
    }
}

fn engine(checker: &mut Checker, engine: &EngineSpec) {
    if engine.label.trim().is_empty() {
        checker.wrong("engine.label", "is empty", "give the engine a name");
    }
    checker.short("engine.label", &engine.label);
    checker.within("engine.bore_mm", engine.bore_mm, 10.0, 1000.0, "mm");
    checker.within("engine.stroke_mm", engine.stroke_mm, 10.0, 3000.0, "mm");
    checker.within("engine.rod_mm", engine.rod_mm, 10.0, 10_000.0, "mm");
    checker.within(
        "engine.compression_ratio",
        engine.compression_ratio,
        2.0,
        30.0,
        "to 1",
    );
    checker.within(
        "engine.closes_deg_abdc",
        engine.closes_deg_abdc,
        -20.0,
        150.0,
        "degrees",
    );
    if let (Some(rod), Some(stroke)) = (engine.rod_mm, engine.stroke_mm)
        && rod <= stroke / 2.0
    {
        checker.wrong(
            "engine.rod_mm",
            format!(
                "a rod of {rod} mm is not longer than the crank throw of {} mm",
                stroke / 2.0
            ),
            "give the length from centre to centre, or leave the key out",
        );
    }
}

fn cylinders(checker: &mut Checker, card: &JobCard) {
    if card.cylinders.is_empty() || card.cylinders.len() > MOST_CYLINDERS {
        checker.wrong(
            "cylinder",
            format!("{} cylinders are listed", card.cylinders.len()),
            "list each cylinder once as [[cylinder]]",
        );
    }
    let mut names = BTreeSet::new();
    for (at, cylinder) in card.cylinders.iter().enumerate() {
        let field = format!("cylinder[{}].name", at + 1);
        checker.short(&field, &cylinder.name);
        if cylinder.name.trim().is_empty() {
            checker.wrong(field, "is empty", "give every cylinder a name");
        } else if !names.insert(cylinder.name.as_str()) {
            checker.wrong(
                field,
                format!("\"{}\" is there twice", cylinder.name),
                "give every cylinder a name of its own",
            );
        }
    }
    for (at, cylinder) in card.cylinders.iter().enumerate() {
        for neighbour in &cylinder.neighbours {
            let field = format!("cylinder[{}].neighbours", at + 1);
            if neighbour == &cylinder.name {
                checker.wrong(
                    field,
                    format!("\"{neighbour}\" is its own neighbour"),
                    "name the cylinders next to it on the same bank",
                );
            } else if !names.contains(neighbour.as_str()) {
                checker.wrong(
                    field,
                    format!("no cylinder is called \"{neighbour}\""),
                    "use a name that another [[cylinder]] has",
                );
            }
        }
    }
}

fn limits(checker: &mut Checker, card: &JobCard) {
    let Some(limits) = &card.limits else { return };
    let unit = card.display.unit;
    let named = [
        ("limits.service_limit", limits.service_limit),
        ("limits.normal_low", limits.normal_low),
        ("limits.normal_high", limits.normal_high),
    ];
    for (field, pressure) in named {
        // 10 kPa to 10 MPa: wider than anything that is cranked by hand or starter.
        if let Some(pressure) = pressure
            && !(1e4..=1e7).contains(&pressure.pa())
        {
            checker.wrong(
                field,
                format!("{} is no cranking pressure", pressure.show(unit)),
                "check the number and its unit",
            );
        }
    }
    swapped(checker, "limits.normal_low", named[1], named[2], unit);
    let upper = if limits.normal_low.is_some() {
        named[1]
    } else {
        named[2]
    };
    swapped(checker, "limits.service_limit", named[0], upper, unit);
}

/// The first must not be above the second.
fn swapped(
    checker: &mut Checker,
    field: &str,
    (_, low): (&str, Option<Pressure>),
    (above, high): (&str, Option<Pressure>),
    unit: PressureUnit,
) {
    if let (Some(low), Some(high)) = (low, high)
        && low > high
    {
        checker.wrong(
            field,
            format!("{} is above {above} ({})", low.show(unit), high.show(unit)),
            "the two seem to be swapped: look them up again",
        );
    }
}

fn surroundings(checker: &mut Checker, card: &JobCard) {
    if let Some(site) = &card.site {
        checker.within("site.altitude_m", site.altitude_m, -500.0, 9000.0, "m");
        checker.within("site.air_celsius", site.air_celsius, -60.0, 60.0, "°C");
        let ambient = site.ambient_absolute.map(|p| p.to(PressureUnit::HPa));
        checker.within("site.ambient_absolute", ambient, 300.0, 1100.0, "hPa");
    }
    if let Some(tester) = &card.tester {
        let volumes = [
            ("tester.dead_volume_cm3", tester.dead_volume_cm3, 200.0),
            ("tester.hose_volume_cm3", tester.hose_volume_cm3, 2000.0),
            ("tester.wet_oil_cm3", tester.wet_oil_cm3, 200.0),
        ];
        for (field, volume, most) in volumes {
            checker.within(field, volume, 0.0, most, "cm³");
        }
        // As `leakdown::Restrictor` has it.
        let restrictor = tester.restrictor_mm;
        checker.within("tester.restrictor_mm", restrictor, 0.1, 5.0, "mm");
    }
}

/// Oil that nobody may be asked to pour, without its line: more than is safe, or any in a diesel.
pub(super) fn too_much_oil(card: &JobCard) -> Option<CardMistake> {
    let kind = EngineKind::of(Some(card));
    let asked = kind.wet_oil_cm3.filter(|asked| *asked > 0.0)?;
    let most = oil::most_cm3(kind.chamber_cm3);
    let mistake = |problem: String, remedy: &str| CardMistake {
        line: None,
        field: "tester.wet_oil_cm3".into(),
        problem,
        remedy: remedy.into(),
    };
    if kind.is_diesel() {
        return Some(mistake(
            "a diesel is never given oil: its chamber is small, and oil locks the piston or fires"
                .into(),
            "leave the key out",
        ));
    }
    let why = "oil does not compress: where it fills the chamber the piston stops dead and bends \
               its rod (hydraulic lock)";
    match kind.chamber_cm3 {
        _ if asked <= most => None,
        Some(chamber) => Some(mistake(
            format!(
                "{asked} cm³ of oil is too much for a chamber of {chamber:.1} cm³: {most:.2} cm³ is \
                 the most (a tenth, and {} cm³ at most); {why}",
                oil::MOST_CM3
            ),
            "write less, or leave the key out: then as much is asked for as is safe",
        )),
        None => Some(mistake(
            format!(
                "{asked} cm³ of oil may be too much: the card does not let the chamber be \
                 computed, and without it {most} cm³ is the most; {why}"
            ),
            "give bore_mm, stroke_mm and compression_ratio, or leave the key out",
        )),
    }
}

fn costs(checker: &mut Checker, card: &JobCard) {
    let Some(costs) = &card.costs else { return };
    checker.short("costs.currency", &costs.currency);
    let amounts = [
        ("costs.top_end", costs.top_end),
        ("costs.valve_job", costs.valve_job),
        ("costs.gasket", costs.gasket),
        ("costs.decoke", costs.decoke),
        ("costs.timing", costs.timing),
    ];
    for (field, amount) in amounts {
        checker.within(field, amount, 0.0, 1e12, &costs.currency);
    }
}
