//! How much oil, and never twice.

use crate::bench::{Bench, low, setup};
use needlerest::engine::{
    Condition, Cycle, EngineKind, Ignition, JobCard,
    oil::{dose_cm3, measured, most_cm3},
};
use needlerest::session::{Command, Setup};
use proptest::prelude::*;

fn of_chamber(chamber_cm3: Option<f64>, wet_oil_cm3: Option<f64>) -> Setup {
    Setup {
        kind: EngineKind {
            ignition: Some(Ignition::Spark),
            cycle: Some(Cycle::FourStroke),
            chamber_cm3,
            wet_oil_cm3,
            ..EngineKind::default()
        },
        ..setup(&["1", "2"])
    }
}

proptest! {
    /// Whatever is asked for: a tenth of the chamber and 5 cm³ at most; and the words never say
    /// more than the number.
    #[test]
    fn never_more_than_a_tenth_of_the_chamber_and_a_teaspoon(
        chamber in 0.1_f64..500.0,
        asked in proptest::option::of(0.0_f64..200.0),
    ) {
        if let Some(dose) = dose_cm3(Some(chamber), asked) {
            prop_assert!(dose <= chamber / 10.0 + 1e-6 && dose <= 5.0);
            prop_assert!(asked.is_none_or(|asked| dose <= asked + 1e-6));
            let words = measured(dose);
            let ml: f64 = words.split(' ').next().unwrap().parse().unwrap();
            prop_assert!(ml <= dose + 1e-6, "{}", words);
            let spoons = [("(a tea", 5.0), ("three", 3.75), ("half", 2.5), ("a quarter", 1.25), ("eighth", 0.625)];
            let told = spoons.iter().find(|(word, _)| words.contains(word));
            prop_assert!(told.is_none_or(|(_, least)| dose >= *least), "{}", words);
        }
    }
}

/// The numbers worked by hand: 500 cm³ at 10:1 leaves 55.6 cm³, a tenth is 5.6, so 5; 125 cm³ at
/// 9.6:1 leaves 14.5 cm³, a tenth is 1.45.
#[test]
fn amounts_worked_by_hand() {
    assert_eq!(
        measured(dose_cm3(Some(55.6), None).unwrap()),
        "5 ml (a teaspoon)"
    );
    assert_eq!(
        measured(dose_cm3(Some(14.5), None).unwrap()),
        "1.4 ml (a quarter of a teaspoon)"
    );
    assert_eq!(
        measured(dose_cm3(Some(40.0), Some(3.0)).unwrap()),
        "3 ml (half a teaspoon)"
    );
    // Nothing known of the chamber: what a 50 cm³ cylinder at 11:1 bears.
    assert_eq!(
        measured(dose_cm3(None, Some(15.0)).unwrap()),
        "0.5 ml (10 drops)"
    );
    assert!((most_cm3(Some(14.5)) - 1.45).abs() < 1e-9);
    assert_eq!(dose_cm3(Some(0.5), None), None);
}

fn card(engine: &str, oil: f64) -> Result<JobCard, String> {
    let text = format!(
        "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Wren\"\ncycle = \
         \"four-stroke\"\n{engine}\n[[cylinder]]\nname = \"1\"\n[tester]\nwet_oil_cm3 = {oil}\n"
    );
    // Whatever is refused for a test is read where it was recorded.
    assert!(JobCard::parse(&text).is_ok(), "{text}");
    JobCard::for_cranking(&text).map_err(|error| error.to_string())
}

#[test]
fn a_card_that_asks_for_too_much_is_refused_with_the_reason() {
    // 14.5 cm³ of chamber.
    let small = "bore_mm = 52.0\nstroke_mm = 58.9\ncompression_ratio = 9.6";
    assert!(card(small, 1.4).is_ok());
    let refused = card(small, 1.5).unwrap_err();
    for word in ["line 12", "wet_oil_cm3", "hydraulic lock", "14.5", "1.45"] {
        assert!(refused.contains(word), "{word}: {refused}");
    }
    let large = "bore_mm = 100.0\nstroke_mm = 100.0\ncompression_ratio = 6.0";
    assert!(card(large, 5.0).is_ok());
    assert!(card(large, 5.1).unwrap_err().contains("5 cm³ at most"));
    assert!(card("", 0.5).is_ok());
    let unknown = card("", 1.0).unwrap_err();
    assert!(
        unknown.contains("give bore_mm, stroke_mm and compression_ratio"),
        "{unknown}"
    );
    let diesel = card("ignition = \"compression\"", 0.1).unwrap_err();
    assert!(diesel.contains("never given oil"), "{diesel}");
    assert!(card("ignition = \"compression\"", 0.0).is_ok());
}

/// To the wet run of cylinder 2, and then of cylinder 1 on the user's wish.
fn to_wet(setup: Setup) -> Bench {
    let mut bench = Bench::ready(setup);
    bench.make_run();
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    assert_eq!(bench.asked(), Some(("2".to_owned(), Condition::Wet)));
    bench
}

#[test]
fn the_screen_says_how_much_and_how_much_is_in() {
    let mut bench = to_wet(of_chamber(Some(40.0), None));
    let view = bench.session.view();
    assert!(
        view.next
            .contains("4 ml (three quarters of a teaspoon), no more"),
        "{view:?}"
    );
    assert!(view.note.unwrap().contains("4 ml in 1 cylinder."));
    bench.assess_as = None;
    bench.make_run();
    // Once more on the user's wish.
    bench.command(Command::Wet);
    let view = bench.session.view();
    assert_eq!(view.run, Some(("2".to_owned(), Condition::Wet)));
    assert!(view.next.contains("is in cylinder 2: add none"), "{view:?}");
    assert!(view.note.unwrap().contains("4 ml in 1 cylinder."));
}

#[test]
fn without_a_chamber_it_is_little_and_how_to_compute_it_is_told() {
    let bench = to_wet(of_chamber(None, None));
    let view = bench.session.view();
    assert!(view.next.contains("0.5 ml"), "{view:?}");
    assert!(view.note.unwrap().contains("(compression ratio - 1)"));
}

/// A card of an old recording may ask for more: it does not get it.
#[test]
fn a_card_of_old_gets_no_more_than_is_safe() {
    let bench = to_wet(of_chamber(Some(14.5), Some(10.0)));
    assert!(bench.session.view().next.contains("1.4 ml"));
}

#[test]
fn a_wet_run_is_not_asked_for_twice_for_any_reason_but_the_users_wish() {
    // Stopped early, which makes a dry run be asked for again.
    let mut bench = to_wet(of_chamber(Some(40.0), None));
    bench.crank();
    bench.crank();
    bench.bleed();
    let wet_again = |bench: &Bench| {
        let asked = bench.asked();
        asked.is_some_and(|(_, condition)| condition == Condition::Wet)
    };
    assert!(!wet_again(&bench));
    // A trouble afterwards.
    let mut bench = to_wet(of_chamber(Some(40.0), None));
    bench.assess_as = None;
    bench.make_run();
    bench.command(Command::Trouble(needlerest::session::Trouble::Battery));
    assert!(!wet_again(&bench));
    // Low again after a warm round: it has its oil.
    bench.command(Command::Warm);
    bench.make_run();
    bench.assess_as = Some(low("2", "1", Condition::WarmDry));
    bench.make_run();
    assert!(!wet_again(&bench));
    // The user's wish: without more oil.
    bench.command(Command::Redo);
    bench.make_run();
    bench.command(Command::Wet);
    assert!(wet_again(&bench) && bench.session.view().next.contains("add none"));
    // Left before its first stroke, the oil may be in or not.
    let mut bench = to_wet(of_chamber(Some(40.0), None));
    bench.command(Command::Skip);
    bench.command(Command::Wet);
    assert!(wet_again(&bench));
    let next = bench.session.view().next;
    assert!(next.contains("if it is in already, add none"), "{next}");
}
