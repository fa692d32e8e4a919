//! Leaks of 0.05 to 8 mm² behind restrictors of 0.5 to 1.5 mm, one cylinder at a time.

use super::bench::{self, RESTRICTORS_MM};
use super::share;
use crate::causes::population;
use crate::draws::Draws;
use needlerest::leakdown::{AirFlag, Stage};
use rayon::prelude::*;
use std::fmt::Write as _;

/// A leak is told by this test where the area of the leak is so much of the restrictor's (effective).
const WITHIN: (f64, f64) = (0.5, 8.0);

/// A test and what is true.
struct Tried {
    restrictor_mm: f64,
    /// The leak over the restrictor's effective area.
    ratio: f64,
    /// Found over true; none where none was found.
    found: Option<f64>,
    /// The 95 % interval holds the truth.
    covers: bool,
    /// Width of the interval as a share of the truth, half of it.
    half: f64,
    called_after_s: Option<f64>,
    fell_away: bool,
    holds_nothing: bool,
    turned: bool,
    leak_mm2: f64,
    rounds: usize,
    took_s: f64,
}

/// One page of it.
pub fn page(seed: u64, tests: u64) -> String {
    let tried: Vec<Tried> = run(seed, tests, Way::AsItComes);
    let pushed: Vec<Tried> = run(seed ^ 0x99, tests / 2, Way::Pushed);
    let mut out = String::new();
    let all: Vec<&Tried> = tried.iter().collect();
    let _ = writeln!(
        out,
        "| tests | leak within 10 % | interval covers | called after, median s |"
    );
    let _ = writeln!(out, "| --- | --- | --- | --- |");
    row(&mut out, "all", &all);
    let advised = run(seed, tests, Way::Advised);
    let two_strokes = run(seed ^ 0x2222, tests / 4, Way::TwoStroke);
    row(
        &mut out,
        "all, with the restrictor that was advised",
        &only(&advised, |_| true),
    );
    row(
        &mut out,
        "… leaks of 0.1 mm² and more",
        &only(&advised, |t| t.leak_mm2 >= 0.1),
    );
    row(
        &mut out,
        "… leaks under 0.1 mm²",
        &only(&advised, |t| t.leak_mm2 < 0.1),
    );
    row(
        &mut out,
        "… without rounds",
        &only(&advised, |t| t.rounds == 0),
    );
    for rounds in 1..=5 {
        row(
            &mut out,
            &format!("… rounds: {rounds}"),
            &only(&advised, |t| t.rounds == rounds),
        );
    }
    row(
        &mut out,
        "… stated within 10 %",
        &only(&advised, |t| t.half <= 0.1),
    );
    row(
        &mut out,
        "two-strokes, with the restrictor that was advised",
        &only(&two_strokes, |_| true),
    );
    row(
        &mut out,
        "… stated within 10 %",
        &only(&two_strokes, |t| t.half <= 0.1),
    );
    for mm in RESTRICTORS_MM {
        row(
            &mut out,
            &format!("restrictor {mm} mm"),
            &only(&tried, |t| t.restrictor_mm == mm),
        );
    }
    for (low, high) in [
        (0.0, 0.25),
        (0.25, 0.5),
        (0.5, 1.0),
        (1.0, 2.0),
        (2.0, 4.0),
        (4.0, 8.0),
        (8.0, 1e9),
    ] {
        let name = format!("leak {low} to {high} of the restrictor");
        row(
            &mut out,
            &name,
            &only(&tried, |t| t.ratio >= low && t.ratio < high),
        );
    }
    let took = |which: fn(&Tried) -> bool| {
        let mut all: Vec<f64> = only(&advised, which).iter().map(|t| t.took_s).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or_default()
    };
    let asked = only(&advised, |t| t.rounds > 0).len();
    let lasts = format!(
        "\nrounds asked for, with the restrictor that was advised: {}; with them a test takes {:.0} s, \
         without {:.0} s (medians)",
        share(asked, advised.len()),
        took(|t| t.rounds > 0),
        took(|t| t.rounds == 0)
    );
    let fit = only(&tried, |t| t.ratio >= WITHIN.0 && t.ratio < WITHIN.1);
    row(&mut out, "restrictor fits the leak (0.5 to 8)", &fit);
    let told = only(&tried, |t| t.half <= 0.1);
    row(&mut out, "stated within 10 %", &told);
    let _ = writeln!(out, "{lasts}");
    let turned = only(&pushed, |t| t.turned);
    let away = turned.iter().filter(|t| t.fell_away).count();
    let either = turned
        .iter()
        .filter(|t| t.fell_away || t.holds_nothing)
        .count();
    let _ = writeln!(
        out,
        "\npiston pushed off, told as fallen away: {}",
        share(away, turned.len())
    );
    let _ = writeln!(
        out,
        "… or that nothing is held, see to the piston: {}",
        share(either, turned.len())
    );
    let false_ = tried.iter().filter(|t| t.fell_away).count();
    let _ = writeln!(
        out,
        "fallen away told of a piston that stayed: {}",
        share(false_, tried.len())
    );
    let fits = fit.iter().filter(|t| t.holds_nothing).count();
    let _ = writeln!(
        out,
        "nothing held told of a piston that stayed, the restrictor fitting the leak: {}",
        share(fits, fit.len())
    );
    let missed = turned.iter().filter(|t| !t.fell_away && !t.holds_nothing);
    for t in missed {
        let _ = writeln!(
            out,
            "not told: restrictor {} mm, leak {:.2} mm², ratio {:.2}, called {:?}, found {:?}",
            t.restrictor_mm, t.leak_mm2, t.ratio, t.called_after_s, t.found
        );
    }
    let nothing = tried.iter().filter(|t| t.holds_nothing).count();
    let _ = writeln!(
        out,
        "nothing held told of a piston that stayed: {}\n",
        share(nothing, tried.len())
    );
    out
}

fn only(all: &[Tried], which: impl Fn(&Tried) -> bool) -> Vec<&Tried> {
    all.iter().filter(|one| which(one)).collect()
}

fn row(out: &mut String, name: &str, tried: &[&Tried]) {
    let close = |t: &&&Tried| t.found.is_some_and(|found| (found - 1.0).abs() <= 0.1);
    let near = tried.iter().filter(close).count();
    let covers = tried.iter().filter(|t| t.covers).count();
    let mut called: Vec<f64> = tried.iter().filter_map(|t| t.called_after_s).collect();
    called.sort_by(f64::total_cmp);
    let median = called
        .get(called.len() / 2)
        .map_or("–".to_owned(), |s| format!("{s:.1}"));
    let uncalled = tried.len() - called.len();
    let rest = if uncalled > 0 {
        format!(" ({uncalled} not called)")
    } else {
        String::new()
    };
    let _ = writeln!(
        out,
        "| {name} | {} | {} | {median}{rest} |",
        share(near, tried.len()),
        share(covers, tried.len()),
    );
}

/// How a test is made.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// With any restrictor.
    AsItComes,
    /// With the one that was advised, where one was.
    Advised,
    /// The same, of a two-stroke.
    TwoStroke,
    /// Nobody holds the crank.
    Pushed,
}

fn run(seed: u64, tests: u64, way: Way) -> Vec<Tried> {
    (0..tests)
        .into_par_iter()
        .filter_map(|index| one(seed, index, way))
        .collect()
}

/// An engine of the population, its leaks replaced by one of this size: past rings and valves, of a
/// two-stroke past rings and the head's joint.
fn one(seed: u64, index: u64, way: Way) -> Option<Tried> {
    let mut d = Draws::new(seed, index);
    let (mut spec, card) = loop {
        let plan = population::visit(d.seed() >> 11, index);
        let spec = plan.dry.into_iter().next()?;
        if spec.engine.valves.is_none() == (way == Way::TwoStroke) {
            break (spec, plan.card);
        }
    };
    let leak = d.decades(0.05, 8.0);
    spec.engine.gaskets.clear();
    let at_valves = d.unit();
    let tested = spec.cylinder.clone();
    for cylinder in &mut spec.engine.cylinders {
        cylinder.cam_late_deg = 0.0;
        if cylinder.name == tested {
            let at_intake = if way == Way::TwoStroke { 0.0 } else { 0.5 };
            cylinder.ring_leak_mm2 = leak * (1.0 - at_valves);
            cylinder.intake_leak_mm2 = leak * at_valves * at_intake;
            cylinder.exhaust_leak_mm2 = leak * at_valves * (1.0 - at_intake);
        }
    }
    spec.tester.leak_mm2 = 0.0;
    spec.throttle = 1.0;
    let mm = d.pick(&RESTRICTORS_MM, 1.0);
    let plan = bench::plan(&mut d, mm, way == Way::Pushed);
    let mut made = bench::make(&spec, &card, &plan, &[]).ok()?;
    let mut mm = mm;
    // Whoever is told to takes another restrictor, once.
    let better = made.test.flags().iter().find_map(|flag| match flag {
        AirFlag::RestrictorDoesNotSuit { take_mm } => Some(*take_mm),
        _ => None,
    });
    if let Some(better) = better.filter(|_| matches!(way, Way::Advised | Way::TwoStroke)) {
        mm = better;
        let plan = bench::plan(&mut d, mm, way == Way::Pushed);
        made = bench::make(&spec, &card, &plan, &[]).ok()?;
    }
    let held = made.test.at_top();
    let found = held.and_then(|held| held.leak);
    Some(Tried {
        restrictor_mm: mm,
        ratio: leak / (0.85 * std::f64::consts::FRAC_PI_4 * mm * mm),
        found: found.map(|found| found.mm2 / leak),
        covers: found.is_some_and(|found| found.low_mm2 <= leak && leak <= found.high_mm2),
        half: found.map_or(f64::MAX, |found| {
            0.5 * (found.high_mm2 - found.low_mm2) / found.mm2.max(1e-9)
        }),
        called_after_s: made.called_after_s,
        holds_nothing: made
            .test
            .flags()
            .contains(&AirFlag::HoldsNothing { stage: Stage::Top }),
        turned: made.turned,
        leak_mm2: leak,
        rounds: made.rounds,
        took_s: made.took_s,
        fell_away: made
            .test
            .flags()
            .contains(&AirFlag::FellAway { stage: Stage::Top }),
    })
}
