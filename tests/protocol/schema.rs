//! The JSON Schema that ships is the one that the types give, and it tells good files from bad.

use super::shipped::{ENVIRONMENTAL, REFERENCE, WORKBENCH};
use super::wire::{ASKED, FRAMES, TABLE, TEXT};
use needlerest::protocol::schema;

const SHIPPED: &str = include_str!("../../protocol/protocol-file.schema.json");

#[test]
fn the_shipped_schema_is_in_step() {
    assert_eq!(
        SHIPPED.trim_end(),
        schema(),
        "make it anew: needlerest protocol schema > protocol/protocol-file.schema.json"
    );
}

/// Held by an independent validator.
#[test]
fn the_schema_accepts_the_shipped_files_and_refuses_bad_ones() {
    let schema: serde_json::Value = serde_json::from_str(SHIPPED).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let accepts = |text: &str| {
        let value: toml::Value = toml::from_str(text).unwrap();
        validator.is_valid(&serde_json::to_value(value).unwrap())
    };
    assert!(accepts(REFERENCE) && accepts(ENVIRONMENTAL) && accepts(WORKBENCH));
    assert!([TEXT, FRAMES, ASKED, TABLE].into_iter().all(accepts));
    for (from, to) in [
        ("type = \"u16\"", "type = \"u15\""),
        ("unit = \"Pa\"", "unit = \"furlong\""),
        ("uuid = \"0x2A24\"", "uuid = \"0x2A2\""),
        ("range_high = \"2500 kPa\"", "range_high = 25"),
        ("tick_of = \"first\"", "colour = \"red\""),
    ] {
        assert!(!accepts(&REFERENCE.replacen(from, to, 1)), "{to}");
    }
}
