//! The PDF, where it is built in (feature `pdf`).

use crate::fixture;
use needlerest::report::{Units, pdf};

#[test]
fn made_for_everything_and_the_same_each_time() {
    for (name, findings) in fixture::all() {
        let traces = fixture::traces(&findings);
        let made = pdf(&findings, &traces, Units::default()).unwrap();
        assert!(made.starts_with(b"%PDF-"), "{name}");
        assert_eq!(
            made,
            pdf(&findings, &traces, Units::default()).unwrap(),
            "{name}"
        );
    }
}
