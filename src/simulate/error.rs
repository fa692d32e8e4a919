//! What can go wrong when simulating.

/// Why a simulation cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SimulateError {
    /// A field of the description is impossible.
    #[error("{field}: {why}")]
    Impossible {
        /// Name of the field, as it is written in a recipe.
        field: String,
        /// What is wrong with it and what to do.
        why: String,
    },
    /// The recipe is not TOML, lacks a field or has one that is not known.
    #[error("the recipe cannot be read: {0}")]
    Recipe(String),
    /// The integration went astray.
    #[error(
        "the gas model does not converge at {at_s:.3} s with a step of {step_ms} ms: make step_ms smaller, or look for a volume that is tiny beside its openings"
    )]
    Diverged {
        /// Simulated time.
        at_s: f64,
        /// Time step.
        step_ms: f64,
    },
    /// The engine does not turn over.
    #[error(
        "cylinder {cylinder}: the engine does not get over compression in {seconds:.0} s: turning is too weak for it"
    )]
    Stalls {
        /// The cylinder under test.
        cylinder: String,
        /// How long it was tried.
        seconds: f64,
    },
    /// A packet cannot be made from the samples.
    #[error("the packet cannot be made: {0}")]
    Packet(String),
}

impl SimulateError {
    pub(super) fn impossible(field: &str, why: impl Into<String>) -> Self {
        Self::Impossible {
            field: field.to_owned(),
            why: why.into(),
        }
    }
}
