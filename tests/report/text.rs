//! The terminal's report.

use crate::fixture;
use needlerest::report::{Units, text};
use needlerest::units::PressureUnit;
use unicode_width::UnicodeWidthStr;

fn golden(name: &str, text: &str) {
    insta::with_settings!({snapshot_path => "golden", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::assert_snapshot!(name, text);
    });
}

#[test]
fn four_cylinders_at_a_glance() {
    golden("four-100", &text(&fixture::four(), Units::default(), 100));
}

#[test]
fn a_narrow_terminal_gets_a_list() {
    golden("four-50", &text(&fixture::four(), Units::default(), 50));
}

/// The widths that people have: a phone's terminal, the old standard, a window on a desk.
#[test]
fn the_same_at_every_width() {
    for width in [40, 80, 120] {
        let name = format!("four-{width}");
        golden(&name, &text(&fixture::four(), Units::default(), width));
    }
}

#[test]
fn what_a_full_card_brings() {
    golden("full-100", &text(&fixture::full(), Units::default(), 100));
}

#[test]
fn both_units_where_asked() {
    let units = Units {
        main: PressureUnit::Bar,
        also: Some(PressureUnit::Psi),
    };
    golden("four-bar-psi", &text(&fixture::four(), units, 120));
}

#[test]
fn no_runs_and_one_run() {
    golden("none", &text(&fixture::none(), Units::default(), 80));
    golden("one", &text(&fixture::one(), Units::default(), 80));
}

#[test]
fn hostile_names_do_not_steer_the_terminal() {
    let shown = text(&fixture::hostile(), Units::default(), 80);
    assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
    assert!(!shown.contains('\u{202e}'));
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for findings in [
        fixture::four(),
        fixture::twelve(),
        fixture::hostile(),
        fixture::one(),
    ] {
        for width in [40, 60, 80, 132] {
            for line in text(&findings, Units::default(), width).lines() {
                assert!(line.width() <= width, "{} > {width}: {line}", line.width());
            }
        }
    }
}
