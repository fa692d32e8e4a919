//! Every number of the model of causes, in one place: how frequent causes are, and how far each
//! moves a reading.
//!
//! They are ours: nobody has published how often what is the matter with small engines. They were
//! set by hand from what the physics and the trade say, tried on visits of two worlds (our own
//! simulator, seed 31; another model, seed 301) and reported on others
//! (`tests/results/causes.md`). Losses and changes are natural logarithms of pressure ratios.

/// A loss drawn evenly from a range, and how often.
pub(super) type Range = (f64, f64, f64);

/// How often a cylinder has it: leaking rings, a leaking valve, deposits.
pub(super) const RINGS: f64 = 0.09;
pub(super) const VALVE: f64 = 0.07;
pub(super) const DEPOSITS: f64 = 0.03;
/// How often an engine with neighbours has a gasket that leaks between two of them.
pub(super) const GASKET: f64 = 0.06;
/// How often all that a visit reads is moved together: by a shut throttle, a tester that leaks,
/// wrong timing, slow cranking (where it was slow), worn rings in every cylinder; by nothing.
pub(super) const THROTTLE: f64 = 0.05;
pub(super) const TESTER: f64 = 0.04;
pub(super) const TIMING: f64 = 0.02;
pub(super) const SLOW: f64 = 0.15;
pub(super) const RINGS_IN_ALL: f64 = 0.03;
pub(super) const NOTHING_SHARED: f64 = 0.80;

/// What a leak takes: mostly less than half, sometimes nearly everything.
pub(super) const LEAK_TAKES: [Range; 3] = [(0.75, 0.05, 0.6), (0.20, 0.6, 1.6), (0.05, 1.6, 6.0)];
/// What deposits add.
pub(super) const DEPOSITS_ADD: [Range; 1] = [(1.0, 0.06, 0.35)];
/// What a shut throttle takes of steady cranking, and of kicks: those start with a full manifold.
pub(super) const THROTTLE_TAKES: [Range; 2] = [(0.95, 0.03, 0.40), (0.05, 0.40, 1.0)];
pub(super) const THROTTLE_TAKES_KICKED: [Range; 2] = [(0.6, 0.0, 0.12), (0.4, 0.0, 0.3)];
/// What a leaking tester, and what wrong timing takes.
pub(super) const TESTER_TAKES: [Range; 1] = [(1.0, 0.0, 0.5)];
pub(super) const TIMING_TAKES: [Range; 1] = [(1.0, 0.05, 0.3)];

/// By how much sound cylinders of one engine differ, standard.
pub(super) const SOUND_DIFFER: f64 = 0.03;
/// By how much two neighbours at one gasket differ, standard.
pub(super) const PAIR_DIFFERS: f64 = 0.04;
/// How well anything is known of all cylinders together where the card lets nothing be expected.
pub(super) const NOTHING_EXPECTED: f64 = 0.3;
/// Least doubt of what the card predicts.
pub(super) const LEAST_DOUBT: f64 = 0.03;

/// With oil: share of what sealing the rings would give that is seen, and its spread.
pub(super) const SEALED: f64 = 0.95;
pub(super) const SEALED_SPREAD: (f64, f64) = (0.3, 0.02);
/// Held against another cylinder that was oiled as well, a little of it is gone from both.
pub(super) const SEALED_BESIDE: f64 = 0.9;
/// With oil, not rings: what is left of the change once the oil's volume is taken off, and its
/// standard doubt alone and beside a cylinder that reads well.
pub(super) const OIL_REST: f64 = 0.03;
pub(super) const OIL_DOUBT: f64 = 0.035;
/// Share of the volume's own doubt that is left beside such a cylinder.
pub(super) const OIL_DOUBT_BESIDE: f64 = 0.6;
/// One change in so many is like nothing of the kind.
pub(super) const OIL_ODD: f64 = 0.03;
/// Without a card: share of a loss past the rings that oil gives back.
pub(super) const OIL_GIVES_BACK: f64 = 0.6;

/// Where air is heard loudest in a leak-down test: how often at the place that belongs to what leaks,
/// nowhere, and at each of the others. Own estimate: what is heard is plain, who stands there may mistake it.
pub(super) const HEARD_RIGHT: f64 = 0.87;
pub(super) const HEARD_NOWHERE: f64 = 0.05;
pub(super) const HEARD_ELSEWHERE: f64 = 0.02;
/// The same where nothing leaks but what every ring lets past: at the breather, nowhere, elsewhere.
pub(super) const HEARD_SOUND: (f64, f64, f64) = (0.50, 0.42, 0.02);
/// Of a gasket: at the next plug hole, in the coolant, at the breather or nowhere, elsewhere.
pub(super) const HEARD_GASKET: (f64, f64, f64, f64) = (0.75, 0.13, 0.04, 0.02);
/// A two-stroke's rings leak into the crankcase: at the carburettor, at the exhaust, nowhere, elsewhere.
pub(super) const HEARD_CRANKCASE: (f64, f64, f64, f64) = (0.5, 0.25, 0.15, 0.05);
/// The same where its rings let past what every ring does.
pub(super) const HEARD_SOUND_CRANKCASE: (f64, f64, f64, f64) = (0.34, 0.20, 0.42, 0.02);

/// A leak-down test that finds surely more than so many times what a healthy cylinder lets past: how
/// often the cylinder is sound yet. Own estimate: sound ones differ by a quarter, standard.
pub(super) const NO_SOUND_LEAK: f64 = 3.0;
pub(super) const SOUND_YET: f64 = 0.03;

/// A held reading that falls by itself: how often it does where the tester leaks, and else.
pub(super) const FALLS: (f64, f64) = (0.5, 0.03);

/// A cylinder serves as a control for the oil of others where it reads no less beside the best one,
/// and, where something is expected of it, no less than that.
pub(super) const CONTROL_FROM: f64 = -0.08;
pub(super) const CONTROL_OF_EXPECTED: f64 = -0.12;

/// What all cylinders have in common is looked for only where the best of them lies so many
/// standard doubts under what the card predicts (one in twenty sound engines would).
pub(super) const LOW_BY: f64 = 1.645;
