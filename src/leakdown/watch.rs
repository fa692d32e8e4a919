//! A test with air under way: what the user says and the samples between.

use super::decay::{Course, fell};
use super::plateau::{Bin, Binner, Finder};
use super::results::{AirFlag, AirTest, Held};
use super::{Filled, Leak, Place, Plateau, Restrictor, Sides, Stage};
use crate::engine::Condition;
use crate::signal::Sample;
use crate::units::{Pressure, Temperature};

/// After so long (s) without a plateau the pressure is said to wander.
const PATIENCE_S: f64 = 12.0;
/// A connected pressure fell away when it lost so much of what it had come to, within so long (s).
const FALLS_TO: f64 = 0.7;
const FALLS_WITHIN_S: f64 = 4.0;
/// A sensor that still reads this share of the supply is not connected yet: a cylinder that fills
/// takes more from it. Within a wait so long (s) it is, or filled too fast to be seen.
const NOT_YET: f64 = 0.93;
const WAIT_S: f64 = 4.0;
/// From this share of the supply on a pressure counts as come to something.
const SOMETHING: f64 = 0.04;
/// Less than this share of the supply is nothing held.
const NOTHING: f64 = 0.03;
/// How far a regulator is off its own mean (relative, standard), where it was not watched: it moves by
/// some 2 % to either side while its compressor comes and goes. Common practice, no source.
const UNSEEN: f64 = 0.0055;
/// So long (s) a look at it must be to be news of its own.
const LOOK_S: f64 = 10.0;
/// The supply moved by more than this share.
const MOVED: f64 = 0.04;
/// Share of a sensor's accuracy that is left between two of its readings on one day: zero and span
/// cancel. Own estimate.
const LEFT_OF_ACCURACY: f64 = 0.1;
/// The zero is read for so long (s) from when the test begins.
const ZERO_S: f64 = 2.0;
/// Most averages of a fall that are kept: nearly seven minutes.
const MOST_BINS: usize = 4000;
/// Most plateaus of each sort that are kept.
const MOST_KEPT: usize = 16;

/// What is known about sensor and surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// The sensor counts from vacuum.
    pub absolute: bool,
    /// Ambient pressure, absolute.
    pub ambient_absolute: Pressure,
    /// Air temperature.
    pub air: Temperature,
    /// Smallest step of the sensor.
    pub resolution: Pressure,
    /// Standard uncertainty of its accuracy.
    pub accuracy_standard: Pressure,
}

/// What a sample brought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Told {
    /// The stage's pressure has come to rest.
    Plateau(Stage, Plateau),
    /// A connected cylinder has come to rest at this.
    Held(Held),
    /// Something is the matter.
    Flag(AirFlag),
}

/// A test with air under way.
#[derive(Clone, Debug)]
pub struct Watch {
    settings: Settings,
    test: AirTest,
    /// Sum and number of the samples before the air came.
    zero: (f64, f64),
    /// Time of the first sample (s).
    began: Option<f64>,
    binner: Binner,
    stage: Option<Running>,
    /// Time of the last sample (s).
    last: f64,
    gauge: Pressure,
}

/// The stage under way.
#[derive(Clone, Debug)]
struct Running {
    stage: Stage,
    began: f64,
    finder: Finder,
    /// The cylinder was seen to fill.
    filled: bool,
    /// The lowest since it was connected, what it has come to since, and when it was last there.
    lowest: f64,
    top: f64,
    top_at: f64,
    fall: Vec<Bin>,
}

impl Watch {
    /// A leak-down test of a cylinder begins.
    pub fn leak_down(
        settings: Settings,
        cylinder: String,
        condition: Condition,
        restrictor: Restrictor,
    ) -> Self {
        Self::new(
            settings,
            AirTest::LeakDown {
                cylinder,
                condition,
                restrictor,
                supply: Vec::new(),
                held: Vec::new(),
                heard: Vec::new(),
                flags: Vec::new(),
            },
        )
    }

    /// A decay test begins; the volume in cm³, where it is known.
    pub fn decay(
        settings: Settings,
        filled: Filled,
        cylinder: Option<String>,
        volume_cm3: Option<f64>,
    ) -> Self {
        Self::new(
            settings,
            AirTest::Decay {
                filled,
                cylinder,
                volume_cm3,
                result: None,
                flags: Vec::new(),
            },
        )
    }

    fn new(settings: Settings, test: AirTest) -> Self {
        Self {
            settings,
            test,
            zero: (0.0, 0.0),
            began: None,
            binner: Binner::default(),
            stage: None,
            last: 0.0,
            gauge: Pressure::ZERO,
        }
    }

    /// The last reading, gauge.
    pub const fn gauge(&self) -> Pressure {
        self.gauge
    }

    /// The stage under way.
    pub fn stage(&self) -> Option<Stage> {
        self.stage.as_ref().map(|running| running.stage)
    }

    /// The user does this with the air now.
    pub fn set_stage(&mut self, stage: Stage) {
        self.end_stage();
        let (resolution, own) = self.doubts();
        self.stage = Some(Running {
            stage,
            began: self.last,
            finder: Finder::new(self.last, resolution, own),
            filled: false,
            lowest: f64::MAX,
            top: 0.0,
            top_at: 0.0,
            fall: Vec::new(),
        });
        self.binner = Binner::default();
    }

    /// Where the user hears air leave, the loudest first.
    pub fn hear(&mut self, places: &[Place]) {
        if let AirTest::LeakDown { heard, .. } = &mut self.test {
            *heard = places.to_vec();
        }
    }

    /// Takes a sample.
    pub fn push(&mut self, sample: Sample, told: &mut Vec<Told>) {
        let time = sample.time.s();
        let raw = sample.pressure.pa();
        self.last = time;
        if !raw.is_finite() {
            return;
        }
        // Whoever says that the supply is on has turned it up before: only the beginning is zero.
        let began = *self.began.get_or_insert(time);
        if self.stage.is_none() && time - began < ZERO_S {
            self.zero.0 += raw;
            self.zero.1 += 1.0;
        }
        let gauge = raw - self.zero();
        self.gauge = Pressure::from_pa(gauge);
        if self.stage.is_some() && sample.clipped {
            self.flag(AirFlag::BeyondRange {}, told);
            return;
        }
        if let Some(bin) = self.binner.push(time, gauge) {
            self.bin(bin, told);
        }
    }

    /// The test is over.
    pub fn finish(mut self) -> AirTest {
        self.end_stage();
        if let AirTest::LeakDown {
            supply,
            held,
            flags,
            ..
        } = &mut self.test
            && supply.is_empty()
            && !held.is_empty()
        {
            flags.push(AirFlag::NoSupply {});
        }
        self.held_anew();
        self.mind_the_restrictor();
        self.test
    }

    /// A restrictor much larger than the leak hides it, a much smaller one holds nothing back.
    fn mind_the_restrictor(&mut self) {
        let AirTest::LeakDown { restrictor, .. } = &self.test else {
            return;
        };
        let leak = self.test.at_top().and_then(|held| held.leak);
        let better = leak.and_then(|leak| restrictor.better_mm(leak.mm2));
        if let (AirTest::LeakDown { flags, .. }, Some(take_mm)) = (&mut self.test, better) {
            flags.push(AirFlag::RestrictorDoesNotSuit { take_mm });
        }
    }

    /// What the sensor told before the air came, or what it should: its zero, Pa.
    fn zero(&self) -> f64 {
        let rest = if self.settings.absolute {
            self.settings.ambient_absolute.pa()
        } else {
            0.0
        };
        let (sum, n) = self.zero;
        // A pressure that was let in already is no zero.
        let near = (20.0 * self.settings.resolution.pa())
            .max(4.0 * self.settings.accuracy_standard.pa())
            .max(3e3);
        let mean = sum / n;
        if n >= 3.0 && (mean - rest).abs() < near {
            mean
        } else {
            rest
        }
    }

    /// Step of the sensor, and what is left of its accuracy, Pa.
    fn doubts(&self) -> (f64, f64) {
        let settings = &self.settings;
        let own = LEFT_OF_ACCURACY * settings.accuracy_standard.pa();
        (settings.resolution.pa(), own)
    }

    fn flag(&mut self, flag: AirFlag, told: &mut Vec<Told>) {
        let (AirTest::LeakDown { flags, .. } | AirTest::Decay { flags, .. }) = &mut self.test;
        if !flags.contains(&flag) {
            flags.push(flag);
            told.push(Told::Flag(flag));
        }
    }

    fn bin(&mut self, bin: Bin, told: &mut Vec<Told>) {
        let supply = self.supply().map_or(0.0, Pressure::pa);
        let Some(running) = &mut self.stage else {
            return;
        };
        let stage = running.stage;
        if stage == Stage::Shut {
            if running.fall.len() < MOST_BINS {
                running.fall.push(bin);
            }
            return;
        }
        if stage.is_connected() && !running.is_connected(bin, supply) {
            return;
        }
        let wandered = running.finder.wandered;
        let called = running.finder.push(bin);
        let late = bin.at - running.began > PATIENCE_S && running.finder.still_looks();
        let wanders = late || running.finder.wandered && !wandered;
        let plateau = running.finder.plateau();
        let fell = stage.is_connected() && running.fell_away(bin, supply);
        if fell {
            running.finder.freeze();
            self.flag(AirFlag::FellAway { stage }, told);
        } else if wanders {
            self.flag(AirFlag::Wanders { stage }, told);
        }
        let Some(plateau) = plateau.filter(|_| called) else {
            return;
        };
        told.push(Told::Plateau(stage, plateau));
        if let Some(held) = self.held(stage, plateau) {
            told.push(Told::Held(held));
            if held.plateau.level.pa() < NOTHING * supply {
                self.flag(AirFlag::HoldsNothing { stage }, told);
            }
        }
    }

    /// The stage is over: what it came to is kept.
    fn end_stage(&mut self) {
        let Some(running) = self.stage.take() else {
            return;
        };
        let plateau = running.finder.plateau();
        let held = plateau.and_then(|plateau| self.held(running.stage, plateau));
        let course = self.course();
        match &mut self.test {
            AirTest::LeakDown {
                supply, held: all, ..
            } => match running.stage {
                Stage::Supply if supply.len() < MOST_KEPT => supply.extend(plateau),
                Stage::Shut | Stage::Supply => {}
                _ if all.len() < MOST_KEPT => all.extend(held),
                _ => {}
            },
            // The first fall counts: what comes after it is let out.
            AirTest::Decay { result, .. } if running.stage == Stage::Shut && result.is_none() => {
                *result = fell(&running.fall, &course);
            }
            AirTest::Decay { .. } => {}
        }
    }

    fn course(&self) -> Course {
        let (resolution, own) = self.doubts();
        let volume = match &self.test {
            AirTest::Decay { volume_cm3, .. } => *volume_cm3,
            AirTest::LeakDown { .. } => None,
        };
        Course {
            volume_m3: volume.map(|cm3| cm3 * 1e-6),
            ambient_absolute: self.settings.ambient_absolute,
            gas: self.settings.air,
            zero_standard: Pressure::from_pa(libm::hypot(own, 0.5 * resolution)),
        }
    }

    /// The supply: the mean of its plateaus.
    fn supply(&self) -> Option<Pressure> {
        let AirTest::LeakDown { supply, .. } = &self.test else {
            return None;
        };
        let sum: Pressure = supply
            .iter()
            .fold(Pressure::ZERO, |sum, plateau| sum + plateau.level);
        (!supply.is_empty()).then(|| sum * (1.0 / supply.len() as f64))
    }

    /// Standard uncertainty of the supply while this plateau stood: nobody sees it then. How much it
    /// moves is what was seen of it, the more the longer it was, and else what regulators do; long
    /// looks at supply and cylinder average over it.
    fn supply_standard(&self, level: Pressure, beside: Plateau) -> Pressure {
        let AirTest::LeakDown { supply, .. } = &self.test else {
            return Pressure::ZERO;
        };
        let moves = UNSEEN * level.pa();
        let (mut weight, mut squares, mut looks) = (1.0, moves * moves, 0.0);
        for plateau in supply {
            let news = plateau.stood.s() / LOOK_S;
            let spread = plateau.standard.pa() * libm::sqrt(plateau.news());
            weight += news;
            squares += news * spread * spread;
            looks += news.max(1.0);
        }
        let here = (beside.stood.s() / LOOK_S).max(1.0);
        let standard = libm::sqrt(squares / weight * (1.0 / here + 1.0 / looks.max(1.0)));
        let ends = supply.first().zip(supply.last());
        let ends = ends.map_or(0.0, |(first, last)| (last.level - first.level).pa());
        Pressure::from_pa(standard.max(0.5 * ends.abs()))
    }

    /// What a plateau of the connected cylinder comes to beside the supply as known so far.
    fn held(&self, stage: Stage, plateau: Plateau) -> Option<Held> {
        let AirTest::LeakDown {
            condition,
            restrictor,
            ..
        } = &self.test
        else {
            return None;
        };
        let supply = self.supply()?;
        let supply_standard = self.supply_standard(supply, plateau);
        if !stage.is_connected() || supply <= Pressure::ZERO {
            return None;
        }
        let sides = Sides {
            supply,
            supply_standard,
            cylinder: plateau.level,
            cylinder_standard: plateau.standard,
            ambient_absolute: self.settings.ambient_absolute,
        };
        Some(Held {
            stage,
            supply,
            plateau,
            loss: sides.loss(),
            loss_expanded: 2.0 * sides.loss_standard(),
            leak: Leak::between(&sides, restrictor, *condition),
        })
    }

    /// What was held, beside all that is known of the supply at the end.
    fn held_anew(&mut self) {
        let AirTest::LeakDown { held, supply, .. } = &self.test else {
            return;
        };
        let ends = supply.first().zip(supply.last());
        let moved = ends.is_some_and(|(first, last)| {
            (last.level - first.level).abs() > first.level.abs() * MOVED
        });
        let again: Vec<Held> = held
            .iter()
            .filter_map(|one| self.held(one.stage, one.plateau))
            .collect();
        if let AirTest::LeakDown { held, flags, .. } = &mut self.test {
            *held = again;
            if moved {
                flags.push(AirFlag::SupplyMoved {});
            }
        }
    }
}

impl Running {
    /// Whether the air goes into the cylinder: whoever says so may still have to open it.
    fn is_connected(&mut self, bin: Bin, supply: f64) -> bool {
        if !self.filled && bin.mean < NOT_YET * supply {
            self.filled = true;
            self.finder.begin_anew();
        }
        self.filled || bin.at - self.began > WAIT_S
    }

    /// Whether a connected pressure has just lost what it had come to. When the cylinder is opened
    /// the sensor falls from the supply first, as the cylinder fills: only what comes after counts.
    fn fell_away(&mut self, bin: Bin, supply: f64) -> bool {
        self.lowest = self.lowest.min(bin.mean);
        let something = SOMETHING * supply;
        let risen = bin.mean > self.lowest + something;
        let stands = self.filled && self.finder.plateau().is_some() && bin.mean > something;
        if (risen || stands) && bin.mean >= 0.9 * self.top {
            self.top_at = bin.at;
            self.top = self.top.max(bin.mean);
        }
        let fell = self.top > 0.0
            && bin.mean < FALLS_TO * self.top
            && bin.at - self.top_at < FALLS_WITHIN_S;
        if fell {
            // What it comes to now is another matter.
            (self.top, self.lowest) = (0.0, bin.mean);
        }
        fell
    }
}
