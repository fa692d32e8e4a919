//! The cautions for whoever is about to crank an engine with its plugs out: the one place where
//! they are written, for the guided run, the terminal, the guide, the report and the README.
//!
//! Each says for which engines it is. What is not known of an engine counts as so: a caution is
//! left out only where it is known not to apply.

use super::{Cycle, Decompressor, EngineKind, Fuel, Ignition, Start};

/// A caution: what it is about, for which engines, what to do, and who says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// Its name, for tests and programs.
    pub id: &'static str,
    /// A few words.
    pub about: &'static str,
    /// The engines that it is for.
    pub when: When,
    /// A few short sentences.
    pub text: &'static str,
    /// Where it comes from.
    pub source: &'static str,
}

impl Caution {
    /// In a few words with its source.
    pub fn said(&self) -> String {
        let text = self.text.trim_end_matches('.');
        format!("{}. {text} ({}).", self.about, self.source)
    }
}

/// The engines, or the occasion, that a caution is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// Every engine.
    Always,
    /// Spark ignition.
    Spark,
    /// Spark ignition and a carburettor.
    Carburettor,
    /// Spark ignition and fuel injection.
    Injection,
    /// Compression ignition.
    Diesel,
    /// An electric starter.
    Starter,
    /// A kick lever, a cord or a crank handle.
    ByHand,
    /// A decompressor that is worked by hand.
    ManualDecompressor,
    /// A decompressor that opens by itself.
    AutomaticDecompressor,
    /// A four-stroke with spark ignition: it may be given oil.
    Oil,
    /// A two-stroke with spark ignition.
    TwoStroke,
    /// A leak-down test is made, or advised.
    LeakDown,
}

impl When {
    /// Whether an engine is of this sort, as far as is known. A leak-down test is no part of
    /// cranking.
    pub fn may_hold(self, kind: &EngineKind) -> bool {
        let spark = may_be(kind.ignition, |ignition| ignition == Ignition::Spark);
        let decompressor = |wanted| may_be(kind.decompressor, |fitted| fitted == wanted);
        match self {
            Self::Always => true,
            Self::Spark => spark,
            Self::Carburettor => spark && may_be(kind.fuel, |fuel| fuel == Fuel::Carburettor),
            Self::Injection => spark && may_be(kind.fuel, |fuel| fuel == Fuel::Injection),
            Self::Diesel => may_be(kind.ignition, |ignition| ignition == Ignition::Compression),
            Self::Starter => may_be(kind.start, |start| start == Start::Electric),
            Self::ByHand => may_be(kind.start, |start| start != Start::Electric),
            Self::ManualDecompressor => decompressor(Decompressor::Manual),
            Self::AutomaticDecompressor => decompressor(Decompressor::Automatic),
            Self::Oil => spark && may_be(kind.cycle, |cycle| cycle == Cycle::FourStroke),
            Self::TwoStroke => spark && may_be(kind.cycle, |cycle| cycle == Cycle::TwoStroke),
            Self::LeakDown => false,
        }
    }

    /// The engines in words; none where it is for every one.
    pub const fn words(self) -> Option<&'static str> {
        Some(match self {
            Self::Always => return None,
            Self::Spark => "spark ignition",
            Self::Carburettor => "carburettor",
            Self::Injection => "petrol injection",
            Self::Diesel => "diesel",
            Self::Starter => "electric starter",
            Self::ByHand => "kick, cord or crank handle",
            Self::ManualDecompressor => "decompressor worked by hand",
            Self::AutomaticDecompressor => "automatic decompressor",
            Self::Oil => "four-stroke petrol engine",
            Self::TwoStroke => "two-stroke petrol engine",
            Self::LeakDown => "leak-down test",
        })
    }
}

/// Whether something is so, or not known.
fn may_be<T>(known: Option<T>, wanted: impl Fn(T) -> bool) -> bool {
    known.is_none_or(wanted)
}

/// What stands above all the others.
pub const FIRST: &str = "The engine's service manual, local rules and licensed practice come \
                         first. This list does not replace them.";

/// Air that is blown into a cylinder turns the crank.
pub const LEAK_DOWN: Caution = Caution {
    id: "leak-down",
    about: "Leak-down air turns the crank",
    when: When::LeakDown,
    text: "Lock the crank or stand clear of all that it turns, and open the air slowly.",
    source: "AC 43.13-1B, paragraph 8-14",
};

/// What else to mind before air is put into a cylinder.
pub const AIR: [Caution; 3] = [
    Caution {
        id: "air-bolt",
        about: "Nothing on the crank bolt",
        when: When::LeakDown,
        text: "Take wrench and bar off before any air comes: they turn with the crank, with force \
               enough to break a hand. Out of gear; nobody in reach of blade, propeller, fan or belts.",
        source: COMMON,
    },
    Caution {
        id: "air-zero",
        about: "Regulator at zero first",
        when: When::LeakDown,
        text: "Connect and part the tester only with the regulator at zero and the hose empty.",
        source: COMMON,
    },
    Caution {
        id: "air-limit",
        about: "No more air than the test asks for",
        when: When::LeakDown,
        text: "80 psi (552 kPa) at the regulator, 120 psi (830 kPa) at most before it; hose and adapter \
               rated for it. Eyes protected: air blows oil and grit out of every open hole.",
        source: "AC 43.13-1B, paragraph 8-14 (pressures); the rest: common practice, no source",
    },
];

const COMMON: &str = "common practice, no source";

/// Every caution, in the order in which they matter at the engine.
pub const CAUTIONS: [Caution; 25] = [
    Caution {
        id: "ignition",
        about: "Ignition off, leads grounded",
        when: When::Spark,
        text: "Switch it off and leave it off. Ground every high-tension lead, or pull the \
               ignition's primary feed: an open lead can shock you, light vapour, and destroy coil \
               or ignition box.",
        source: "TM 10-3930-618-20; TM 5-4210-230-14&P-1; that it destroys the coil: common \
                 practice, no source",
    },
    Caution {
        id: "fires-by-itself",
        about: "May fire with the ignition off",
        when: When::Spark,
        text: "Fuel that meets a glowing deposit fires without a spark: only taking the fuel away \
               stops it.",
        source: COMMON,
    },
    Caution {
        id: "diesel-fires",
        about: "Fires without any spark",
        when: When::Diesel,
        text: "Only cutting the fuel stops a diesel: disable injection as its manual says, and the \
               glow plugs' feed. Nobody in front of an injector or open line: the jet goes through \
               skin.",
        source: COMMON,
    },
    Caution {
        id: "fuel",
        about: "Fuel off",
        when: When::Always,
        text: "Shut the fuel off. Wipe up spills, ventilate the area.",
        source: "TM 1-1500-204-23-1 (fuel shut off); the rest: common practice, no source",
    },
    Caution {
        id: "float-bowl",
        about: "Float bowl empty",
        when: When::Carburettor,
        text: "Drain it: what is left in it sprays from the plug hole even with the tap shut.",
        source: COMMON,
    },
    Caution {
        id: "injection",
        about: "Injection dead",
        when: When::Injection,
        text: "Pull the fuel pump's fuse or relay: cranking injects fuel.",
        source: COMMON,
    },
    Caution {
        id: "flame",
        about: "No flame",
        when: When::Always,
        text: "No smoking, no sparks: what comes out of the hole can burn.",
        source: COMMON,
    },
    Caution {
        id: "hydrogen",
        about: "A charging battery gives off hydrogen",
        when: When::Starter,
        text: "Charge before or after, not while you crank with plugs out. No sparks at its posts: \
               connect or part a charger or a second battery only while it is switched off, the \
               last clamp away from the battery.",
        source: COMMON,
    },
    Caution {
        id: "driven-off",
        about: "Out of gear, chocked",
        when: When::Always,
        text: "In neutral or park, brake on, wheels chocked; a machine on its stand, secured.",
        source: COMMON,
    },
    Caution {
        id: "turns",
        about: "Clear of all that the crank turns",
        when: When::Always,
        text: "Blade, propeller, fan, pulley, belts, flywheel: take off what comes off; keep hands, \
               hair, sleeves and the sensor's cable clear of the rest. An engine with a propeller is never turned by \
               hand here.",
        source: COMMON,
    },
    Caution {
        id: "eyes",
        about: "Eyes protected, to one side of the hole",
        when: When::Always,
        text: "Oil and grit leave an open hole fast. Blow dirt out of the wells before anything is \
               unscrewed.",
        source: "TM 10-3930-647-14&P (dirt); the rest: common practice, no source",
    },
    Caution {
        id: "hot",
        about: "Hot engine: gloves on",
        when: When::Always,
        text: "Take plugs out of a hot alloy head only as the manual allows.",
        source: COMMON,
    },
    Caution {
        id: "kick-back",
        about: "Kick-back",
        when: When::ByHand,
        text: "Lever, cord or handle can hit back: thumb on the same side as the fingers, a firm \
               stand, no locked knee.",
        source: COMMON,
    },
    Caution {
        id: "starter",
        about: "Starter: 15 s at most",
        when: When::Starter,
        text: "Then let it cool.",
        source: COMMON,
    },
    Caution {
        id: "diesel-hole",
        about: "Through the glow-plug or injector hole",
        when: When::Diesel,
        text: "Use an adapter made for that hole, fixed as the part that it replaces. There is no \
               throttle to open. The pressures are a diesel's own, two to three times a petrol \
               engine's.",
        source: "TM 5-2420-230-24-2 prints 350 psi, TM 10-3930-618-20 125 psi for petrol; the \
                 rest: common practice, no source",
    },
    Caution {
        id: "sensor",
        about: "Sensor strong enough",
        when: When::Always,
        text: "Rated well above the highest pressure that the engine can make: beyond its range it \
               can burst in your face. Bleed it before you unscrew it.",
        source: COMMON,
    },
    Caution {
        id: "manual-decompressor",
        about: "Decompressor shut",
        when: When::ManualDecompressor,
        text: "Hold it shut during a run, or every reading is low.",
        source: COMMON,
    },
    Caution {
        id: "automatic-decompressor",
        about: "A sound engine reads low",
        when: When::AutomaticDecompressor,
        text: "A decompressor that opens by itself lets part of each stroke out. Say so on the card \
               (decompressor = \"automatic\"), or a valve is blamed for it.",
        source: COMMON,
    },
    Caution {
        id: "oil",
        about: "Oil can lock the engine",
        when: When::Oil,
        text: "For a wet run no more than the screen says: a tenth of the chamber and 5 ml (a \
               teaspoon) at most for a cylinder and visit. Turn the engine over by hand first; with \
               a propeller on it, make no wet run.",
        source: "the amounts: own rule; hydraulic lock: common practice, no source",
    },
    Caution {
        id: "two-stroke-oil",
        about: "Oil tells little in a two-stroke",
        when: When::TwoStroke,
        text: "It runs out through the ports and gathers in the crankcase. A wet run is not \
               proposed.",
        source: COMMON,
    },
    Caution {
        id: "diesel-oil",
        about: "No oil into a diesel, ever",
        when: When::Diesel,
        text: "Its chamber is small: oil locks the piston, or fires.",
        source: COMMON,
    },
    LEAK_DOWN,
    AIR[0],
    AIR[1],
    AIR[2],
];

/// What to mind before an engine of this kind is cranked.
pub fn before_cranking(kind: &EngineKind) -> Vec<&'static Caution> {
    let cautions = CAUTIONS.iter();
    cautions.filter(|c| c.when.may_hold(kind)).collect()
}

/// What to mind before air is put into a cylinder of an engine of this kind.
pub fn before_air(kind: &EngineKind) -> Vec<&'static Caution> {
    let others = ["ignition", "fuel", "driven-off", "turns", "eyes", "hot"];
    let concerned =
        |c: &&Caution| c.when == When::LeakDown || others.contains(&c.id) && c.when.may_hold(kind);
    let (air, rest): (Vec<_>, Vec<_>) = CAUTIONS
        .iter()
        .filter(concerned)
        .partition(|c| c.when == When::LeakDown);
    air.into_iter().chain(rest).collect()
}

/// What to mind before cranking, and what a leak-down test asks for: for a report that advises one.
pub fn in_a_report(kind: &EngineKind) -> Vec<&'static Caution> {
    let mut cautions = before_cranking(kind);
    cautions.push(&LEAK_DOWN);
    cautions
}
