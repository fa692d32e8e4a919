//! The job card's JSON Schema is kept in step with the types.

use needlerest::engine::JobCard;
use std::path::Path;

fn schema() -> String {
    let schema = schemars::schema_for!(JobCard);
    serde_json::to_string_pretty(&schema).unwrap() + "\n"
}

/// Set `UPDATE_SCHEMAS` to write the file anew.
#[test]
fn the_schema_file_is_that_of_the_types() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/job-card.schema.json");
    if std::env::var_os("UPDATE_SCHEMAS").is_some() {
        std::fs::write(&path, schema()).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == schema(),
        "run UPDATE_SCHEMAS=1 cargo test --test engine schema"
    );
}

/// Every key of the schema is described in the file for people.
#[test]
fn every_key_is_described() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/job-card.md");
    let described = std::fs::read_to_string(path).unwrap();
    let schema: serde_json::Value = serde_json::from_str(&schema()).unwrap();
    let mut keys = Vec::new();
    properties(&schema, &mut keys);
    assert!(keys.len() > 30, "{keys:?}");
    for key in keys {
        assert!(
            described.contains(&format!("`{key}`")),
            "{key} is not described"
        );
    }
}

fn properties(value: &serde_json::Value, keys: &mut Vec<String>) {
    let Some(object) = value.as_object() else {
        return;
    };
    for (name, inner) in object {
        if name == "properties"
            && let Some(map) = inner.as_object()
        {
            keys.extend(map.keys().cloned());
        }
        properties(inner, keys);
    }
}

/// What the reader accepts, the schema accepts; what the schema refuses, the reader refuses too.
#[test]
fn the_schema_accepts_a_card() {
    let schema: serde_json::Value = serde_json::from_str(&schema()).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let text = "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Finch\"\n\
                cycle = \"four-stroke\"\n[limits]\nservice_limit = \"95 psi\"\n\
                [[cylinder]]\nname = \"1\"\n";
    let card: serde_json::Value = toml::from_str(text).unwrap();
    assert!(validator.is_valid(&card));
    let mut wrong = card.clone();
    wrong["engine"]["colour"] = "red".into();
    assert!(!validator.is_valid(&wrong));
}
