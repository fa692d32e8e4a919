//! Tables and the JSON's schema.

use crate::fixture;
use needlerest::report::{Units, json, runs_csv, schema, strokes_csv};

fn golden(name: &str, text: &str) {
    insta::with_settings!({snapshot_path => "golden", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::assert_snapshot!(name, text.replace("\r\n", "\n"));
    });
}

#[test]
fn one_row_a_stroke_and_one_row_a_run() {
    let findings = fixture::four();
    let (runs, strokes) = (
        runs_csv(&findings, Units::default()),
        strokes_csv(&findings, Units::default()),
    );
    assert_eq!(runs.lines().count(), 1 + findings.runs.len());
    let total: usize = findings
        .runs
        .iter()
        .map(|run| run.result.strokes.len())
        .sum();
    assert_eq!(strokes.lines().count(), 1 + total);
    golden("runs-csv", &runs);
    golden(
        "strokes-csv",
        &strokes_csv(&fixture::one(), Units::default()),
    );
}

#[test]
fn every_row_has_every_column_whatever_the_names() {
    for (name, findings) in fixture::all() {
        for table in [
            runs_csv(&findings, Units::default()),
            strokes_csv(&findings, Units::default()),
        ] {
            let columns = table.lines().next().unwrap().matches(',').count();
            for line in table.lines() {
                let quoted = line
                    .split('"')
                    .skip(1)
                    .step_by(2)
                    .map(|q| q.matches(',').count());
                assert_eq!(
                    line.matches(',').count() - quoted.sum::<usize>(),
                    columns,
                    "{name}: {line}"
                );
            }
        }
    }
}

/// `NEEDLEREST_UPDATE=1 cargo test --test report schema` writes it anew.
#[test]
fn the_schema_file_is_in_step_and_the_findings_follow_it() {
    let place =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/findings.schema.json");
    if std::env::var_os("NEEDLEREST_UPDATE").is_some() {
        std::fs::write(&place, schema()).unwrap();
    }
    let kept = std::fs::read_to_string(&place).unwrap();
    assert_eq!(
        kept,
        schema(),
        "run with NEEDLEREST_UPDATE=1 to write it anew"
    );
    let validator = jsonschema::validator_for(&serde_json::from_str(&kept).unwrap()).unwrap();
    for (name, findings) in fixture::all() {
        let written = serde_json::from_str(&json(&findings).unwrap()).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&written)
            .map(|e| e.to_string())
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
    }
    let mut wrong = serde_json::to_value(fixture::one()).unwrap();
    wrong["runs"][0]["condition"] = "lukewarm".into();
    assert!(!validator.is_valid(&wrong));
}
