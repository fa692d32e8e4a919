//! needlerest
fn main() {}
