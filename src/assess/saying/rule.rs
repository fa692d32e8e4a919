//! What a rule has to say of the readings.

use crate::assess::rules::AltitudeRule;
use crate::engine::Condition;
use crate::units::Pressure;

/// A pressure and its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// The pressure.
    pub value: Pressure,
    /// Its standard uncertainty.
    pub standard: Pressure,
}

/// A share held against the least that is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The share (1 = all).
    pub share: f64,
    /// Its standard uncertainty.
    pub standard: f64,
    /// The least.
    pub limit: f64,
}

/// What a cylinder reads.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// The cylinder.
    pub cylinder: String,
    /// The condition.
    pub condition: Condition,
    /// The reading.
    pub reading: Measurement,
    /// The needle was still climbing.
    pub climbing: bool,
}

/// A limit written for sea level, as it stands here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitHere {
    /// At sea level.
    pub at_sea_level: Pressure,
    /// Here.
    pub here: Pressure,
    /// Here over sea level.
    pub factor: f64,
    /// How it moves with height.
    pub by: AltitudeRule,
}

/// A rule applied to readings. Shares are ratios of pressures.
#[derive(Clone, Debug, PartialEq)]
pub enum Applied {
    /// The lowest cylinder over the highest.
    ShareOfHighest {
        /// The lowest.
        cylinder: String,
        /// The highest.
        highest: String,
        /// Lowest over highest.
        share: Share,
        /// From corrected readings.
        corrected: bool,
    },
    /// The lowest cylinder over the mean of all.
    ShareOfMean {
        /// The lowest.
        cylinder: String,
        /// Lowest over mean.
        share: Share,
        /// From corrected readings.
        corrected: bool,
    },
    /// How far the highest and the lowest lie apart.
    Spread {
        /// The highest.
        highest: String,
        /// The lowest.
        lowest: String,
        /// Highest less lowest.
        apart: Measurement,
        /// The most that is allowed.
        limit: Pressure,
        /// From corrected readings.
        corrected: bool,
    },
    /// A reading beside the card's service limit.
    ServiceLimit {
        /// The reading.
        read: Read,
        /// The limit.
        limit: LimitHere,
    },
    /// A reading beside what an engine needs to run.
    ToRun {
        /// The reading.
        read: Read,
        /// The least.
        limit: LimitHere,
        /// The card's own figures apply instead.
        card_instead: bool,
    },
    /// A reading beside the lower end of the card's normal range.
    BelowNormal {
        /// The reading.
        read: Read,
        /// As far below the range points to a leak.
        margin: Pressure,
        /// The range's end less the margin.
        limit: LimitHere,
    },
    /// A reading beside the upper end of the card's normal range.
    AboveNormal {
        /// The reading.
        read: Read,
        /// As far above the range points to deposits.
        margin: Pressure,
        /// The range's end and the margin.
        limit: LimitHere,
    },
    /// A reading beside what the card predicts.
    ShareOfExpected {
        /// The reading.
        read: Read,
        /// Reading over prediction.
        share: Share,
        /// The prediction.
        likely: Pressure,
    },
    /// A reading that the card's compression ratio cannot give.
    MoreThanPossible {
        /// The reading.
        read: Read,
        /// The ratio.
        ratio: f64,
        /// The most that it gives.
        most: Pressure,
    },
    /// The best of all cylinders beside what a sound one should read.
    AllLow {
        /// How many were read.
        cylinders: usize,
        /// The best over what it should read.
        share: Share,
        /// What it should read.
        likely: Pressure,
    },
    /// Every cylinder reads more than the card predicts.
    CardDoubted {
        /// The only cylinder, where there is one.
        only: Option<String>,
        /// The lowest over what the card predicts.
        lowest: f64,
        /// The highest over it.
        highest: f64,
        /// Standard uncertainty of the highest.
        standard: f64,
    },
    /// The change with oil.
    Oil {
        /// The cylinder.
        cylinder: String,
        /// Wet less dry.
        rise: Measurement,
        /// The most that the oil's own volume explains of it, where the card lets it be computed.
        by_volume_most: Option<Pressure>,
        /// From here on it counts as a rise.
        limit: Pressure,
    },
    /// The change from cold to warm.
    Warmth {
        /// The cylinder.
        cylinder: String,
        /// Warm less cold.
        rise: Measurement,
        /// It falls, beyond doubt.
        falls: bool,
        /// It has valves whose clearance may be tight.
        valves: bool,
    },
    /// Runs of one cylinder in one condition do not agree.
    Repeat {
        /// The cylinder.
        cylinder: String,
        /// The condition.
        condition: Condition,
        /// What another run read.
        other: Measurement,
        /// What the run read that counts.
        counted: Measurement,
    },
    /// Two neighbours, both low.
    Neighbours {
        /// The two.
        pair: [String; 2],
        /// How far they lie apart, as a share of their mean.
        apart: f64,
        /// Its standard uncertainty.
        standard: f64,
    },
    /// Too few strokes while the needle climbed.
    TooFewStrokes {
        /// The cylinder.
        cylinder: String,
        /// The condition.
        condition: Condition,
        /// Strokes made.
        strokes: usize,
        /// Strokes asked for.
        least: f64,
    },
    /// It took many more strokes, or fewer, than the others.
    UnevenStrokes {
        /// The cylinder.
        cylinder: String,
        /// Strokes, or kicks and pulls, until it settled.
        count: u32,
        /// The others' median.
        median: u32,
        /// They are kicks or pulls.
        kicked: bool,
    },
}
