//! A leak-down test beside cranking.

use crate::assess::results::LeakArea;
use crate::leakdown::{Leak, words};

/// The leak that cranking found beside that of the leak-down test, and what it says if they differ.
pub(super) fn beside_cranking(
    name: &str,
    found: Option<Leak>,
    cranked: Option<LeakArea>,
    agrees: Option<bool>,
) -> String {
    let by_air = found.map_or_else(
        || "by leak-down more than can be told".to_owned(),
        |found| format!("by leak-down {}", words::leak(&found)),
    );
    let Some(cranked) = cranked else {
        return format!(
            "Cylinder {name} leaks {by_air}; by cranking the card does not let it be worked out."
        );
    };
    let (mm2, expanded) = (cranked.mm2, cranked.expanded_mm2);
    let both = format!("Cylinder {name} leaks {by_air}, by cranking {mm2:.2} ± {expanded:.2} mm²");
    match (agrees, found) {
        (Some(true), _) => format!("{both}: they agree."),
        (Some(false), Some(found)) if mm2 > found.mm2 => format!(
            "{both}: they do not agree. What leaks only while the engine turns looks so: a valve that \
             bounces or hangs, carbon under a seat that has shifted, rings that seal at the top \
             only; or something that was not the engine's when it was cranked (throttle, tester, \
             slow cranking), or a restrictor smaller than was said."
        ),
        (Some(false), _) => format!(
            "{both}: they do not agree. What leaks only while the engine stands looks so: rings that \
             are pressed on by the stroke, a ring gap or a worn place at the top; or a piston that \
             was not at the top, a joint of the tester that leaks, or a restrictor larger than was \
             said."
        ),
        (None, _) => format!("{both}."),
    }
}
