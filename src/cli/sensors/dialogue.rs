//! The course of a check, without terminal, sensor or clock: samples and answers come in, lines to
//! read go out.

use super::said;
use crate::correction::{Check, MOST_POINTS, Plateau, Plateaus, Point};
use crate::units::{Pressure, PressureUnit, Time};

/// A pressure that differs by less than this from the last one that was asked about is the same.
const ANOTHER: Pressure = Pressure::from_pa(10e3);
/// From this share of the sensor's range on the user is told to stop pumping. Our choice.
const NEAR_THE_TOP: f64 = 0.95;

/// What is to be done.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    /// The check without its points.
    pub(super) check: Check,
    /// Pressures wanted besides zero: 1 to 5.
    pub(super) loaded: usize,
    /// The highest of them.
    pub(super) highest: Pressure,
    /// Upper end of the sensor's range above zero.
    pub(super) range: Option<Pressure>,
    /// The smallest difference that it tells.
    pub(super) resolution: Pressure,
    pub(super) unit: PressureUnit,
}

/// Where the check is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    /// Until the pressure stands still.
    Waiting,
    /// The gauge is to be read.
    Asking(Plateau),
    /// There is nothing more to do.
    Over,
}

/// A check under way.
#[derive(Clone, Debug)]
pub(super) struct Dialogue {
    plan: Plan,
    plateaus: Plateaus,
    points: Vec<Point>,
    phase: Phase,
    /// What the sensor told when it was last asked about.
    asked: Option<Pressure>,
    warned: bool,
}

impl Dialogue {
    pub(super) fn new(plan: Plan) -> Self {
        Self {
            plateaus: Plateaus::new(plan.resolution),
            plan,
            points: Vec::new(),
            phase: Phase::Waiting,
            asked: None,
            warned: false,
        }
    }

    /// What to do next.
    pub(super) fn instruction(&self) -> String {
        let wanted = self.wanted().show(self.plan.unit);
        match self.points.len() {
            0 => "Zero: leave the sensor open to the air.".to_owned(),
            number => format!(
                "Point {number} of {}: bring the pressure to about {wanted} and let it rest.",
                self.plan.loaded
            ),
        }
    }

    /// The pressure that is wanted next, above zero.
    pub(super) fn wanted(&self) -> Pressure {
        let (number, all) = (self.points.len(), self.plan.loaded);
        self.plan.highest * (number.min(all) as f64 / all as f64)
    }

    /// An answer is waited for.
    pub(super) fn is_asking(&self) -> bool {
        matches!(self.phase, Phase::Asking(_))
    }

    /// There is nothing more to do.
    pub(super) fn is_over(&self) -> bool {
        self.phase == Phase::Over
    }

    /// No answer, or no sample, will come any more.
    pub(super) fn end(&mut self) {
        self.phase = Phase::Over;
    }

    /// The check, with the points that were taken.
    pub(super) fn check(self) -> Check {
        Check {
            points: self.points,
            ..self.plan.check
        }
    }

    /// Samples are missing.
    pub(super) fn gap(&mut self) {
        self.plateaus.begin_anew();
    }

    /// Takes a sample.
    pub(super) fn sample(&mut self, time: Time, told: Pressure, out_of_range: bool) -> Vec<String> {
        let mut said = self.mind_the_range(told, out_of_range);
        if out_of_range {
            self.plateaus.begin_anew();
            return said;
        }
        self.plateaus.push(time, told);
        if self.phase != Phase::Waiting {
            return said;
        }
        let now = self.plateaus.now();
        let another = |plateau: &Plateau| {
            let apart = ANOTHER.max(plateau.tolerance * 2.0);
            self.asked
                .is_none_or(|asked| (plateau.mean - asked).abs() > apart)
        };
        if let Some(plateau) = now.filter(another) {
            self.phase = Phase::Asking(plateau);
            said.push(self.question(&plateau));
        }
        said
    }

    fn mind_the_range(&mut self, told: Pressure, out_of_range: bool) -> Vec<String> {
        let near = |range: Pressure| self.shown(told) > range * NEAR_THE_TOP;
        let high = out_of_range || self.plan.range.is_some_and(near);
        if !high {
            self.warned = false;
        }
        if !high || std::mem::replace(&mut self.warned, high) {
            return Vec::new();
        }
        vec!["STOP: this is the end of the sensor's range. Let pressure off now.".to_owned()]
    }

    /// What the sensor tells, above zero where it tells absolute pressure.
    fn shown(&self, told: Pressure) -> Pressure {
        match self.points.first() {
            Some(zero) if self.plan.check.absolute => told - zero.told,
            None if self.plan.check.absolute => told - Pressure::ATMOSPHERE,
            _ => told,
        }
    }

    fn question(&self, plateau: &Plateau) -> String {
        let told = said::fine(self.shown(plateau.mean), self.plan.unit);
        if !self.points.is_empty() {
            let unit = self.plan.unit;
            return format!(
                "  Steady: the sensor tells {told}. What does the gauge read, in {unit}?"
            );
        }
        let of_air = if self.plan.check.absolute {
            " above a standard atmosphere"
        } else {
            ""
        };
        format!("  Steady: the sensor tells {told}{of_air}. Is it open to the air? (yes / no)")
    }

    /// Takes a line of the user's.
    pub(super) fn answer(&mut self, line: &str) -> Vec<String> {
        let word = line.trim().to_ascii_lowercase();
        match (word.as_str(), self.phase) {
            (_, Phase::Over) => Vec::new(),
            ("stop" | "quit", _) => {
                self.points.clear();
                self.end();
                vec!["Stopped; nothing is kept.".to_owned()]
            }
            ("done", _) if self.points.len() > 1 => {
                self.end();
                Vec::new()
            }
            ("done", _) => vec!["  At least zero and one pressure are needed.".to_owned()],
            ("back", _) => self.back(),
            (_, Phase::Waiting) => {
                let words = "  Not steady yet. The words are: back, done, stop.";
                vec![words.to_owned()]
            }
            ("skip" | "no" | "n", Phase::Asking(plateau)) => {
                self.wait_for_another(plateau);
                vec!["  Passed over.".to_owned()]
            }
            (_, Phase::Asking(plateau)) => self.read(&word, plateau),
        }
    }

    fn back(&mut self) -> Vec<String> {
        self.phase = Phase::Waiting;
        self.asked = None;
        self.plateaus.begin_anew();
        match self.points.pop() {
            Some(_) => vec![
                "  The last point is taken back.".to_owned(),
                self.instruction(),
            ],
            None => vec![self.instruction()],
        }
    }

    fn wait_for_another(&mut self, plateau: Plateau) {
        self.phase = Phase::Waiting;
        self.asked = Some(plateau.mean);
    }

    /// The gauge was read.
    fn read(&mut self, answer: &str, asked: Plateau) -> Vec<String> {
        let gauge = match (self.points.is_empty(), answer) {
            (true, "" | "yes" | "y" | "0") => Pressure::ZERO,
            (true, _) => return vec!["  Say yes or no.".to_owned()],
            (false, _) => match said::pressure(answer, self.plan.unit) {
                Ok(gauge) => gauge,
                Err(why) => return vec![format!("  {why}")],
            },
        };
        let still = |now: &Plateau| (now.mean - asked.mean).abs() <= asked.tolerance;
        let Some(now) = self.plateaus.now().filter(still) else {
            self.phase = Phase::Waiting;
            self.asked = None;
            let moved = "  The pressure has moved meanwhile: it leaks, or was not at rest yet.";
            return vec![moved.to_owned(), self.instruction()];
        };
        match self.with(Point {
            gauge,
            told: now.mean,
            standard: now.standard,
        }) {
            Err(why) => vec![format!(
                "  {why} Read the gauge again, or say skip, back or stop."
            )],
            Ok(points) => {
                self.points = points;
                self.wait_for_another(now);
                self.next()
            }
        }
    }

    /// The points with this one, if it makes sense.
    fn with(&self, point: Point) -> Result<Vec<Point>, String> {
        if self.plan.range.is_some_and(|range| point.gauge > range) {
            return Err("This is beyond the sensor's range.".to_owned());
        }
        let mut points = self.points.clone();
        points.push(point);
        if points.len() > 1 {
            let check = Check {
                points: points.clone(),
                ..self.plan.check.clone()
            };
            if let Err(error) = check.correction() {
                return Err(format!("This cannot be: {}.", error.what));
            }
        }
        Ok(points)
    }

    fn next(&mut self) -> Vec<String> {
        if self.points.len() > self.plan.loaded.min(MOST_POINTS - 1) {
            self.end();
            return Vec::new();
        }
        vec![self.instruction()]
    }
}
