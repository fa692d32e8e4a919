//! Probabilities of causes against SciPy, going through every combination (`fixtures/assess/weigh.py`).

use super::*;
use serde::Deserialize;

#[derive(Deserialize)]
struct Kept {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    cylinders: Vec<OneCylinder>,
    pairs: Vec<(usize, usize)>,
    doubt: f64,
    falls: bool,
    possible: Can,
    probabilities: Vec<Probabilities>,
}

#[derive(Deserialize)]
struct OneCylinder {
    level: f64,
    doubt: f64,
    oil: Option<Oiled>,
    heard: AirHeard,
}

#[derive(Deserialize)]
struct Oiled {
    change: f64,
    doubt: f64,
    if_rings: f64,
    beside: Option<f64>,
}

#[derive(Deserialize)]
struct AirHeard {
    sound: f64,
    rings: f64,
    intake: f64,
    exhaust: f64,
    gasket: f64,
}

#[derive(Deserialize)]
struct Can {
    valves: bool,
    throttle: bool,
    tester: bool,
    timing: bool,
    slow: bool,
    kicked: bool,
}

fn cylinder(at: usize, of: &OneCylinder) -> Cylinder {
    let heard = &of.heard;
    Cylinder {
        at,
        level: of.level,
        doubt: of.doubt,
        oil: of.oil.as_ref().map(|oil| Oil {
            change: oil.change,
            doubt: oil.doubt,
            if_rings: oil.if_rings,
            beside: oil.beside,
        }),
        heard: Heard {
            sound: heard.sound,
            rings: heard.rings,
            intake: heard.intake,
            exhaust: heard.exhaust,
            gasket: heard.gasket,
        },
    }
}

/// The same model, put together the long way round.
#[test]
fn probabilities_are_those_of_every_combination() {
    let text = include_str!("../../../../fixtures/assess/weigh.json");
    let kept: Kept = serde_json::from_str(text).expect("JSON");
    assert!(kept.cases.len() > 5);
    for case in kept.cases {
        let cylinders = case.cylinders.iter().enumerate();
        let seen = Seen {
            cylinders: cylinders.map(|(at, of)| cylinder(at, of)).collect(),
            doubt: case.doubt,
            expected: true,
            pairs: case.pairs,
            falls: case.falls,
        };
        let can = case.possible;
        let possible = Possible {
            valves: can.valves,
            throttle: can.throttle,
            tester: can.tester,
            timing: can.timing,
            slow: can.slow,
            kicked: can.kicked,
        };
        let ours = weigh(&seen, possible);
        assert_eq!(ours.len(), case.probabilities.len());
        for (at, (ours, theirs)) in ours.iter().zip(&case.probabilities).enumerate() {
            for kind in ours.keys().chain(theirs.keys()) {
                let of = |all: &Probabilities| all.get(kind).copied().unwrap_or(0.0);
                let (ours, theirs) = (of(ours), of(theirs));
                // Nothing is ruled out for good: one in a thousand million is left unexplained.
                let off = (ours - theirs).abs();
                let what = format!("{}, {at}, {kind:?}: {ours} and {theirs}", case.name);
                assert!(off < 2e-5, "{what}");
            }
        }
    }
}

/// Where nothing that was seen speaks for anything, a cylinder has what cylinders have.
#[test]
fn how_often_adds_up_to_one() {
    let likely = Likely {
        sound: [1.0; STEPS],
        leak: [1.0; STEPS],
        deposits: [1.0; STEPS],
        oil: (1.0, 1.0),
        heard: Heard::NOTHING,
    };
    for valves in [true, false] {
        let possible = Possible {
            valves,
            throttle: true,
            tester: true,
            timing: true,
            slow: true,
            kicked: false,
        };
        let own = likely.own(possible, false);
        let sum: f64 = own.iter().map(|(_, prior)| prior).sum();
        assert!((sum - 1.0).abs() < 1e-12, "{own:?}");
        let of = |kind| {
            own.iter()
                .find(|(k, _)| *k == kind)
                .map_or(0.0, |(_, p)| *p)
        };
        assert_eq!(of(CauseKind::Valve) > 0.0, valves);
        assert!(of(CauseKind::Healthy) > 0.8);
    }
}
