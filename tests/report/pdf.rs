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

/// For the eye.
#[test]
fn show() {
    let Some(folder) = std::env::var_os("NEEDLEREST_SHOW") else {
        return;
    };
    for (name, findings) in fixture::all() {
        let made = pdf(&findings, &fixture::traces(&findings), Units::default()).unwrap();
        let place = std::path::Path::new(&folder).join(format!("{name}.pdf"));
        std::fs::write(place, made).unwrap();
    }
}
