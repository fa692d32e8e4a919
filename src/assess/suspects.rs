//! Cylinders with something the matter.

use super::case::Case;
use super::results::CylinderAssessment;
use super::saying::Saying;

/// Whether nobody has listened yet where a cylinder's air goes.
pub(super) fn unheard(case: &Case<'_>, at: usize) -> bool {
    case.aired(at).is_none_or(|aired| aired.heard.is_empty())
}

/// Cylinders whose leading cause is something the matter with them.
pub(super) fn suspects(
    cylinders: &[CylinderAssessment<Saying>],
) -> impl Iterator<Item = (usize, &CylinderAssessment<Saying>)> {
    cylinders
        .iter()
        .enumerate()
        .filter(|(_, c)| c.causes.first().is_some_and(|cause| cause.kind.is_leak()))
}
