//! How well what a rule measures is known, by the law of propagation (JCGM 100, 5.1.2) with each sensitivity
//! found as a difference quotient (5.1.3, note 2), from the outside: readings are changed a little, one by one.

use crate::support::{Session, psi, run};
use needlerest::assess::{Assessment, Finding};
use needlerest::engine::Condition::WarmDry;

/// Readings of a row in psi, each with its expanded uncertainty.
type Row = [(f64, f64)];

fn assessed(row: &Row) -> Assessment {
    row.iter()
        .zip(1..)
        .fold(Session::default(), |session, ((reading, expanded), at)| {
            let result = run(psi(*reading), psi(*expanded), Some(125.0 / 60.0));
            session.add(&at.to_string(), WarmDry, result)
        })
        .assessed(None)
}

fn measured(findings: &[Finding], like: &Finding) -> f64 {
    let same = |other: &&Finding| other.rule == like.rule && other.cylinders == like.cylinders;
    let found = findings
        .iter()
        .find(same)
        .expect("the same rule of the same cylinders");
    found.amount.as_ref().expect("an amount").measured
}

#[test]
fn what_rules_measure_is_as_uncertain_as_the_readings_make_it() {
    let rows: [&Row; 3] = [
        &[(150.0, 3.0), (120.0, 4.0), (141.0, 5.0), (146.0, 2.0)],
        &[(150.0, 6.0), (149.0, 1.0)],
        &[
            (88.0, 2.0),
            (131.0, 7.0),
            (135.0, 1.5),
            (128.0, 2.5),
            (133.0, 3.5),
            (130.0, 4.5),
        ],
    ];
    let mut checked = 0;
    for row in rows {
        let whole = assessed(row).findings;
        let moved = |at: usize, by: f64| {
            let mut row = row.to_vec();
            row[at].0 += by;
            assessed(&row).findings
        };
        let pairs: Vec<_> = (0..row.len())
            .map(|at| (moved(at, 0.01), moved(at, -0.01)))
            .collect();
        for finding in whole.iter().filter(|finding| finding.amount.is_some()) {
            let amount = finding.amount.as_ref().unwrap();
            let mut squares = 0.0;
            for ((up, down), (_, expanded)) in pairs.iter().zip(row) {
                let slope = (measured(up, finding) - measured(down, finding)) / 0.02;
                let part = slope * 0.5 * expanded;
                squares += part * part;
            }
            let standard = squares.sqrt();
            let off = (amount.standard - standard).abs();
            let what = format!(
                "{} {:?}: {} and {standard}",
                finding.rule, finding.cylinders, amount.standard
            );
            assert!(off <= 2e-3 * standard, "{what}");
            checked += 1;
        }
    }
    assert!(checked >= 12, "{checked}");
}
