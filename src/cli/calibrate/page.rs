//! The page of results, in Markdown.

use super::measure::Seen;
use super::tally::{BAD_FROM, CHANGES, COUNTS_FROM, Share, Tally};
use crate::assess::causes::CauseModel;
use crate::assess::{CauseKind, RuleSet};
use crate::engine::expected::TightModel;
use crate::engine::{Condition, JobCard};
use crate::signal::Outcome;
use std::fmt::Write;

/// Visits that the comparison of mismatches rests on, from the first on: the others would not
/// move it by more than its rounding.
const MISMATCH_VISITS: usize = 1000;

/// A way in which the card or the recording differs from the engine.
struct Mismatch {
    name: &'static str,
    change: fn(&mut Seen),
}

const MISMATCHES: [Mismatch; 6] = [
    Mismatch {
        name: "as in the population",
        change: |_| {},
    },
    Mismatch {
        name: "card's ratio 1 too high",
        change: |seen| ratio(&mut seen.card, 1.0),
    },
    Mismatch {
        name: "card's ratio 1 too low",
        change: |seen| ratio(&mut seen.card, -1.0),
    },
    Mismatch {
        name: "card's timing 15° too late",
        change: |seen| timing(&mut seen.card, 15.0),
    },
    Mismatch {
        name: "card's timing 15° too early",
        change: |seen| timing(&mut seen.card, -15.0),
    },
    Mismatch {
        name: "cadence unknown",
        change: |seen| {
            for read in &mut seen.reads {
                read.result.cadence = None;
            }
        },
    },
];

fn ratio(card: &mut JobCard, by: f64) {
    card.engine.compression_ratio = card.engine.compression_ratio.map(|ratio| ratio + by);
}

/// Cards without a timing keep their usual one: they state nothing that could be wrong.
fn timing(card: &mut JobCard, by: f64) {
    card.engine.closes_deg_abdc = card.engine.closes_deg_abdc.map(|angle| angle + by);
}

/// The whole page.
pub(super) fn page(all: &[Result<Seen, String>], seed: u64, command: &str) -> String {
    let seen: Vec<Seen> = all.iter().flatten().cloned().collect();
    let rules = RuleSet::default();
    let tallies: Vec<(&str, Tally)> = MISMATCHES
        .iter()
        .enumerate()
        .map(|(n, mismatch)| {
            let count = if n == 0 { seen.len() } else { MISMATCH_VISITS };
            let mut changed: Vec<Seen> = seen.iter().take(count).cloned().collect();
            changed.iter_mut().for_each(mismatch.change);
            (mismatch.name, Tally::of(&changed, &rules))
        })
        .collect();
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = head(&mut text, all, seen.len(), seed, command);
    if let Some((_, tally)) = tallies.first() {
        let _ = targets(&mut text, tally);
        let _ = slices(&mut text, tally);
        let _ = confusion(&mut text, tally);
        let _ = by_change(&mut text, tally);
        let _ = reliability(&mut text, tally);
    }
    let _ = sensitivity(&mut text, &tallies);
    let _ = population(&mut text, &seen);
    text
}

fn head(
    text: &mut String,
    all: &[Result<Seen, String>],
    seen: usize,
    seed: u64,
    command: &str,
) -> std::fmt::Result {
    let reads: usize = all.iter().flatten().map(|seen| seen.reads.len()).sum();
    writeln!(text, "# Causes: how often the assessment is right\n")?;
    writeln!(
        text,
        "Made by `{command}`. Everything here is simulated: engines,"
    )?;
    writeln!(
        text,
        "testers and sensors of the population that `calibrate` draws (seed {seed})."
    )?;
    writeln!(
        text,
        "It shows how the assessment does where the truth is known. It is no evidence"
    )?;
    writeln!(
        text,
        "of how often it is right on real engines; no published figure says that of any"
    )?;
    writeln!(text, "compression test.\n")?;
    writeln!(
        text,
        "{seen} visits, {reads} runs; {} visits could not be made and were",
        all.len() - seen
    )?;
    writeln!(text, "left out (the engine does not turn over).\n")?;
    writeln!(
        text,
        "Fitted on other seeds: `{}`;",
        TightModel::shipped().made_by
    )?;
    writeln!(text, "`{}`.\n", CauseModel::shipped().made_by)
}

/// Who makes the visits, and what became of the runs.
fn population(text: &mut String, seen: &[Seen]) -> std::fmt::Result {
    let reads = || seen.iter().flat_map(|seen| &seen.reads);
    let with = |outcome: Outcome| Share::of(reads(), |read| read.result.outcome == outcome);
    let repeated: u32 = seen.iter().map(|seen| seen.repeated).sum();
    let silent = Share::of(seen.iter(), |seen| {
        seen.known.iter().any(|known| {
            !seen.reads.iter().any(|read| {
                read.cylinder == known.truth.name
                    && read.condition != Condition::Wet
                    && read.result.reading.is_some()
            })
        })
    });
    writeln!(text, "\n## Who makes the visits\n")?;
    writeln!(
        text,
        "Someone who does as the tool says. The sensor suits the job: behind a check valve 50 to\n\
         200 samples a second, without one 250 or 500, resolution 0.1 to 1 kPa, noise 0.1 to 1 kPa.\n\
         (Sensors that are too slow are told so, and are not in here.) Every cylinder is read dry;\n\
         cranking goes on for 7 to 11 strokes, then to 17 and to 28 where the reading has not\n\
         settled; then it is given up and the extrapolated reading counts like any other. A wet\n\
         run is not gone on with: the oil leaves and the level falls. A run\n\
         without a reading is repeated once. Half of the visits to four-strokes end with oil: in\n\
         every cylinder (two in five of them), or in those that read under 93 % of the best (or of\n\
         what the card lets expect) and in the best one as a control. The throttle that was shut,\n\
         the weak battery and the leaking tester are causes to be found; nobody has put them right.\n\
         In half of the visits the throttle was blocked open where it was no cause, in three of ten\n\
         the tester proved tight, and the card says so (`[checked]`). So where the card says\n\
         nothing, a shut throttle is nearly twice as frequent as over all, a leaking tester half as\n\
         frequent again; without oil an engine whose cylinders all leak alike is then easily called so.\n\
         The card's ratio is off by 1.5 % (one standard deviation), two cards in five give no\n\
         timing, three in ten nothing of the tester's volume. One card in ten is wrong besides: by\n\
         up to 1 in the ratio, or by up to 15° in the timing.\n\n\
         One thing is the matter with an engine mostly, and it is the leading cause of each cylinder\n\
         that it touches. One leaking engine in five leaks in a second place: rings or a valve of\n\
         another cylinder or (four times in ten, and where there is no other) of the same. Of what\n\
         leaks in a cylinder the larger hole is the one that should lead.\n"
    )?;
    writeln!(
        text,
        "- runs that settled: {}",
        percent(with(Outcome::Settled))
    )?;
    for (ended, what) in [
        (Outcome::AtRest, "at rest"),
        (Outcome::StillClimbing, "still climbing"),
    ] {
        writeln!(
            text,
            "- runs given up with the needle {what}: {}",
            percent(with(ended))
        )?;
    }
    writeln!(
        text,
        "- runs without a reading that were repeated: {repeated}; without one in the end: {}",
        percent(with(Outcome::NoReading))
    )?;
    writeln!(
        text,
        "- visits in which some cylinder has no dry reading (nothing is said of it): {}",
        percent(silent)
    )
}

fn slices(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(text, "## Leading cause right, part by part\n")?;
    writeln!(
        text,
        "Cylinders with dry and wet readings whose leak lowers the reading by {:.0} % or more; but for the\n\
         last two rows in engines that leak in one place. An answer that leaves rings and valve open\n\
         counts as wrong.\n",
        COUNTS_FROM * 100.0
    )?;
    writeln!(text, "| part | right |\n| --- | ---: |")?;
    for (slice, share) in &tally.slices {
        writeln!(text, "| {} | {} |", slice.label(), percent(*share))?;
    }
    writeln!(text)
}

fn percent(share: Share) -> String {
    share.value().map_or_else(
        || "none".to_owned(),
        |value| format!("{:.1} % ({} of {})", value * 100.0, share.hits, share.of),
    )
}

fn targets(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(
        text,
        "| what | target | measured | met |\n| --- | --- | --- | --- |"
    )?;
    let mut row = |what: &str, target: &str, got: String, met: bool| {
        let met = if met { "yes" } else { "**no**" };
        writeln!(text, "| {what} | {target} | {got} | {met} |")
    };
    let at_least = |share: Share, limit: f64| share.value().is_some_and(|value| value >= limit);
    let at_most = |share: Share, limit: f64| share.value().is_some_and(|value| value <= limit);
    row(
        &format!(
            "leading cause right, dry and wet readings, one leak that lowers the reading by {:.0} % or more",
            COUNTS_FROM * 100.0
        ),
        "≥ 90 %",
        percent(tally.with_wet),
        at_least(tally.with_wet, 0.90),
    )?;
    row(
        "healthy engines condemned (judged to fail)",
        "≤ 1 %",
        percent(tally.condemned),
        at_most(tally.condemned, 0.01),
    )?;
    row(
        &format!(
            "bad engines passed (a cylinder {:.0} % low or worse)",
            BAD_FROM * 100.0
        ),
        "≤ 0.5 %",
        percent(tally.passed_bad),
        at_most(tally.passed_bad, 0.005),
    )?;
    let error = tally.calibration_error();
    row(
        "expected calibration error of the leading cause",
        "≤ 0.05",
        format!("{error:.3}"),
        error <= 0.05,
    )?;
    let leak = tally.leak_error();
    row(
        "leak area, median error",
        "≤ 20 %",
        leak.map_or_else(
            || "none".to_owned(),
            |error| format!("{:.1} %", error * 100.0),
        ),
        leak.is_some_and(|error| error <= 0.20),
    )?;
    writeln!(text)?;
    writeln!(text, "Beside the targets:\n")?;
    let all = Share {
        hits: tally.with_wet.hits + tally.with_wet_two.hits,
        of: tally.with_wet.of + tally.with_wet_two.of,
    };
    writeln!(
        text,
        "- leading cause right in engines that leak in two places: {}; these counted in with the\n  \
         first row: {}",
        percent(tally.with_wet_two),
        percent(all)
    )?;
    writeln!(
        text,
        "- bad engines judged to fail: {}; low and not confirmed, so to be read again: {}",
        percent(tally.failed_bad),
        percent(tally.unconfirmed_bad)
    )?;
    writeln!(
        text,
        "- healthy engines passed: {}; low and not confirmed: {}",
        percent(tally.passed_good),
        percent(tally.unconfirmed_good)
    )?;
    writeln!(
        text,
        "- healthy engines in which some cylinder's leading cause is a fault: {}",
        percent(tally.suspected)
    )?;
    writeln!(
        text,
        "- only dry readings, leak that counts: leading cause right (rings-or-valve counts for both):\n  \
         {}; in engines that leak in two places: {}",
        percent(tally.dry_only),
        percent(tally.dry_only_two)
    )?;
    writeln!(
        text,
        "- true leak within the stated uncertainty (k = 2): {}\n",
        percent(tally.leak_covered)
    )
}

fn confusion(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(text, "## Leading cause of each cylinder\n")?;
    writeln!(text, "Rows are what was true, columns what was called.\n")?;
    let shown: Vec<CauseKind> = CauseKind::ALL
        .into_iter()
        .filter(|kind| tally.confusion.keys().any(|(a, b)| a == kind || b == kind))
        .collect();
    write!(text, "| true \\ called |")?;
    for kind in &shown {
        write!(text, " {} |", short(*kind))?;
    }
    writeln!(text, "\n| --- |{}", " ---: |".repeat(shown.len()))?;
    for truth in shown
        .iter()
        .filter(|kind| **kind != CauseKind::RingsOrValve)
    {
        write!(text, "| {} |", short(*truth))?;
        for called in &shown {
            let count = tally
                .confusion
                .get(&(*truth, *called))
                .copied()
                .unwrap_or(0);
            write!(text, " {count} |")?;
        }
        writeln!(text)?;
    }
    writeln!(text)
}

/// Right and called healthy, by how much the cause changes the reading.
fn by_change(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(text, "## By how much the cause changes the reading\n")?;
    writeln!(
        text,
        "Leading cause right (rings-or-valve counts for both), and in brackets called healthy, of how\n\
         many cylinders; by the size of the change against the same run with nothing the matter.\n"
    )?;
    write!(text, "| true |")?;
    let mut from = 0.0;
    for to in CHANGES {
        write!(text, " {:.0} to {:.0} % |", from * 100.0, to * 100.0)?;
        from = to;
    }
    writeln!(text, " more |")?;
    writeln!(text, "| --- |{}", " ---: |".repeat(CHANGES.len() + 1))?;
    for kind in CauseKind::ALL {
        let cells = (0..=CHANGES.len()).map(|step| tally.by_change.get(&(kind, step)));
        if cells.clone().all(|cell| cell.is_none()) {
            continue;
        }
        write!(text, "| {} |", short(kind))?;
        for cell in cells {
            match cell {
                Some((share, healthy)) => {
                    write!(text, " {} ({healthy}) of {} |", share.hits, share.of)?;
                }
                None => write!(text, " – |")?,
            }
        }
        writeln!(text)?;
    }
    writeln!(text)
}

const fn short(kind: CauseKind) -> &'static str {
    match kind {
        CauseKind::Healthy => "healthy",
        CauseKind::Rings => "rings",
        CauseKind::Valve => "valve",
        CauseKind::Gasket => "gasket",
        CauseKind::RingsOrValve => "rings or valve",
        CauseKind::HighCompression => "deposits",
        CauseKind::ValveTiming => "timing",
        CauseKind::ThrottleShut => "throttle",
        CauseKind::SlowCranking => "slow",
        CauseKind::TesterLeak => "tester",
    }
}

fn reliability(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(
        text,
        "## Stated probability against how often it was right\n"
    )?;
    writeln!(
        text,
        "| stated | cylinders | mean stated | right |\n| --- | ---: | ---: | ---: |"
    )?;
    for (n, bin) in tally
        .bins
        .iter()
        .enumerate()
        .filter(|(_, bin)| bin.count > 0)
    {
        let count = f64::from(bin.count);
        writeln!(
            text,
            "| {}–{} % | {} | {:.1} % | {:.1} % |",
            n * 10,
            n * 10 + 10,
            bin.count,
            bin.stated / count * 100.0,
            f64::from(bin.right) / count * 100.0
        )?;
    }
    writeln!(text)
}

fn sensitivity(text: &mut String, tallies: &[(&str, Tally)]) -> std::fmt::Result {
    writeln!(
        text,
        "## Where the engine differs from the card or the model\n"
    )?;
    writeln!(
        text,
        "All but the first row on the first {MISMATCH_VISITS} visits. The change is made to every card, on\n\
         top of what is wrong with one card in ten. Where the ratio is too low, a sound engine reads\n\
         high, and \"deposits, or less clearance than the card says\" is true of it by its words; it is\n\
         counted as wrong here all the same.\n"
    )?;
    writeln!(
        text,
        "| case | cause right (dry and wet) | healthy condemned | bad passed | calibration error | leak error |"
    )?;
    writeln!(text, "| --- | ---: | ---: | ---: | ---: | ---: |")?;
    for (name, tally) in tallies {
        let short = |share: Share| {
            share.value().map_or_else(
                || "none".to_owned(),
                |value| format!("{:.1} %", value * 100.0),
            )
        };
        let leak = tally.leak_error().map_or_else(
            || "not computed".to_owned(),
            |e| format!("{:.0} %", e * 100.0),
        );
        writeln!(
            text,
            "| {name} | {} | {} | {} | {:.3} | {leak} |",
            short(tally.with_wet),
            short(tally.condemned),
            short(tally.passed_bad),
            tally.calibration_error(),
        )?;
    }
    Ok(())
}
