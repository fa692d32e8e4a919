//! What the assessment says.
//!
//! `S` is how a thing is said: [`Saying`](super::Saying), the data of it, as the analysis has it, or a
//! sentence in somebody's units.

use crate::engine::Condition;
use crate::leakdown::{Leak, Place};
use crate::units::{Pressure, Rate};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A decision against a limit, made with the reading's uncertainty (JCGM 106).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Judgement {
    /// Within the limit, beyond doubt of the measurement.
    Pass,
    /// Outside the limit, beyond doubt of the measurement.
    Fail,
    /// An engine only: low, not confirmed. All cylinders alike (or the only one) are below what
    /// they should read, and nothing rules out the throttle, the starter or the tester.
    Unconfirmed,
    /// The uncertainty reaches over the limit.
    TooCloseToCall,
    /// An engine only: nothing fails, but a cylinder has no usable dry reading.
    Incomplete,
    /// What the rule needs was not measured or not given.
    NotJudged,
}

/// What a finding counts for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// It decides: the rule of comparison that was chosen, or the card's own limits.
    Decides,
    /// Another published rule on the same question; shown, so that a verdict that hangs on the
    /// choice of rule is seen to do so.
    SecondOpinion,
    /// It explains or warns.
    Note,
}

/// On whose word a limit stands.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// A limit of the job card: the maker's word.
    Card,
    /// A published rule.
    Published,
    /// What the trade goes by; no published text was found for it.
    CommonPractice,
    /// A rule of this program.
    Own,
}

/// What a rule was applied to, in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Amount {
    /// What is measured.
    pub quantity: Quantity,
    /// As measured: pascal, a share (1 = all), or a count.
    pub measured: f64,
    /// Its standard uncertainty, in the same unit.
    pub standard: f64,
    /// The limit as it stands here, in the same unit.
    pub limit: f64,
}

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// A pressure, in pascal.
    Pressure,
    /// A share.
    Share,
    /// A number of strokes or kicks.
    Count,
}

/// A rule applied to the readings: what was found, how it was judged, and on whose word.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Finding")]
pub struct Finding<S = String> {
    /// Key of the rule in the rule set.
    pub rule: String,
    /// Cylinders it is about; empty for the engine as a whole.
    pub cylinders: Vec<String>,
    /// Condition it is about, if one.
    pub condition: Option<Condition>,
    /// What was measured and the limit; none where the rule is not about a number.
    pub amount: Option<Amount>,
    /// Plain sentence with numbers, units and uncertainty.
    pub text: S,
    /// How it was judged.
    pub judgement: Judgement,
    /// What it counts for.
    pub role: Role,
    /// Probability that the limit is kept, where one was computed (0 to 1).
    pub probability_within: Option<f64>,
    /// On whose word the limit stands.
    pub origin: Origin,
    /// Where the rule comes from, or `common practice, no source`.
    pub source: String,
}

/// The cylinders of one condition beside each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Comparison {
    /// The condition.
    pub condition: Condition,
    /// Cylinder with the highest reading, and the reading.
    pub highest: String,
    /// Highest reading.
    #[serde(rename = "highest_pa")]
    pub highest_pressure: Pressure,
    /// Cylinder with the lowest reading.
    pub lowest: String,
    /// Lowest reading.
    #[serde(rename = "lowest_pa")]
    pub lowest_pressure: Pressure,
    /// Lowest over highest (0 to 1).
    pub share: f64,
    /// Expanded uncertainty (k = 2) of [`Self::share`].
    pub share_expanded: f64,
    /// As [`Self::share`], from corrected readings; none where nothing was corrected.
    pub corrected_share: Option<f64>,
    /// Judged by the rule set's chosen rule of comparison, from corrected readings where there
    /// are any.
    pub judgement: Judgement,
}

/// What a reading was corrected for.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum CorrectionKind {
    /// To the crank speed that the cylinders have in common.
    Cadence,
    /// To the standard atmosphere.
    Ambient,
    /// To a tester without volume at the plug hole.
    DeadVolume,
    /// To a chamber without oil in it.
    Oil,
    /// To an engine at working temperature.
    Warmth,
}

/// One correction: a factor on the gauge reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Correction")]
pub struct Correction<S = String> {
    /// What for.
    pub kind: CorrectionKind,
    /// Corrected over uncorrected.
    pub factor: f64,
    /// Standard uncertainty of [`Self::factor`].
    pub factor_standard: f64,
    /// What was done and by which model, in plain words.
    pub text: S,
}

/// A reading made comparable with others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Corrected")]
pub struct Corrected<S = String> {
    /// What it would have read at the common conditions.
    #[serde(rename = "value_pa")]
    pub value: Pressure,
    /// Expanded uncertainty, k = 2, of a comparison with another corrected reading.
    #[serde(rename = "expanded_relative_pa")]
    pub expanded_relative: Pressure,
    /// Each correction made, in order.
    pub parts: Vec<Correction<S>>,
}

/// The hole that would let a tight cylinder of this engine read so low: discharge coefficient
/// times area.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeakArea {
    /// Effective area in mm².
    pub mm2: f64,
    /// Expanded uncertainty (k = 2) in mm².
    pub expanded_mm2: f64,
}

/// A leak-down test beside cranking.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "LeakDownBeside")]
pub struct LeakDownBeside<S = String> {
    /// Share of the supply's pressure that was lost (0 to 1).
    pub loss: f64,
    /// Expanded uncertainty (k = 2) of [`Self::loss`].
    pub loss_expanded: f64,
    /// The leak by the leak-down test; none where nothing was held.
    pub leak: Option<Leak>,
    /// The leak by cranking, dry, where the card allows it to be computed.
    pub cranked: Option<LeakArea>,
    /// Whether the two agree within their uncertainties.
    pub agrees: Option<bool>,
    /// Where air was heard to leave, the loudest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<Place>,
    /// The same in a sentence, and what it says if they do not agree.
    pub text: S,
}

/// One of the two valves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ValveSide {
    /// The intake valve.
    Intake,
    /// The exhaust valve.
    Exhaust,
}

/// What a tight cylinder of this engine should read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "ExpectedReading")]
pub struct ExpectedReading<S = String> {
    /// The condition.
    pub condition: Condition,
    /// Lower end of the band (k = 2).
    #[serde(rename = "low_pa")]
    pub low: Pressure,
    /// Most likely.
    #[serde(rename = "likely_pa")]
    pub likely: Pressure,
    /// Upper end of the band (k = 2).
    #[serde(rename = "high_pa")]
    pub high: Pressure,
    /// What it rests on and how sure that is.
    pub basis: S,
}

/// A repair that may be needed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "AllowancePart")]
pub struct AllowancePart<S = String> {
    /// The job.
    pub job: S,
    /// Its cost, as the user gave it.
    pub cost: f64,
    /// Probability that at least one cylinder needs it (0 to 1).
    pub probability: f64,
}

/// What a buyer may allow for repairs, on average over what the readings leave open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Allowance")]
pub struct Allowance<S = String> {
    /// Currency label, as the user gave it.
    pub currency: String,
    /// Sum of cost times probability.
    pub expected: f64,
    /// The jobs behind it.
    pub parts: Vec<AllowancePart<S>>,
    /// What the readings support and what they do not.
    pub text: S,
}

/// A cylinder's reading in one condition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "CylinderReading")]
pub struct CylinderReading<S = String> {
    /// Index of the run in the findings.
    pub run: usize,
    /// The condition.
    pub condition: Condition,
    /// As read.
    #[serde(rename = "value_pa")]
    pub value: Pressure,
    /// Expanded uncertainty, k = 2.
    #[serde(rename = "expanded_pa")]
    pub expanded: Pressure,
    /// Expanded uncertainty, k = 2, without what all runs share: for comparisons.
    #[serde(rename = "expanded_relative_pa")]
    pub expanded_relative: Pressure,
    /// The needle was still climbing: it reads at least this.
    pub at_least: bool,
    /// Share of the highest cylinder in the same condition (0 to 1); none where it is the only one.
    pub share_of_highest: Option<f64>,
    /// Crank speed in the run, where it is known.
    #[serde(rename = "crank_hz")]
    pub crank: Option<Rate>,
    /// Like with like; none where the card is too thin or nothing differs.
    pub corrected: Option<Corrected<S>>,
    /// Effective leak, where the card allows it to be computed.
    pub leak: Option<LeakArea>,
}

/// What may be the matter.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum CauseKind {
    /// Nothing.
    Healthy,
    /// Piston rings or cylinder wall.
    Rings,
    /// Intake or exhaust valve.
    Valve,
    /// Head gasket between two neighbours.
    Gasket,
    /// Rings or a valve: the runs made cannot tell them apart.
    RingsOrValve,
    /// Deposits, or less clearance than the card says.
    HighCompression,
    /// Cam worn or valve timing wrong.
    ValveTiming,
    /// The throttle was shut.
    ThrottleShut,
    /// The engine was turned too slowly.
    SlowCranking,
    /// The tester leaks.
    TesterLeak,
}

impl CauseKind {
    /// Every cause.
    pub const ALL: [Self; 10] = [
        Self::Healthy,
        Self::Rings,
        Self::Valve,
        Self::Gasket,
        Self::RingsOrValve,
        Self::HighCompression,
        Self::ValveTiming,
        Self::ThrottleShut,
        Self::SlowCranking,
        Self::TesterLeak,
    ];

    /// Whether it moves the readings of all cylinders together.
    pub const fn is_shared(self) -> bool {
        matches!(
            self,
            Self::ValveTiming | Self::ThrottleShut | Self::SlowCranking | Self::TesterLeak
        )
    }

    /// Whether it is a matter of the test, not of the engine.
    pub const fn is_of_test(self) -> bool {
        matches!(
            self,
            Self::ThrottleShut | Self::SlowCranking | Self::TesterLeak
        )
    }

    /// Whether it is a hole in a cylinder.
    pub const fn is_leak(self) -> bool {
        matches!(
            self,
            Self::Rings | Self::Valve | Self::Gasket | Self::RingsOrValve
        )
    }
}

/// A possible cause with its probability and the evidence for and against it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Cause")]
pub struct Cause<S = String> {
    /// What it is.
    pub kind: CauseKind,
    /// Which valve, where a leak-down test was heard to tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valve: Option<ValveSide>,
    /// The cylinders concerned.
    pub cylinders: Vec<String>,
    /// Probability (0 to 1) under the stated model.
    pub probability: f64,
    /// "Consistent with …" in a sentence.
    pub text: S,
    /// Evidence for it, the weightiest first.
    pub evidence_for: Vec<Evidence<S>>,
    /// Evidence against it.
    pub evidence_against: Vec<Evidence<S>>,
}

/// A piece of evidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Evidence")]
pub struct Evidence<S = String> {
    /// What was seen.
    #[serde(flatten)]
    pub sign: Sign,
    /// The same in a sentence.
    pub text: S,
}

/// What was seen that speaks for a cause or against it. Shares are ratios of pressures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "sign", rename_all = "kebab-case")]
pub enum Sign {
    /// The reading beside what the card predicts, and that of the best cylinder.
    OfExpected {
        /// The cylinder.
        cylinder: String,
        /// Its reading over what was expected of it.
        share: f64,
        /// The best cylinder's.
        best_share: f64,
    },
    /// The reading beside the best of the others.
    OfOthers {
        /// The cylinder.
        cylinder: String,
        /// Its reading over the best of the others.
        share: f64,
    },
    /// A neighbour.
    Neighbour {
        /// The cylinder.
        cylinder: String,
        /// Its neighbour.
        neighbour: String,
        /// The neighbour's reading over the best.
        share_of_best: f64,
        /// The cylinder's reading over the neighbour's.
        share_of_neighbour: f64,
    },
    /// The change with oil.
    Oil {
        /// The cylinder.
        cylinder: String,
        /// Rise over the dry reading.
        change: f64,
        /// The most that the oil's own volume explains of it, where the card lets it be computed.
        by_volume_most: Option<f64>,
    },
    /// A held reading fell while nobody cranked.
    HeldFalls {},
    /// Where air was heard to leave in a leak-down test.
    Heard {
        /// The cylinder.
        cylinder: String,
        /// The places, the loudest first.
        places: Vec<Place>,
    },
}

impl Sign {
    /// What a neighbour reads speaks of the gasket between the two; for any other cause a cylinder
    /// is held against the best one and against the card. That it is the best itself says nothing of
    /// whether it is sound: the others may be bad.
    pub(super) fn concerns(&self, kind: CauseKind) -> bool {
        match self {
            Self::Neighbour { .. } => kind == CauseKind::Gasket,
            Self::OfOthers { share, .. } => *share < 1.0 || kind != CauseKind::Healthy,
            _ => true,
        }
    }
}

/// One cylinder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "CylinderAssessment")]
#[serde(bound(deserialize = "S: Deserialize<'de>"))]
pub struct CylinderAssessment<S = String> {
    /// Its name.
    pub name: String,
    /// What it reads of what it should, in per cent, 100 at most; none without a reading or anything
    /// to hold it against.
    pub score: Option<f64>,
    /// Expanded uncertainty (k = 2) of the score.
    pub score_expanded: Option<f64>,
    /// Its readings, one a run.
    pub readings: Vec<CylinderReading<S>>,
    /// Its leak-down test beside cranking.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leak_down: Option<LeakDownBeside<S>>,
    /// Its likely causes, most probable first.
    pub causes: Vec<Cause<S>>,
}

/// All that the readings support.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Assessment")]
pub struct Assessment<S = String> {
    /// The verdict in one sentence.
    pub verdict: S,
    /// Overall judgement.
    pub judgement: Judgement,
    /// Score of the engine: that of its worst cylinder; none without a reading.
    pub score: Option<f64>,
    /// Expanded uncertainty (k = 2) of the score.
    pub score_expanded: Option<f64>,
    /// Every cylinder of the card (or found), in its order.
    pub cylinders: Vec<CylinderAssessment<S>>,
    /// What a tight cylinder should read, one for each condition measured, where the card says
    /// enough.
    pub expected: Vec<ExpectedReading<S>>,
    /// One for each condition with at least two readings.
    pub comparisons: Vec<Comparison>,
    /// Rules applied.
    pub findings: Vec<Finding<S>>,
    /// Where published rules of comparison disagree on these readings, a sentence that says so.
    pub disagreement: Option<S>,
    /// What a buyer may allow for repairs, where the card gives costs.
    pub allowance: Option<Allowance<S>>,
    /// What the assessment takes for granted: assumed values, corrections not made.
    pub notes: Vec<S>,
    /// What the runs made cannot tell.
    pub cannot_tell: Vec<S>,
    /// What to do next, most telling first.
    pub next_steps: Vec<S>,
    /// Name of the rule set.
    pub rule_set: String,
}
