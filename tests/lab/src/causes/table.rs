//! The page: worlds side by side.

use super::score::{Group, Judged, Leading, judge, kind};
use super::visit::{Cause, Visit};
use needlerest::assess::{CauseKind, Judgement};
use rayon::prelude::*;
use std::fmt::Write as _;

/// How many of how many.
#[derive(Clone, Copy, Default)]
struct Share {
    of: u32,
    are: u32,
}

impl Share {
    fn count<'a, T: 'a>(
        all: impl Iterator<Item = &'a T>,
        of: impl Fn(&T) -> bool,
        are: impl Fn(&T) -> bool,
    ) -> Self {
        let mut share = Self::default();
        for one in all.filter(|one| of(one)) {
            share.of += 1;
            share.are += u32::from(are(one));
        }
        share
    }

    fn text(self) -> String {
        if self.of == 0 {
            return "–".to_owned();
        }
        let percent = 100.0 * f64::from(self.are) / f64::from(self.of);
        format!("{percent:.1} % of {}", self.of)
    }
}

type Row = (&'static str, fn(&[Judged], bool) -> Share);

const ROWS: [Row; 8] = [
    ("sound engine passed", |all, kicked| {
        judged(all, kicked, Group::Sound, |j| j == Judgement::Pass)
    }),
    ("sound engine failed", |all, kicked| {
        judged(all, kicked, Group::Sound, |j| j == Judgement::Fail)
    }),
    (
        "engine with a bad cylinder failed, or low and not confirmed",
        |all, kicked| {
            judged(all, kicked, Group::Bad, |j| {
                matches!(j, Judgement::Fail | Judgement::Unconfirmed)
            })
        },
    ),
    ("… passed", |all, kicked| {
        judged(all, kicked, Group::Bad, |j| j == Judgement::Pass)
    }),
    ("… not judged, or incomplete", |all, kicked| {
        judged(all, kicked, Group::Bad, |j| {
            matches!(j, Judgement::NotJudged | Judgement::Incomplete)
        })
    }),
    (
        "leading cause right, bad cylinder, dry and wet",
        |all, kicked| cylinder(all, kicked, |c| c.is_bad() && c.oiled, Leading::is_right),
    ),
    (
        "… of those where the rule of thumb speaks",
        |all, kicked| {
            let speaks = |c: &Leading| c.is_bad() && c.oiled && c.by_thumb.is_some();
            cylinder(all, kicked, speaks, Leading::is_right)
        },
    ),
    ("… by the rule of thumb", |all, kicked| {
        let speaks = |c: &Leading| c.is_bad() && c.oiled && c.by_thumb.is_some();
        cylinder(all, kicked, speaks, |c| c.by_thumb == Some(c.truth))
    }),
];

fn judged(all: &[Judged], kicked: bool, group: Group, is: impl Fn(Judgement) -> bool) -> Share {
    Share::count(
        all.iter(),
        |one| one.kicked == kicked && one.group == group,
        |one| is(one.judgement),
    )
}

fn cylinder(
    all: &[Judged],
    kicked: bool,
    of: impl Fn(&Leading) -> bool,
    are: impl Fn(&Leading) -> bool,
) -> Share {
    let of_visits = all.iter().filter(|one| one.kicked == kicked);
    Share::count(of_visits.flat_map(|one| &one.cylinders), of, are)
}

/// A sound cylinder that something else leads in.
fn called(all: &[Judged], kicked: bool) -> Share {
    let sound = |c: &Leading| c.truth == Cause::Sound && c.said.is_some();
    cylinder(all, kicked, sound, |c| !c.is_right())
}

pub fn page(worlds: &[(&str, Vec<Visit>)]) -> String {
    let judged: Vec<(&str, Vec<Judged>)> = worlds
        .iter()
        .map(|(world, visits)| (*world, visits.par_iter().map(judge).collect()))
        .collect();
    let mut page = String::from("|  |");
    for (world, all) in &judged {
        for who in ["starter, hand crank", "kicks, pulls"] {
            let _ = write!(page, " {world} ({} visits): {who} |", all.len());
        }
    }
    let _ = write!(page, "\n| --- |");
    for _ in 0..judged.len() * 2 {
        page.push_str(" ---: |");
    }
    page.push('\n');
    let mut row = |name: &str, of: &dyn Fn(&[Judged], bool) -> Share| {
        let _ = write!(page, "| {name} |");
        for (_, all) in &judged {
            for kicked in [false, true] {
                let _ = write!(page, " {} |", of(all, kicked).text());
            }
        }
        page.push('\n');
    };
    for (name, of) in ROWS {
        row(name, &of);
    }
    row("sound cylinder called anything but sound", &called);
    page.push_str(&reliability(&judged));
    page.push_str(&confusion(&judged));
    page
}

/// Stated probability of what leads, beside how often it is right.
fn reliability(worlds: &[(&str, Vec<Judged>)]) -> String {
    let mut page = String::new();
    for (world, all) in worlds {
        let leading: Vec<(f64, bool)> = all
            .iter()
            .flat_map(|one| &one.cylinders)
            .filter_map(|c| Some((c.said?.1, c.is_right())))
            .collect();
        let mut error = 0.0;
        let _ = writeln!(page, "\n{world}: stated, right, cylinders");
        for bin in 0..10 {
            let (low, high) = (f64::from(bin) / 10.0, f64::from(bin + 1) / 10.0);
            let within: Vec<&(f64, bool)> = leading
                .iter()
                .filter(|(p, _)| *p >= low && (*p < high || bin == 9))
                .collect();
            if within.is_empty() {
                continue;
            }
            let count = within.len() as f64;
            let stated = within.iter().map(|(p, _)| p).sum::<f64>() / count;
            let right = within.iter().filter(|(_, right)| *right).count() as f64 / count;
            error += (stated - right).abs() * count / leading.len() as f64;
            let _ = writeln!(page, "- {stated:.2}, {right:.2}, {count}");
        }
        let _ = writeln!(page, "\nExpected calibration error {error:.3}");
    }
    page
}

/// What leads, by what is true.
fn confusion(worlds: &[(&str, Vec<Judged>)]) -> String {
    let mut page = String::new();
    for (world, all) in worlds {
        for kicked in [false, true] {
            let who = if kicked {
                "kicks, pulls"
            } else {
                "starter, hand crank"
            };
            let _ = writeln!(page, "\n{world}, {who}:");
            for truth in Cause::ALL {
                for (bad, word) in [(true, ""), (false, " (slight)")] {
                    let these: Vec<&Leading> = all
                        .iter()
                        .filter(|one| one.kicked == kicked)
                        .flat_map(|one| &one.cylinders)
                        .filter(|c| c.truth == truth && (c.is_bad() || !truth.is_leak()) == bad)
                        .collect();
                    if these.is_empty() {
                        continue;
                    }
                    let counts: Vec<String> = CauseKind::ALL
                        .into_iter()
                        .filter_map(|said| {
                            let count = these.iter().filter(|c| c.said.map(|s| s.0) == Some(said));
                            let count = count.count();
                            (count > 0).then(|| format!("{count} {}", label(said)))
                        })
                        .collect();
                    let _ = writeln!(page, "- {}{word}: {}", truth.label(), counts.join(", "));
                }
            }
        }
    }
    page
}

fn label(said: CauseKind) -> &'static str {
    let known = Cause::ALL.into_iter().find(|cause| kind(*cause) == said);
    known.map_or("rings or valve", Cause::label)
}
