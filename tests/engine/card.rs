//! Job cards: what is read, and how mistakes are named.

use needlerest::engine::{CardMistake, Ignition, JobCard};
use needlerest::units::PressureUnit;

const HEAD: &str = "format = \"needlerest-card\"\nversion = 1\n";

/// A card of one cylinder with more lines in its engine, and more after it.
fn mistakes(engine: &str, more: &str) -> Vec<CardMistake> {
    let text = format!(
        "{HEAD}[engine]\nlabel = \"Wren\"\ncycle = \"four-stroke\"\n{engine}\n\
         [[cylinder]]\nname = \"left\"\n{more}"
    );
    match JobCard::parse(&text) {
        Ok(_) => Vec::new(),
        Err(error) => error.mistakes,
    }
}

fn only(engine: &str, more: &str) -> CardMistake {
    let mut all = mistakes(engine, more);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

#[test]
fn a_full_card() {
    let card = JobCard::parse(
        r#"
format = "needlerest-card"
version = 1

[engine]
label = "Heron"
cycle = "four-stroke"
bore_mm = 90.0
stroke_mm = 94.0
rod_mm = 160.0
compression_ratio = 9.0
closes_deg_abdc = 50.0
start = "electric"

[[cylinder]]
name = "1"
neighbours = ["2"]

[[cylinder]]
name = "2"
neighbours = ["1"]

[limits]
service_limit = "120 psi"
normal_low = "10.3 bar"
normal_high = "1200 kPa"

[site]
altitude_m = 340.0

[tester]
dead_volume_cm3 = 1.2

[costs]
currency = "EUR"
top_end = 900.0

[display]
unit = "bar"
"#,
    )
    .unwrap();
    assert_eq!(card.display.unit, PressureUnit::Bar);
    assert_eq!(card.engine.ignition, Ignition::Spark);
    assert_eq!(card.cylinders[0].neighbours, ["2"]);
    // A card goes through its own text unchanged.
    let again = JobCard::parse(&toml::to_string(&card).unwrap()).unwrap();
    assert_eq!(again, card);
}

#[test]
fn limits_that_are_swapped_are_named_with_their_line() {
    let mistake = only(
        "",
        "[limits]\nnormal_low = \"170 psi\"\nnormal_high = \"130 psi\"\n",
    );
    assert_eq!(mistake.field, "limits.normal_low");
    assert_eq!(mistake.line, Some(10));
    assert!(mistake.to_string().contains("swapped"), "{mistake}");
    let mistake = only(
        "",
        "[limits]\nservice_limit = \"170 psi\"\nnormal_low = \"130 psi\"\n",
    );
    assert_eq!(mistake.field, "limits.service_limit");
    assert!(
        mistakes(
            "",
            "[limits]\nservice_limit = \"100 psi\"\nnormal_low = \"130 psi\"\n"
        )
        .is_empty()
    );
}

#[test]
fn cylinders_must_be_known_and_named_once() {
    let twice = only("", "[[cylinder]]\nname = \"left\"\n");
    assert_eq!(twice.field, "cylinder[2].name");
    assert_eq!(twice.line, Some(10));
    let unknown = only("", "neighbours = [\"port\"]\n");
    assert!(unknown.problem.contains("port"), "{unknown}");
    assert_eq!(unknown.line, Some(9));
    assert!(
        only("", "neighbours = [\"left\"]\n")
            .problem
            .contains("own neighbour")
    );
    assert_eq!(only("", "[[cylinder]]\nname = \" \"\n").problem, "is empty");
}

#[test]
fn absurd_geometry_is_refused() {
    for (line, field) in [
        ("bore_mm = 9000.0", "engine.bore_mm"),
        ("stroke_mm = -3.0", "engine.stroke_mm"),
        ("compression_ratio = 1.0", "engine.compression_ratio"),
        ("compression_ratio = nan", "engine.compression_ratio"),
        ("stroke_mm = inf", "engine.stroke_mm"),
        ("closes_deg_abdc = 200.0", "engine.closes_deg_abdc"),
        ("stroke_mm = 90.0\nrod_mm = 40.0", "engine.rod_mm"),
    ] {
        let mistake = only(line, "");
        assert_eq!(mistake.field, field);
        assert!(mistake.line.is_some() && !mistake.remedy.is_empty());
    }
    assert_eq!(
        only("", "[site]\naltitude_m = 20000.0\n").field,
        "site.altitude_m"
    );
    assert_eq!(
        only("", "[tester]\nhose_volume_cm3 = -1.0\n").field,
        "tester.hose_volume_cm3"
    );
    assert_eq!(
        only("", "[limits]\nservice_limit = \"2 Pa\"\n").field,
        "limits.service_limit"
    );
}

#[test]
fn every_mistake_is_told_at_once() {
    let all = mistakes(
        "bore_mm = 1.0\nstroke_mm = 1.0",
        "[site]\naltitude_m = 99999.0\n",
    );
    let lines: Vec<_> = all.iter().filter_map(|mistake| mistake.line).collect();
    assert_eq!(lines, [6, 7, 11]);
}

/// Nobody is told of an `f64`: the entry, what is wrong with it, and where all entries are explained.
#[test]
fn mistakes_of_writing_are_told_in_plain_words() {
    let card = |engine: &str, cylinder: &str| {
        let text = format!(
            "format = \"needlerest-card\"\nversion = 1\n[engine]\n{engine}\n[[cylinder]]\n{cylinder}\n"
        );
        JobCard::parse(&text).unwrap_err().to_string()
    };
    let engine = "label = \"x\"\ncycle = \"four-stroke\"";
    let said = card(&format!("{engine}\nbore_mm = \"wide\""), "name = \"1\"");
    assert!(
        said.contains("line 6: bore_mm: \"wide\" is not a number"),
        "{said}"
    );
    let said = card(&format!("{engine}\nboremm = 5"), "name = \"1\"");
    assert!(said.contains("has no entry \"boremm\""), "{said}");
    let said = card(engine, "name = 1");
    assert!(
        said.contains("line 7: name: 1 is not a text in quotes"),
        "{said}"
    );
    let said = card("label = \"x\"\ncycle = \"six\"", "name = \"1\"");
    assert!(
        said.contains("\"six\" is none of the words known here"),
        "{said}"
    );
    let said = card("cycle = \"four-stroke\"", "name = \"1\"");
    assert!(said.contains("the entry \"label\" is missing"), "{said}");
    let said = card("label = x", "name = \"1\"");
    assert!(
        said.contains("label: a text has to stand in quotes"),
        "{said}"
    );
}

#[test]
fn what_is_no_card_at_all() {
    for text in [
        "",
        "[engine",
        "format = \"needlerest-card\"\nversion = 1\ncolour = \"red\"\n",
        "\u{0}\u{fffd}",
    ] {
        let error = JobCard::parse(text).unwrap_err();
        assert!(!error.mistakes.is_empty() && error.to_string().contains("needlerest guide card"));
    }
    let other = "[engine]\nlabel = \"x\"\ncycle = \"two-stroke\"\n[[cylinder]]\nname = \"1\"\n";
    let wrong = |head: &str| {
        JobCard::parse(&format!("{head}{other}"))
            .unwrap_err()
            .to_string()
    };
    assert!(wrong("format = \"shopping-list\"\nversion = 1\n").contains("line 1: format"));
    assert!(wrong("format = \"needlerest-card\"\nversion = 9\n").contains("line 2: version"));
    let unit = "format = \"needlerest-card\"\nversion = 1\n[display]\nunit = \"furlong\"\n";
    assert!(wrong(unit).contains("line 4"));
}
