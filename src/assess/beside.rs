//! What a leak-down test found of a cylinder, held against what cranking found.

use super::air::Aired;
use super::case::Case;
use super::leak;
use super::results::{LeakArea, LeakDownBeside};
use super::saying::Saying;
use crate::engine::expected::TightModel;

/// A cylinder's leak-down test beside its cranking.
pub(super) fn beside(case: &Case<'_>, at: usize) -> Option<LeakDownBeside<Saying>> {
    let Aired { held, heard } = case.aired(at)?;
    let found = held.leak;
    let cranked = case
        .dry_entry(at)
        .and_then(|entry| leak::area(case, entry, leak::MODEL_DOUBT))
        .map(|area| resolved(case, area));
    let agrees = found
        .zip(cranked)
        .map(|(found, cranked)| found.agrees_with(cranked.mm2, cranked.expanded_mm2));
    Some(LeakDownBeside {
        loss: held.loss,
        loss_expanded: held.loss_expanded,
        leak: found,
        cranked,
        agrees,
        heard: heard.to_vec(),
        text: Saying::LeakDown {
            cylinder: case.name(at).to_owned(),
            found,
            cranked,
            agrees,
        },
    })
}

/// A stroke cannot tell a leak better than to about twice what a healthy cylinder lets past: a reading
/// as high as a tight one's says no more than that.
fn resolved(case: &Case<'_>, area: LeakArea) -> LeakArea {
    let bore = case.card.and_then(|card| card.engine.bore_mm);
    let least = 2.0 * TightModel::shipped().healthy_leak_mm2_per_mm * bore.unwrap_or(0.0);
    LeakArea {
        expanded_mm2: libm::hypot(area.expanded_mm2, least),
        ..area
    }
}
