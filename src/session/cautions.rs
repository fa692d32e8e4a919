//! The cautions for whoever is about to crank an engine with its plugs out: the one place where
//! they are written, for the guided run, the terminal, the report and the README.
//!
//! Sources, where one is given: technical manuals TM 1-1500-204-23-1 (ignition off, fuel shut
//! off), TM 5-4210-230-14&P-1 and TM 10-3930-647-14&P (coil lead grounded, plug wells cleaned).
//! The others are common practice, no source.

/// A caution: what it is about, and what to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// A word or two.
    pub about: &'static str,
    /// One or two short sentences.
    pub text: &'static str,
}

/// What stands above all the others.
pub const FIRST: &str = "The engine's service manual, local rules and licensed practice come \
                         first. This list does not replace them.";

/// Every caution, in the order in which they matter at the engine.
pub const CAUTIONS: [Caution; 10] = [
    Caution {
        about: "Ignition off",
        text: "Disable the ignition and ground the coil lead: a loose lead can shock you and \
               light fuel vapour.",
    },
    Caution {
        about: "Fuel off",
        text: "Shut off fuel, disable injection. Wipe up spills, air the place.",
    },
    Caution {
        about: "No flame",
        text: "No smoking, no sparks: what comes out of a plug hole can burn.",
    },
    Caution {
        about: "Cannot drive off",
        text: "Neutral or park, brake on, wheels chocked; a machine on its stand, secured.",
    },
    Caution {
        about: "Moving parts",
        text: "Keep hands, hair, sleeves and the sensor's cable clear of fan, belts, flywheel and \
               crank.",
    },
    Caution {
        about: "Eyes",
        text: "Wear eye protection. Blow dirt out of the plug wells first; oil and grit leave an \
               open plug hole fast, so stand aside of it.",
    },
    Caution {
        about: "Hot engine",
        text: "A warm engine burns: gloves on. Take plugs out of a hot alloy head only as the \
               manual allows.",
    },
    Caution {
        about: "Kick-back",
        text: "A kick lever, cord or hand crank can hit back: thumb on the same side as the \
               fingers, a firm stand, no locked knee.",
    },
    Caution {
        about: "Oil and hydraulic lock",
        text: "For a wet run use no more oil than the manual allows, never near the volume of \
               the closed chamber, and turn the engine over by hand first. Never in a diesel.",
    },
    Caution {
        about: "Starter and sensor",
        text: "Crank about 15 s at most, then let the starter cool. Use a sensor rated well above \
               the highest pressure the engine can make, and bleed it before unscrewing.",
    },
];
