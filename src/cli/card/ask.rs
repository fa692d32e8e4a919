//! The questions: what is asked, what Enter stands for, and what `?` explains.

use super::draft::{Draft, Key};
use super::{ranges, spoken};
use crate::cli::{Exit, Failure, out};
use crate::engine::Ignition;
use crate::engine::oil::{BY_HAND, MOST_CM3};
use std::io::{BufRead, Write};

/// Asks on standard output, listens on standard input.
pub(super) struct Asker {
    input: Box<dyn BufRead>,
}

impl Asker {
    pub(super) fn on_the_terminal() -> Self {
        Self {
            input: Box::new(std::io::stdin().lock()),
        }
    }

    pub(super) fn introduce() -> std::io::Result<()> {
        writeln!(
            out::stdout(),
            "A few questions about the engine. Enter takes what stands in [brackets]; ? explains \
             the question;\nCtrl-C leaves without writing anything.\n"
        )
    }

    /// Asks until the answer makes sense.
    pub(super) fn ask(&mut self, key: Key, draft: &mut Draft) -> Result<(), Failure> {
        if let Some(typical) = ranges::offered(key, draft) {
            writeln!(out::stdout(), "{typical}")?;
        }
        loop {
            let mut out = out::stdout();
            write!(out, "{} [{}]: ", question(key), standing(key, draft))?;
            out.flush()?;
            let mut typed = String::new();
            if self.input.read_line(&mut typed)? == 0 {
                writeln!(out)?;
                let ended = "the answers ended before the questions; nothing was written";
                return Err(Failure::new(Exit::Interrupted, ended)
                    .at(key.option())
                    .remedy("--no-questions takes the usual answer for all the rest"));
            }
            let typed = typed.trim();
            if typed == "?" {
                writeln!(out, "{}", indented(&explained(key, draft)))?;
            } else if typed.is_empty() || spoken::unknown(typed) {
                return Ok(());
            } else {
                match draft.answer(key, typed) {
                    Ok(()) => return Ok(()),
                    Err(why) => writeln!(out, "  {why}")?,
                }
            }
        }
    }
}

/// What is asked, in a few words.
const fn question(key: Key) -> &'static str {
    match key {
        Key::Label => "What do you call the engine?",
        Key::Unit => "Unit of pressure: psi, bar, kPa or kgf/cm2?",
        Key::Cycle => "four-stroke or two-stroke?",
        Key::Ignition => "petrol or diesel?",
        Key::Cylinders => "How many cylinders, or their names row by row?",
        Key::Start => "How is it turned: electric, kick, pull-cord or hand-crank?",
        Key::Fuel => "carburettor or injection?",
        Key::Decompressor => "Decompressor: none, manual or automatic?",
        Key::Bore => "Bore (the cylinder's width) in mm?",
        Key::Stroke => "Stroke (the piston's way) in mm?",
        Key::Ratio => "Compression ratio, such as 9.0?",
        Key::ServiceLimit => "Manual: the lowest reading allowed?",
        Key::NormalLow => "Manual: a normal reading, from?",
        Key::NormalHigh => "Manual: a normal reading, up to?",
        Key::Altitude => "Height above sea level in m (or: 1115 ft)?",
        Key::DeadVolume => "Tester: volume of the adapter before its check valve, in cm3?",
        Key::HoseVolume => "Tester: volume of hose and sensor behind the valve, in cm3?",
        Key::WetOil => "Oil that you put in for a wet run, in cm3?",
        Key::Currency => "Buying? Currency of repair costs, such as EUR?",
        Key::TopEndCost => "Cost of a top-end job (rings, bore)?",
        Key::ValveCost => "Cost of a valve job?",
        Key::GasketCost => "Cost of a head gasket?",
    }
}

/// What Enter stands for.
fn standing(key: Key, draft: &Draft) -> String {
    match key {
        Key::Label => draft.label.clone(),
        Key::Unit => draft.unit.to_string(),
        Key::Cycle => "four-stroke".to_owned(),
        Key::Ignition => "petrol".to_owned(),
        Key::Cylinders => "1".to_owned(),
        Key::Start => "electric".to_owned(),
        Key::Currency => "no costs".to_owned(),
        _ => "not known".to_owned(),
    }
}

/// What `?` says.
fn explained(key: Key, draft: &Draft) -> String {
    let usual = |what: &str| {
        let petrol = draft.ratio.filter(|_| draft.ignition == Ignition::Spark);
        let range = petrol.map(|ratio| ranges::one(ratio, draft.unit));
        let range = range.unwrap_or_else(|| {
            "needlerest card --ranges lists what engines usually read.".to_owned()
        });
        format!(
            "{what} Type it with or without a unit. Do not guess: without it the tool compares \
             with what it can calculate, and says so.\n{range}"
        )
    };
    match key {
        Key::Label => "Any name that you will know it by on the report.".to_owned(),
        Key::Unit => "What you type without a unit is taken in this one, and readings are shown \
                      in it. psi: pounds per square inch."
            .to_owned(),
        Key::Cycle => {
            "A four-stroke fires on every second turn and has valves; a two-stroke fires \
                       on every turn and usually has ports and oil in its petrol."
                .to_owned()
        }
        Key::Ignition => "Petrol (or gas): it has spark plugs. Diesel: it has none. A diesel is \
                          never given oil for a wet run."
            .to_owned(),
        Key::Cylinders => "As they stand on the engine, because two neighbours in a row share a \
                           strip of head gasket. 3: three in a row. left / right: one on each \
                           side. 1 3 5 / 2 4 6: two rows of three. They are tested in this order."
            .to_owned(),
        Key::Start => "It tells how fast and how steadily the engine turns. electric: a starter. \
                       kick: a kick lever. pull-cord: a rope. hand-crank: a crank handle."
            .to_owned(),
        Key::Fuel => "A carburettor keeps fuel in its bowl, an injected engine has a pump to be \
                      stopped: each has a caution of its own."
            .to_owned(),
        Key::Decompressor => "What lets part of a stroke out so that the engine turns easily. \
                              manual: a lever or button. automatic: it opens by itself when the \
                              engine is turned slowly, and a sound engine reads low; its readings \
                              are then not judged."
            .to_owned(),
        Key::Bore | Key::Stroke => {
            "From the manual or the type plate; in inches with their unit: 3.54 in. With bore, \
             stroke and compression ratio the tool calculates what a tight cylinder should read; \
             a typical figure makes that a rough one."
                .to_owned()
        }
        Key::Ratio => "The whole cylinder's volume over what is left at the top, from the manual: \
                       9.0 or 9:1. Of a two-stroke: over the full stroke."
            .to_owned(),
        Key::ServiceLimit => usual("Below it the maker wants the engine repaired."),
        Key::NormalLow => usual("The lower end of what the manual calls normal."),
        Key::NormalHigh => usual("The upper end of what the manual calls normal."),
        Key::Altitude => "Thin air makes low readings: about a tenth at 1000 m. Any map or phone \
                          tells the height."
            .to_owned(),
        Key::DeadVolume | Key::HoseVolume => {
            "Matters for small cylinders: what is screwed on makes the chamber larger. Fill it \
             with water from a syringe and see how much goes in. Dry it well."
                .to_owned()
        }
        Key::WetOil => format!(
            "The oil itself takes up room and raises the reading; the tool takes that off. A piston \
             locks on oil: no more than {BY_HAND}, and {MOST_CM3} cm³ at most. Enter: as much as \
             that is asked for."
        ),
        Key::Currency => "With it you are asked what repairs would cost, and the report says what \
                          to allow for them in the price. Enter leaves costs out."
            .to_owned(),
        Key::TopEndCost | Key::ValveCost | Key::GasketCost => {
            "Parts and labour together, as a workshop near you would charge.".to_owned()
        }
    }
}

fn indented(text: &str) -> String {
    let width = crate::cli::terminal::width();
    let layout = textwrap::Options::new(width)
        .initial_indent("  ")
        .subsequent_indent("  ");
    textwrap::fill(text, layout)
}
