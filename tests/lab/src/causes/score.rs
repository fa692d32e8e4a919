//! How verdict and causes of a visit compare with what is true.

use super::visit::{Cause, Visit};
use needlerest::assess::{self, Assessment, CauseKind, Judgement, RuleSet, Saying};
use needlerest::engine::Condition;

/// What a visit counts as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Engine and test are sound.
    Sound,
    /// A cylinder is bad, and the test is sound.
    Bad,
    /// Anything between or else.
    Other,
}

/// A cylinder: what leads, with what probability, and what is true.
#[derive(Clone, Debug)]
pub struct Leading {
    pub said: Option<(CauseKind, f64)>,
    pub truth: Cause,
    pub takes: f64,
    /// Read dry and wet.
    pub oiled: bool,
    /// Every cylinder of the engine has the same.
    pub alike: bool,
    /// What a rule of thumb says of it, where it can speak.
    pub by_thumb: Option<Cause>,
}

/// A visit as judged.
#[derive(Clone, Debug)]
pub struct Judged {
    pub group: Group,
    pub kicked: bool,
    pub judgement: Judgement,
    pub cylinders: Vec<Leading>,
}

pub fn judge(visit: &Visit) -> Judged {
    let assessed = assessed(visit);
    let alike = |cause: Cause| visit.cylinders.iter().all(|known| known.cause == cause);
    let by_thumb = by_thumb(visit);
    let cylinders = visit
        .cylinders
        .iter()
        .enumerate()
        .map(|(n, known)| {
            let found = assessed.cylinders.iter().find(|c| c.name == known.name);
            let said = found.and_then(|c| c.causes.first());
            Leading {
                said: said.map(|cause| (cause.kind, cause.probability)),
                truth: known.cause,
                takes: known.takes,
                oiled: visit.has(&known.name, false) && visit.has(&known.name, true),
                alike: alike(known.cause),
                by_thumb: by_thumb.get(n).copied().flatten(),
            }
        })
        .collect();
    Judged {
        group: group(visit),
        kicked: visit.kicked(),
        judgement: assessed.judgement,
        cylinders,
    }
}

fn assessed(visit: &Visit) -> Assessment<Saying> {
    assess::assess(Some(&visit.card), &visit.inputs(), &RuleSet::default())
}

fn group(visit: &Visit) -> Group {
    if visit.is_sound() {
        Group::Sound
    } else if visit.is_bad() && !visit.cause.is_of_test() {
        Group::Bad
    } else {
        Group::Other
    }
}

impl Leading {
    pub fn is_bad(&self) -> bool {
        self.truth.is_leak() && self.takes >= super::visit::BAD_FROM
    }

    /// Whether what leads is what is true. Of a twin that is low alike gasket, throttle and timing
    /// are not told apart; a matter of the test that takes next to nothing is nothing.
    pub fn is_right(&self) -> bool {
        let Some((said, _)) = self.said else {
            return false;
        };
        let slight = self.takes.abs() < 0.1;
        match self.truth {
            Cause::Sound => said == CauseKind::Healthy,
            _ if slight && said == CauseKind::Healthy => true,
            Cause::Gasket if self.alike => matches!(
                said,
                CauseKind::Gasket | CauseKind::ThrottleShut | CauseKind::ValveTiming
            ),
            Cause::Rings | Cause::Valve if said == CauseKind::RingsOrValve => true,
            // Shown at the speed at which it was turned, nothing is the matter with the engine.
            Cause::Slow => matches!(said, CauseKind::SlowCranking | CauseKind::Healthy),
            truth => kind(truth) == said,
        }
    }
}

pub const fn kind(cause: Cause) -> CauseKind {
    match cause {
        Cause::Sound => CauseKind::Healthy,
        Cause::Rings => CauseKind::Rings,
        Cause::Valve => CauseKind::Valve,
        Cause::Gasket => CauseKind::Gasket,
        Cause::Deposits => CauseKind::HighCompression,
        Cause::Timing => CauseKind::ValveTiming,
        Cause::Throttle => CauseKind::ThrottleShut,
        Cause::Slow => CauseKind::SlowCranking,
        Cause::TesterLeak => CauseKind::TesterLeak,
    }
}

/// The rule that a practitioner carries in the head (common practice, no source): under nine tenths
/// of the best is bad; wet, a gain of a twentieth more than the best one's gain means rings, else a
/// valve; two bad neighbours within a tenth of each other that oil does not change, the gasket. It
/// says nothing of one cylinder, or of cylinders that agree.
fn by_thumb(visit: &Visit) -> Vec<Option<Cause>> {
    let level = |name: &str, wet: bool| {
        let mut reads = visit.reads.iter().rev();
        reads
            .find(|read| read.cylinder == name && (read.condition == Condition::Wet) == wet)
            .and_then(|read| Some(read.result.reading.as_ref()?.value.pa()))
    };
    let names: Vec<&str> = visit.cylinders.iter().map(|c| c.name.as_str()).collect();
    let dry: Vec<Option<f64>> = names.iter().map(|name| level(name, false)).collect();
    let best = (0..names.len())
        .filter(|n| dry[*n].is_some())
        .max_by(|a, b| dry[*a].unwrap_or(0.0).total_cmp(&dry[*b].unwrap_or(0.0)));
    let (Some(best), true) = (best, names.len() > 1) else {
        return vec![None; names.len()];
    };
    let gain = |n: usize| Some(level(names[n], true)? / dry[n]?);
    let mut said: Vec<Option<Cause>> = (0..names.len())
        .map(|n| {
            if dry[n]? >= 0.9 * dry[best]? {
                return Some(Cause::Sound);
            }
            let over = gain(n)? - gain(best)?;
            Some(if over > 0.05 {
                Cause::Rings
            } else {
                Cause::Valve
            })
        })
        .collect();
    for n in 1..names.len() {
        let low = |said: Option<Cause>| matches!(said, Some(Cause::Valve | Cause::Gasket));
        let apart = dry[n].zip(dry[n - 1]).map(|(a, b)| (a / b - 1.0).abs());
        if low(said[n]) && low(said[n - 1]) && apart.is_some_and(|apart| apart < 0.1) {
            said[n] = Some(Cause::Gasket);
            said[n - 1] = Some(Cause::Gasket);
        }
    }
    said
}

/// Prints a visit that was not judged as it should be.
pub fn list(world: &str, n: usize, visit: &Visit) {
    let judged = judge(visit);
    let wrong = match judged.group {
        Group::Sound => judged.judgement != Judgement::Pass,
        Group::Bad => !matches!(judged.judgement, Judgement::Fail | Judgement::Unconfirmed),
        Group::Other => false,
    };
    let misled = judged
        .cylinders
        .iter()
        .any(|c| (c.is_bad() && c.oiled || c.truth == Cause::Sound) && !c.is_right());
    if !wrong && !misled {
        return;
    }
    let assessed = assessed(visit);
    println!(
        "{world} {n}: {} {:?} → {:?}: {}",
        visit.cause.label(),
        visit.card.engine.start,
        judged.judgement,
        assess::say(&assessed.verdict, visit.card.display)
    );
    for (known, cylinder) in visit.cylinders.iter().zip(&assessed.cylinders) {
        let readings: Vec<String> = cylinder
            .readings
            .iter()
            .map(|r| {
                let of = assessed
                    .expected
                    .iter()
                    .find(|e| e.condition == r.condition);
                let of = of.map_or(0.0, |e| r.value / e.likely);
                format!(
                    "{} {:.0} kPa ({:.2} of expected)",
                    r.condition.label(),
                    r.value.kpa(),
                    of
                )
            })
            .collect();
        let causes: Vec<String> = cylinder
            .causes
            .iter()
            .take(3)
            .map(|c| format!("{:?} {:.2}", c.kind, c.probability))
            .collect();
        println!(
            "    {} {} takes {:.2}: {readings:?} {causes:?}",
            known.name,
            known.cause.label(),
            known.takes
        );
    }
}
