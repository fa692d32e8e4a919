//! What the readings mean: comparison of cylinders and conditions, causes with evidence, score.
//! Pure.

mod results;

pub use results::{
    Assessment, Cause, CauseKind, Comparison, CylinderAssessment, CylinderReading, Finding,
    Judgement,
};
