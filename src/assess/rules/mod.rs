//! Rules as data: number, unit, source, and where each applies.
//!
//! A rule set is a TOML file. One ships; another can be given. Nothing about a limit is written
//! in code, so that a report can name the rule and the source behind every statement.

mod error;
mod read;

use super::results::{Origin, Role};
use crate::engine::{EngineKind, Ignition, ReadingOnly};
use crate::units::{Pressure, PressureUnit};
pub use error::RuleError;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::sync::LazyLock;

/// What a rule compares with its limit.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum RuleKind {
    /// Lowest cylinder over highest, at least the limit.
    ShareOfHighest,
    /// Highest less lowest cylinder, at most the limit.
    Spread,
    /// Each cylinder over the mean of all (itself included), at least the limit.
    ShareOfMean,
    /// Each cylinder, at least the limit.
    LeastToRun,
    /// Below the card's normal range by no more than the limit.
    BelowNormal,
    /// Above the card's normal range by no more than the limit.
    AboveNormal,
    /// Rise with oil beyond what the oil's volume explains, under the limit.
    WetGain,
    /// Two neighbours, both low, no further apart than the limit.
    NeighboursEven,
    /// Compression strokes in a run, at least the limit.
    LeastStrokes,
    /// Strokes to settle, no further from the median than the limit.
    StrokeEvenness,
    /// Each cylinder over what the card predicts, at least the limit.
    ShareOfExpected,
    /// All cylinders alike: the best of them over what the card predicts, at least the limit for
    /// a pass; low where hardly a sound engine would read so little.
    AllLow,
    /// Every cylinder above what the card predicts, by no more than the limit: beyond it the
    /// card is doubted.
    AboveExpected,
}

impl RuleKind {
    /// The kind of unit its limit is written in.
    const fn measure(self) -> Measure {
        match self {
            Self::ShareOfHighest
            | Self::ShareOfMean
            | Self::NeighboursEven
            | Self::ShareOfExpected
            | Self::AllLow
            | Self::AboveExpected => Measure::Share,
            Self::LeastStrokes | Self::StrokeEvenness => Measure::Count,
            Self::Spread
            | Self::LeastToRun
            | Self::BelowNormal
            | Self::AboveNormal
            | Self::WetGain => Measure::Pressure,
        }
    }
}

/// The kind of unit a limit is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Measure {
    Share,
    Pressure,
    Count,
}

/// How a limit written for sea level moves with height.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AltitudeRule {
    /// With the ratio of ambient pressures: what compression does to a gauge reading.
    PressureRatio,
    /// With the ratio of air densities: the workshop's list of factors.
    DensityRatio,
    /// Not at all.
    None,
}

/// A rule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Its name within the set.
    pub key: String,
    /// What is compared.
    pub kind: RuleKind,
    /// The limit, in [`Self::unit`].
    pub limit: f64,
    /// `share`, `count`, or a unit of pressure.
    pub unit: String,
    /// Probability from which it counts as kept, where that is not the set's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub passes_from: Option<f64>,
    /// What it counts for.
    pub role: Role,
    /// The kind of engine it is for; any if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ignition: Option<Ignition>,
    /// A rule of thumb that decides only where nothing better is known: where the card's geometry
    /// says what a tight cylinder of this very engine reads, it is a note.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub yields_to_card: bool,
    /// Where it applies, in plain words.
    pub applies: String,
    /// Where it comes from, or `common practice, no source`.
    pub source: String,
}

impl Rule {
    /// On whose word it stands, as its source says.
    pub fn origin(&self) -> Origin {
        if self.source.starts_with("common practice") {
            Origin::CommonPractice
        } else if self.source.starts_with("own rule") {
            Origin::Own
        } else {
            Origin::Published
        }
    }

    /// The limit as a pressure; none if it is not one.
    pub fn pressure(&self) -> Option<Pressure> {
        let unit: PressureUnit = self.unit.parse().ok()?;
        Some(Pressure::new(self.limit, unit))
    }
}

/// A set of rules.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleSet {
    /// Always `needlerest-rules`.
    pub format: String,
    /// Version of the format; 1.
    pub version: u32,
    /// What the set is called in reports.
    pub name: String,
    /// Probability from which a limit counts as kept, and at one less that as broken (over 0.5,
    /// under 1).
    pub decision: f64,
    /// How limits move with height.
    pub altitude: AltitudeRule,
    /// The rules.
    #[serde(rename = "rule")]
    pub rules: Vec<Rule>,
}

impl RuleSet {
    /// The text of the set that ships.
    pub const SHIPPED: &str = include_str!("bench-book.toml");

    /// The rules that hold for an engine of this kind: where an automatic decompressor lets part
    /// of each stroke out, those alone that are about the test.
    pub fn for_engine(&self, kind: &EngineKind) -> Cow<'_, Self> {
        if kind.reading_only() != Some(ReadingOnly::AutomaticDecompressor) {
            return Cow::Borrowed(self);
        }
        let about_test =
            |rule: &&Rule| matches!(rule.kind, RuleKind::LeastStrokes | RuleKind::StrokeEvenness);
        Cow::Owned(Self {
            rules: self.rules.iter().filter(about_test).cloned().collect(),
            ..self.clone()
        })
    }

    /// Every rule of a kind that applies to an engine, in the set's order.
    pub fn of_kind(&self, kind: RuleKind, ignition: Ignition) -> impl Iterator<Item = &Rule> {
        self.rules.iter().filter(move |rule| {
            rule.kind == kind && rule.ignition.is_none_or(|wanted| wanted == ignition)
        })
    }

    /// The first rule of a kind that applies to an engine.
    pub fn first(&self, kind: RuleKind, ignition: Ignition) -> Option<&Rule> {
        self.of_kind(kind, ignition).next()
    }
}

impl Default for RuleSet {
    /// The set that ships; a test keeps it readable.
    fn default() -> Self {
        // Read once: whoever goes through a thousand recordings needs it as often.
        static SHIPPED: LazyLock<RuleSet> = LazyLock::new(|| {
            RuleSet::parse(RuleSet::SHIPPED).unwrap_or(RuleSet {
                format: error::FORMAT.to_owned(),
                version: error::VERSION,
                name: "empty".to_owned(),
                decision: 0.95,
                altitude: AltitudeRule::PressureRatio,
                rules: Vec::new(),
            })
        });
        SHIPPED.clone()
    }
}
