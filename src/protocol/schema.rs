//! The JSON Schema of protocol files, for editors that check while one types.

use super::spec::Spec;
use schemars::generate::SchemaSettings;

/// The JSON Schema (draft 2020-12) of a protocol file, as text. It is generated from the types
/// that read the file; `protocol/protocol-file.schema.json` is a copy.
pub fn schema() -> String {
    let schema = SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<Spec>();
    format!("{:#}", schema.as_value())
}
