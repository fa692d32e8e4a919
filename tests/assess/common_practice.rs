//! What the trade goes by. Each case names its source, or says that it has none.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Assessment, CauseKind, Judgement};
use needlerest::engine::Condition::{WarmDry, Wet};

fn leading(assessment: &Assessment, cylinder: &str) -> CauseKind {
    let found = assessment.cylinders.iter().find(|c| c.name == cylinder);
    found.unwrap().causes.first().unwrap().kind
}

/// Readings of three cylinders, the middle one low, with its wet reading.
fn low_middle(dry: f64, wet: f64) -> Assessment {
    Session::default()
        .with(WarmDry, &[190.0, dry, 192.0], 2.0)
        .add("2", Wet, run(psi(wet), psi(2.0), Some(2.08)))
        .assessed(Some(&card(3, REFERENCE)))
}

/// Low dry, clearly up with oil: rings (TM 5-4210-230-14&P-1, step 7a).
#[test]
fn a_clear_rise_with_oil_is_rings() {
    assert_eq!(leading(&low_middle(120.0, 165.0), "2"), CauseKind::Rings);
}

/// Low dry, the same with oil: a valve (TM 10-3930-647-14&P, paragraph 4-40).
#[test]
fn no_rise_with_oil_is_a_valve() {
    assert_eq!(leading(&low_middle(120.0, 122.0), "2"), CauseKind::Valve);
}

/// Two side by side, low alike: gasket (OD1001, lesson 3).
#[test]
fn two_low_neighbours_are_a_gasket() {
    let session = Session::default().with(WarmDry, &[190.0, 120.0, 122.0], 2.0);
    let assessment = session.assessed(Some(&card(3, REFERENCE)));
    assert_eq!(leading(&assessment, "2"), CauseKind::Gasket);
    assert_eq!(leading(&assessment, "3"), CauseKind::Gasket);
    let pair = assessment
        .findings
        .iter()
        .find(|f| f.rule == "neighbours-low-alike")
        .unwrap();
    assert_eq!(pair.cylinders, ["2", "3"]);
    assert_eq!(pair.judgement, Judgement::Pass);
}
