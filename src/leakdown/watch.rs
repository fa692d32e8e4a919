//! A test with air under way: what the user says and the samples between.

use super::beside::Beside;
use super::decay::{Course, fell};
use super::plateau::{Bin, Binner, Finder};
use super::results::{AirFlag, AirTest, Held};
use super::rounds::{Look, Series};
use super::running::{FALLS_TO, Running};
use super::settings::{Settings, Zero};
use super::{Filled, Place, Plateau, Restrictor, Stage};
use crate::engine::Condition;
use crate::signal::Sample;
use crate::units::Pressure;

/// Less than this share of the supply is nothing held.
const NOTHING: f64 = 0.03;
/// Share of a sensor's accuracy that is left between two of its readings on one day: zero and span
/// cancel. Own estimate.
const LEFT_OF_ACCURACY: f64 = 0.1;
/// Most averages of a fall that are kept: nearly seven minutes.
const MOST_BINS: usize = 4000;
/// Most plateaus of each sort that are kept.
const MOST_KEPT: usize = 16;
/// In a round the supply is read for so long (s) after it came to rest.
const READ_S: f64 = 2.5;

/// What a sample brought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Told {
    /// The stage's pressure has come to rest.
    Plateau(Stage, Plateau),
    /// A connected cylinder has come to rest at this.
    Held(Held),
    /// What a connected cylinder leaks is known to this share of itself only, to either side, because
    /// the supply moves: reading both sides in turn tells it better. Comes right after what is held.
    Blurred(f64),
    /// Something is the matter.
    Flag(AirFlag),
}

/// A test with air under way.
#[derive(Clone, Debug)]
pub struct Watch {
    settings: Settings,
    test: AirTest,
    zero: Zero,
    binner: Binner,
    stage: Option<Running>,
    series: Series,
    /// Time of the last sample (s).
    last: f64,
    gauge: Pressure,
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
            zero: Zero::default(),
            binner: Binner::default(),
            stage: None,
            series: Series::default(),
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

    /// The user does this with the air now. Said once more of the stage under way in a leak-down
    /// test: what was asked for is done only now, and what was read so far does not count.
    pub fn set_stage(&mut self, stage: Stage) {
        let again = self.is_leak_down() && self.stage() == Some(stage) && stage != Stage::Shut;
        if again {
            self.stage = None;
        } else {
            self.end_stage();
        }
        let (resolution, own) = self.doubts();
        let supply = self.supply().map_or(0.0, Pressure::pa);
        let finder = Finder::new(self.last, resolution, own, supply);
        let mut running = Running::new(stage, self.last, finder, again);
        running.turning = !again && self.series.turns_to(stage);
        self.stage = Some(running);
        self.binner = Binner::default();
    }

    const fn is_leak_down(&self) -> bool {
        matches!(self.test, AirTest::LeakDown { .. })
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
        self.zero.push(time, raw, self.stage.is_none());
        let gauge = raw - self.zero.level(&self.settings);
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
        let better = self.test.at_top().and_then(|held| match held.leak {
            Some(leak) => leak.better_mm(restrictor),
            // Nothing at all is held.
            None => restrictor.better_mm(f64::MAX),
        });
        if let (AirTest::LeakDown { flags, .. }, Some(take_mm)) = (&mut self.test, better) {
            flags.push(AirFlag::RestrictorDoesNotSuit { take_mm });
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
        let wanders = running.is_late(bin) || running.finder.wandered && !wandered;
        let plateau = running.finder.plateau();
        let fell = stage.is_connected() && running.fell_away(bin, supply);
        let turning = running.turning;
        if fell {
            running.finder.freeze();
            self.flag(AirFlag::FellAway { stage }, told);
        } else if wanders && !turning {
            self.flag(AirFlag::Wanders { stage }, told);
        }
        if turning {
            return;
        }
        if let Some(plateau) = plateau.filter(|_| called) {
            self.called(stage, plateau, told);
        }
        self.round_is_over(told);
    }

    /// A stage's pressure has come to rest.
    fn called(&mut self, stage: Stage, plateau: Plateau, told: &mut Vec<Told>) {
        told.push(Told::Plateau(stage, plateau));
        if let Some(before) = self.series.at_top().filter(|_| stage == Stage::Top) {
            // Pushed off as the cylinder was opened again.
            if plateau.level < before.level * FALLS_TO {
                self.flag(AirFlag::FellAway { stage }, told);
            }
            return;
        }
        let Some(held) = self.beside().and_then(|beside| beside.held(stage, plateau)) else {
            return;
        };
        self.tell_held(held, told);
        let supply = held.supply.pa();
        if held.plateau.level.pa() < NOTHING * supply {
            self.flag(AirFlag::HoldsNothing { stage }, told);
        }
    }

    /// The supply was read long enough after the cylinder: what all rounds come to is told.
    fn round_is_over(&mut self, told: &mut Vec<Told>) {
        let in_rounds = self.series.at_top().is_some();
        let Some(running) = &mut self.stage else {
            return;
        };
        let read = running.stage == Stage::Supply && running.finder.read() >= READ_S;
        if !in_rounds || running.told || !read {
            return;
        }
        running.told = true;
        let compared = self.series.compared(self.look(), self.own());
        let once = self.series.at_top();
        let held = self.beside().and_then(|beside| match compared {
            Some(compared) => Some(beside.compared(&compared)),
            // The supply was not read before: there is nothing to compare with yet.
            None => beside.held(Stage::Top, once?),
        });
        if let Some(held) = held {
            self.tell_held(held, told);
        }
    }

    fn tell_held(&self, held: Held, told: &mut Vec<Told>) {
        told.push(Told::Held(held));
        let blurred = self.beside().and_then(|beside| beside.blurred(&held));
        told.extend(
            blurred
                .filter(|_| held.stage == Stage::Top)
                .map(Told::Blurred),
        );
    }

    /// The reading under way.
    fn look(&self) -> Option<Look> {
        let running = self.stage.as_ref()?;
        Some(Look {
            stage: running.stage,
            plateau: running.finder.plateau()?,
            ends: running.finder.ends()?,
        })
    }

    /// The stage is over: what it came to is kept.
    fn end_stage(&mut self) {
        let look = self.look();
        let Some(running) = self.stage.take() else {
            return;
        };
        let plateau = running.finder.plateau();
        let stage = running.stage;
        let held = plateau.and_then(|plateau| self.beside()?.held(stage, plateau));
        let in_rounds = self.series.at_top().is_some();
        let course = self.course();
        match &mut self.test {
            AirTest::LeakDown {
                supply, held: all, ..
            } => match stage {
                Stage::Supply if supply.len() < MOST_KEPT => supply.extend(plateau),
                Stage::Shut | Stage::Supply => {}
                // Rounds come to one result.
                Stage::Top if in_rounds => {}
                _ if all.len() < MOST_KEPT => all.extend(held),
                _ => {}
            },
            // The first fall counts: what comes after it is let out.
            AirTest::Decay { result, .. } if stage == Stage::Shut && result.is_none() => {
                *result = fell(&running.fall, &course);
            }
            AirTest::Decay { .. } => {}
        }
        self.series.keep(stage, look.filter(|_| !running.turning));
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

    /// Standard uncertainty (Pa) of one side beside the other, of the sensor alone.
    fn own(&self) -> f64 {
        let (resolution, own) = self.doubts();
        libm::hypot(own, resolution / libm::sqrt(12.0))
    }

    fn beside(&self) -> Option<Beside<'_>> {
        let AirTest::LeakDown {
            condition,
            restrictor,
            supply,
            ..
        } = &self.test
        else {
            return None;
        };
        Some(Beside {
            supply,
            restrictor,
            condition: *condition,
            ambient_absolute: self.settings.ambient_absolute,
        })
    }

    fn supply(&self) -> Option<Pressure> {
        self.beside()?.level()
    }

    /// What was held, beside all that is known of the supply at the end.
    fn held_anew(&mut self) {
        let AirTest::LeakDown { held, .. } = &self.test else {
            return;
        };
        let Some(beside) = self.beside() else { return };
        let compared = self.series.compared(None, self.own());
        let moved = beside.moved() && compared.is_none();
        let mut at_top = compared.as_ref();
        let again: Vec<Held> = held
            .iter()
            .filter_map(|one| match at_top.take_if(|_| one.stage == Stage::Top) {
                Some(compared) => Some(beside.compared(compared)),
                None => beside.held(one.stage, one.plateau),
            })
            .collect();
        if let AirTest::LeakDown { held, flags, .. } = &mut self.test {
            *held = again;
            if moved {
                flags.push(AirFlag::SupplyMoved {});
            }
        }
    }
}
