//! No test: writes every output into a folder, for the eye and for `tests/report/outside.sh`, which
//! holds them against readers that know nothing of needlerest.

use crate::{fixture, overview, page, recorded, samples};
use needlerest::report::Units;
use needlerest::report::chart::{png, sheet, svg};
use std::path::PathBuf;

/// `NEEDLEREST_SHOW=folder cargo test --test report show -- --ignored`; without a folder it fails.
#[test]
#[ignore = "writes files to look at: NEEDLEREST_SHOW=folder cargo test --test report show -- --ignored"]
fn show() {
    let folder = std::env::var_os("NEEDLEREST_SHOW").expect("NEEDLEREST_SHOW names a folder");
    let folder = PathBuf::from(folder);
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.join(name), bytes).unwrap();
    for (name, findings) in fixture::all() {
        let scene = sheet(&findings, Units::default());
        write(&format!("{name}.html"), page::made(&findings).as_bytes());
        write(&format!("{name}.png"), &png(&scene).unwrap());
        write(&format!("{name}.svg"), svg(&scene).unwrap().as_bytes());
        #[cfg(feature = "pdf")]
        {
            let traces = fixture::traces(&findings);
            let made = needlerest::report::pdf(&findings, &traces, Units::default()).unwrap();
            write(&format!("{name}.pdf"), &made);
        }
    }
    let glance = needlerest::report::overview::outputs(&overview::three(), Units::default());
    write("overview.html", &glance.unwrap()[0].bytes);
    write("visit.jsonl", &recorded::recording());
    write("resumed.jsonl", &samples::visit("reference-sensor").bytes);
}
