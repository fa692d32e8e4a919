//! How the engine is turned.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the engine is turned, as far as it matters for what counts as a chance to climb.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Turned {
    /// Stroke after stroke, all alike, by a starter.
    ByStarter,
    /// Stroke after stroke, by a hand crank: nobody's turns are all alike.
    ByHand,
    /// In kicks or pulls of a few strokes each, with pauses between them.
    InKicks,
}

impl Turned {
    /// Stroke after stroke, without pauses.
    pub const fn steadily(self) -> bool {
        matches!(self, Self::ByStarter | Self::ByHand)
    }
}
