//! A job card in the making: answers in, text of the card out. Whether an answer makes sense is
//! for the card's own reader to say.

use super::spoken;
use crate::engine::{Cycle, Decompressor, Fuel, Ignition, JobCard, Start};
use crate::units::{Pressure, PressureUnit};
use std::fmt::Write as _;
use std::path::Path;

/// What can be answered, in the order in which it is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Key {
    Label,
    Unit,
    Cycle,
    Ignition,
    Cylinders,
    Start,
    Fuel,
    Decompressor,
    Bore,
    Stroke,
    Ratio,
    ServiceLimit,
    NormalLow,
    NormalHigh,
    Altitude,
    DeadVolume,
    HoseVolume,
    WetOil,
    Currency,
    TopEndCost,
    ValveCost,
    GasketCost,
}

impl Key {
    pub(super) const ALL: [Self; 22] = [
        Self::Label,
        Self::Unit,
        Self::Cycle,
        Self::Ignition,
        Self::Cylinders,
        Self::Start,
        Self::Fuel,
        Self::Decompressor,
        Self::Bore,
        Self::Stroke,
        Self::Ratio,
        Self::ServiceLimit,
        Self::NormalLow,
        Self::NormalHigh,
        Self::Altitude,
        Self::DeadVolume,
        Self::HoseVolume,
        Self::WetOil,
        Self::Currency,
        Self::TopEndCost,
        Self::ValveCost,
        Self::GasketCost,
    ];

    /// The option that answers it.
    pub(super) const fn option(self) -> &'static str {
        match self {
            Self::Label => "--label",
            Self::Unit => "--unit",
            Self::Cycle => "--cycle",
            Self::Ignition => "--ignition",
            Self::Cylinders => "--cylinders",
            Self::Start => "--start",
            Self::Fuel => "--fuel",
            Self::Decompressor => "--decompressor",
            Self::Bore => "--bore",
            Self::Stroke => "--stroke",
            Self::Ratio => "--ratio",
            Self::ServiceLimit => "--service-limit",
            Self::NormalLow => "--normal-low",
            Self::NormalHigh => "--normal-high",
            Self::Altitude => "--altitude",
            Self::DeadVolume => "--dead-volume",
            Self::HoseVolume => "--hose-volume",
            Self::WetOil => "--wet-oil",
            Self::Currency => "--currency",
            Self::TopEndCost => "--top-end-cost",
            Self::ValveCost => "--valve-cost",
            Self::GasketCost => "--gasket-cost",
        }
    }
}

/// The answers so far.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Draft {
    pub(super) label: String,
    pub(super) unit: PressureUnit,
    pub(super) cycle: Cycle,
    pub(super) ignition: Ignition,
    /// Rows of cylinders as they stand on the engine.
    pub(super) rows: Vec<Vec<String>>,
    pub(super) start: Start,
    fuel: Option<Fuel>,
    decompressor: Option<Decompressor>,
    bore_mm: Option<f64>,
    stroke_mm: Option<f64>,
    pub(super) ratio: Option<f64>,
    service_limit: Option<String>,
    normal_low: Option<String>,
    normal_high: Option<String>,
    altitude_m: Option<f64>,
    dead_volume_cm3: Option<f64>,
    hose_volume_cm3: Option<f64>,
    wet_oil_cm3: Option<f64>,
    currency: Option<String>,
    top_end_cost: Option<f64>,
    valve_cost: Option<f64>,
    gasket_cost: Option<f64>,
}

impl Draft {
    /// A four-stroke petrol engine with one cylinder and a starter, called as the file is.
    pub(super) fn named_after(path: &Path) -> Self {
        let stem = path.file_stem().map(|stem| stem.to_string_lossy());
        let stem = stem.unwrap_or_default().replace(['-', '_'], " ");
        let stem = stem.trim_end_matches(".card").trim();
        let mut letters = stem.chars();
        let label: String = match letters.next() {
            Some(first) => first.to_uppercase().chain(letters).collect(),
            None => "Engine".to_owned(),
        };
        Self {
            label,
            unit: PressureUnit::default(),
            cycle: Cycle::FourStroke,
            ignition: Ignition::Spark,
            rows: vec![vec!["1".to_owned()]],
            start: Start::Electric,
            fuel: None,
            decompressor: None,
            bore_mm: None,
            stroke_mm: None,
            ratio: None,
            service_limit: None,
            normal_low: None,
            normal_high: None,
            altitude_m: None,
            dead_volume_cm3: None,
            hose_volume_cm3: None,
            wet_oil_cm3: None,
            currency: None,
            top_end_cost: None,
            valve_cost: None,
            gasket_cost: None,
        }
    }

    /// Takes an answer as it was typed; on an error nothing has changed.
    pub(super) fn answer(&mut self, key: Key, text: &str) -> Result<(), String> {
        let text = text.trim();
        let before = self.clone();
        let taken = self.take(key, text).and_then(|()| self.card().map(drop));
        if taken.is_err() {
            *self = before;
        }
        taken
    }

    fn take(&mut self, key: Key, text: &str) -> Result<(), String> {
        match key {
            Key::Label => text.clone_into(&mut self.label),
            Key::Unit => self.unit = text.parse().map_err(|e| format!("{e}"))?,
            Key::Cycle => self.cycle = word(text, "four-stroke or two-stroke")?,
            Key::Ignition => {
                self.ignition = word(text, "spark (petrol) or compression (diesel)")?;
            }
            Key::Cylinders => self.rows = rows(text)?,
            Key::Start => self.start = word(text, "electric, kick, pull-cord or hand-crank")?,
            Key::Fuel => self.fuel = Some(word(text, "carburettor or injection")?),
            Key::Decompressor => {
                self.decompressor = Some(word(text, "none, manual or automatic")?);
            }
            Key::Bore => self.bore_mm = Some(measured(text, &MILLIMETRES)?),
            Key::Stroke => self.stroke_mm = Some(measured(text, &MILLIMETRES)?),
            Key::Ratio => {
                let bare = text.strip_suffix(":1").unwrap_or(text);
                self.ratio = Some(measured(bare, &[("", 1.0)])?);
            }
            Key::ServiceLimit => self.service_limit = Some(self.pressure(text)?),
            Key::NormalLow => self.normal_low = Some(self.pressure(text)?),
            Key::NormalHigh => self.normal_high = Some(self.pressure(text)?),
            Key::Altitude => self.altitude_m = Some(measured(text, &METRES)?),
            Key::DeadVolume => self.dead_volume_cm3 = Some(measured(text, &CUBIC_CM)?),
            Key::HoseVolume => self.hose_volume_cm3 = Some(measured(text, &CUBIC_CM)?),
            Key::WetOil => self.wet_oil_cm3 = Some(measured(text, &CUBIC_CM)?),
            Key::Currency => self.currency = Some(text.to_owned()),
            Key::TopEndCost => self.top_end_cost = Some(self.cost(text)?),
            Key::ValveCost => self.valve_cost = Some(self.cost(text)?),
            Key::GasketCost => self.gasket_cost = Some(self.cost(text)?),
        }
        Ok(())
    }

    /// A pressure as the card writes it; a bare number is in the unit shown.
    fn pressure(&self, text: &str) -> Result<String, String> {
        let with_unit = match text.replace(',', ".").parse::<f64>() {
            Ok(number) => format!("{number} {}", self.unit),
            Err(_) => text.to_owned(),
        };
        let parsed: Result<Pressure, _> = with_unit.parse();
        parsed.map(|_| with_unit).map_err(|error| error.to_string())
    }

    /// A sum of money, with its currency or without.
    fn cost(&self, text: &str) -> Result<f64, String> {
        let currency = self
            .currency
            .as_deref()
            .ok_or("in what currency? --currency names it")?;
        let number = text.trim_start_matches(currency).trim_end_matches(currency);
        let behind = number
            .trim()
            .rsplit_once([',', '.'])
            .map(|(_, behind)| behind);
        if behind.is_some_and(|behind| behind.len() == 3) {
            return Err("thousands are written without a separator: 1000".to_owned());
        }
        measured(number, &[("", 1.0)])
    }

    /// Whether a question is worth asking, after the answers so far.
    pub(super) fn matters(&self, key: Key) -> bool {
        match key {
            Key::WetOil | Key::Fuel => self.ignition == Ignition::Spark,
            Key::ValveCost => self.currency.is_some() && self.cycle == Cycle::FourStroke,
            Key::TopEndCost | Key::GasketCost => self.currency.is_some(),
            _ => true,
        }
    }

    /// The card as the program would read it.
    pub(super) fn card(&self) -> Result<JobCard, String> {
        JobCard::for_cranking(&self.text()).map_err(|error| {
            let first = error.mistakes.first();
            first.map_or_else(
                || error.to_string(),
                |mistake| format!("{}; {}", mistake.problem, mistake.remedy),
            )
        })
    }

    /// The card's text.
    pub(super) fn text(&self) -> String {
        let mut text = format!(
            "# Job card, written by `needlerest card`. Lines that begin with # are passed over;\n\
             # take the # away to fill one in. `needlerest guide card` explains every entry.\n\n\
             format = \"needlerest-card\"\nversion = 1\n\n[engine]\nlabel = {}\ncycle = {}\n\
             ignition = {}\nstart = {}\n",
            quoted(&self.label),
            told(&self.cycle),
            told(&self.ignition),
            told(&self.start),
        );
        word_line(&mut text, "fuel", self.fuel.as_ref(), "carburettor");
        word_line(
            &mut text,
            "decompressor",
            self.decompressor.as_ref(),
            "none",
        );
        text.push_str("# cooling = \"liquid\"  # or \"air\"\n");
        number(&mut text, "bore_mm", self.bore_mm, "90.0");
        number(&mut text, "stroke_mm", self.stroke_mm, "94.0");
        number(&mut text, "compression_ratio", self.ratio, "9.0");
        for row in &self.rows {
            cylinders(&mut text, row);
        }
        text.push_str("\n# What the engine's manual asks for.\n[limits]\n");
        line(
            &mut text,
            "service_limit",
            self.service_limit.as_deref(),
            "120 psi",
        );
        line(
            &mut text,
            "normal_low",
            self.normal_low.as_deref(),
            "150 psi",
        );
        line(
            &mut text,
            "normal_high",
            self.normal_high.as_deref(),
            "180 psi",
        );
        text.push_str("\n[site]\n");
        number(&mut text, "altitude_m", self.altitude_m, "340.0");
        text.push_str("# air_celsius = 15.0\n\n[tester]\n");
        number(&mut text, "dead_volume_cm3", self.dead_volume_cm3, "1.5");
        number(&mut text, "hose_volume_cm3", self.hose_volume_cm3, "10.0");
        number(&mut text, "wet_oil_cm3", self.wet_oil_cm3, "5.0");
        text.push_str("# restrictor_mm = 1.0  # of the leak-down tester\n");
        text.push_str(
            "\n# Seen to before the test: a low reading is then not put down to it.\n[checked]\n\
             # throttle_open = true\n# tester_tight = true\n",
        );
        self.costs(&mut text);
        let _ = write!(text, "\n[display]\nunit = {}\n", quoted(self.unit.symbol()));
        text
    }
}

impl Draft {
    /// What repairs would cost; the report then says what a buyer may allow for them.
    fn costs(&self, text: &mut String) {
        text.push_str("\n# For a buyer: what repairs would cost, parts and labour.\n");
        let Some(currency) = &self.currency else {
            text.push_str("# [costs]\n# currency = \"EUR\"\n# top_end = 900.0\n");
            return;
        };
        let _ = write!(text, "[costs]\ncurrency = {}\n", quoted(currency));
        number(text, "top_end", self.top_end_cost, "900.0");
        number(text, "valve_job", self.valve_cost, "500.0");
        number(text, "gasket", self.gasket_cost, "250.0");
    }
}

/// Units of a length, each with how many millimetres it is; the first is taken if none is given.
const MILLIMETRES: [(&str, f64); 4] = [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("\"", 25.4)];
/// Units of a height, in metres.
const METRES: [(&str, f64); 2] = [("m", 1.0), ("ft", 0.3048)];
/// Units of a volume, in cm³.
const CUBIC_CM: [(&str, f64); 4] = [("cm3", 1.0), ("cm³", 1.0), ("ml", 1.0), ("cc", 1.0)];

/// A number with one of these units, or without.
fn measured(text: &str, units: &[(&str, f64)]) -> Result<f64, String> {
    let text = text.replace(',', ".");
    let with_unit = units.iter().filter(|(unit, _)| !unit.is_empty());
    let named = with_unit
        .filter_map(|(unit, factor)| Some((text.strip_suffix(unit)?, *factor)))
        // "mm" ends in "m" as well: the longest unit leaves the shortest number.
        .min_by_key(|(number, _)| number.len());
    let (digits, factor) = named.unwrap_or((text.as_str(), 1.0));
    match spoken::number(digits) {
        // Inches and feet do not come out even; a micrometre is near enough.
        Some(number) if number.is_finite() => Ok((number * factor * 1e3).round() / 1e3),
        _ => Err(format!("\"{text}\" is no number")),
    }
}

/// A word of the card's own vocabulary.
fn word<T: serde::de::DeserializeOwned>(text: &str, choice: &str) -> Result<T, String> {
    serde_json::from_value(spoken::word(text).into()).map_err(|_| format!("the choice is {choice}"))
}

/// A word as the card writes it, with its quotes.
fn told(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

/// Names row by row, or how many cylinders stand in one row.
fn rows(text: &str) -> Result<Vec<Vec<String>>, String> {
    if let Some(many) = spoken::count(text) {
        if !(1..=24).contains(&many) {
            return Err("how many cylinders: 1 to 24".to_owned());
        }
        return Ok(vec![(1..=many).map(|n| n.to_string()).collect()]);
    }
    let rows: Vec<Vec<String>> = text
        .split('/')
        .map(|row| row.split([' ', ',']).filter(|name| !name.is_empty()))
        .map(|names| names.map(str::to_owned).collect())
        .collect();
    let odd = |name: &String| name.to_lowercase().starts_with("cyl");
    if rows.iter().any(Vec::is_empty) || rows.iter().flatten().any(odd) {
        return Err("how many cylinders, or their names row by row: 1 3 5 / 2 4 6".to_owned());
    }
    Ok(rows)
}

fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

fn line(text: &mut String, key: &str, value: Option<&str>, example: &str) {
    // Writing into a string does not fail.
    let _ = match value {
        Some(value) => writeln!(text, "{key} = {}", quoted(value)),
        None => writeln!(text, "# {key} = {}", quoted(example)),
    };
}

fn word_line(text: &mut String, key: &str, value: Option<&impl serde::Serialize>, example: &str) {
    let _ = match value {
        Some(value) => writeln!(text, "{key} = {}", told(value)),
        None => writeln!(text, "# {key} = {}", quoted(example)),
    };
}

fn number(text: &mut String, key: &str, value: Option<f64>, example: &str) {
    let _ = match value {
        Some(value) => writeln!(text, "{key} = {value:?}"),
        None => writeln!(text, "# {key} = {example}"),
    };
}

/// The cylinders of one row: who stands next to whom shares a gasket land.
fn cylinders(text: &mut String, row: &[String]) {
    for (at, name) in row.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|at| row.get(at));
        let next_to: Vec<String> = before
            .into_iter()
            .chain(row.get(at + 1))
            .map(|name| quoted(name))
            .collect();
        let _ = write!(text, "\n[[cylinder]]\nname = {}\n", quoted(name));
        if !next_to.is_empty() {
            let _ = writeln!(text, "neighbours = [{}]", next_to.join(", "));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft() -> Draft {
        Draft::named_after(Path::new("some/heron.toml"))
    }

    #[test]
    fn what_nobody_answered_is_a_sound_card_all_the_same() {
        let card = draft().card().expect("sound");
        assert_eq!(card.engine.label, "Heron");
        assert_eq!(card.cylinders.len(), 1);
        assert_eq!(card.engine.compression_ratio, None);
    }

    #[test]
    fn rows_make_neighbours_and_only_within_a_row() {
        let mut draft = draft();
        draft.answer(Key::Cylinders, "1 3 5 / 2 4 6").expect("rows");
        let card = draft.card().expect("sound");
        let next_to = |at: usize| card.cylinders[at].neighbours.clone();
        assert_eq!(next_to(0), ["3"]);
        assert_eq!(next_to(1), ["1", "5"]);
        assert_eq!(next_to(3), ["4"]);
        draft
            .answer(Key::Cylinders, "three cylinders")
            .expect("a number");
        assert_eq!(draft.card().expect("sound").cylinders.len(), 3);
    }

    #[test]
    fn lengths_and_heights_are_taken_in_the_units_people_use() {
        let mut draft = draft();
        for (key, text) in [
            (Key::Bore, "3 1/2 in"),
            (Key::Stroke, "94mm"),
            (Key::Ratio, "9:1"),
            (Key::Altitude, "1000 ft"),
            (Key::WetOil, "5 ml"),
        ] {
            draft.answer(key, text).expect(text);
        }
        let card = draft.card().expect("sound");
        // NIST SP 811, appendix B.8: 1 in is 25.4 mm, 1 ft is 0.3048 m, exactly.
        assert_eq!(card.engine.bore_mm, Some(88.9));
        assert_eq!(card.engine.stroke_mm, Some(94.0));
        assert_eq!(card.engine.compression_ratio, Some(9.0));
        assert_eq!(card.site.and_then(|s| s.altitude_m), Some(304.8));
        assert_eq!(card.tester.and_then(|t| t.wet_oil_cm3), Some(5.0));
    }

    #[test]
    fn a_bare_pressure_is_in_the_unit_shown() {
        let mut draft = draft();
        draft.answer(Key::Unit, "bar").expect("a unit");
        draft.answer(Key::ServiceLimit, "8,5").expect("a pressure");
        draft
            .answer(Key::NormalHigh, "180 psi")
            .expect("a pressure");
        let limits = draft.card().expect("sound").limits.expect("limits");
        let bar = limits.service_limit.map(|p| p.to(PressureUnit::Bar));
        assert!(bar.is_some_and(|bar| (bar - 8.5).abs() < 1e-9), "{bar:?}");
    }

    #[test]
    fn repair_costs_are_taken_once_the_currency_is_known() {
        let mut draft = draft();
        assert!(!draft.matters(Key::TopEndCost));
        assert!(draft.answer(Key::TopEndCost, "900").is_err());
        draft.answer(Key::Currency, "EUR").expect("a currency");
        for (key, text) in [
            (Key::TopEndCost, "900"),
            (Key::ValveCost, "450,50 EUR"),
            (Key::GasketCost, "EUR 250"),
        ] {
            assert!(draft.matters(key));
            draft.answer(key, text).expect(text);
        }
        for bad in ["-5", "1,000", "1.000 EUR", "cheap"] {
            assert!(draft.answer(Key::GasketCost, bad).is_err(), "{bad}");
        }
        let costs = draft.card().expect("sound").costs.expect("costs");
        assert_eq!(costs.currency, "EUR");
        assert_eq!(costs.top_end, Some(900.0));
        assert_eq!(costs.valve_job, Some(450.5));
        assert_eq!(costs.gasket, Some(250.0));
        draft.answer(Key::Cycle, "two-stroke").expect("a cycle");
        assert!(!draft.matters(Key::ValveCost));
    }

    #[test]
    fn a_bad_answer_is_told_and_changes_nothing() {
        for (key, bad) in [
            (Key::Bore, "wide"),
            (Key::Bore, "9"),
            (Key::Ratio, "90"),
            (Key::Cycle, "six-stroke"),
            (Key::Cylinders, "1 1"),
            (Key::Cylinders, "1 / "),
            (Key::Cylinders, "some cylinders"),
            (Key::Unit, "furlong"),
            (Key::ServiceLimit, "12 parsec"),
            (Key::Label, "  "),
            (Key::Altitude, "9e9"),
        ] {
            let mut tried = draft();
            assert!(tried.answer(key, bad).is_err(), "{bad}");
            assert_eq!(tried, draft(), "{bad}");
        }
    }

    #[test]
    fn names_may_hold_what_toml_must_escape() {
        let mut draft = draft();
        draft
            .answer(Key::Label, "Bob's \"big\" \\ one")
            .expect("a label");
        let card = draft.card().expect("sound");
        assert_eq!(card.engine.label, "Bob's \"big\" \\ one");
    }
}
