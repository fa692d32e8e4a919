//! From the desk to the scene that the gauge shows.

use super::hands::Hands;
use crate::cli::gauge::{BuildUpScene, Mark, Number, Scene, place_keys};
use crate::cli::live::desk::Desk;
use crate::cli::live::view::{Frame, full_scale, in_hand, read_off, sensor};
use crate::session::{MadeRun, RunState, Session, Stage};
use crate::signal::Live;

/// A warning is shown for so long, in microseconds.
const WARNED_US: u64 = 15_000_000;

/// What was pressed on a phone is shown for so long, in microseconds.
const PRESSED_US: u64 = 8_000_000;

/// The scene now.
pub(super) fn scene(desk: &Desk<Session>, frame: &Frame, hands: &Hands) -> Scene {
    let live = desk.pipeline.live();
    let over = matches!(desk.guide.stage(), Stage::Hold | Stage::Bleed);
    let mut view = desk.guide.view();
    if let Some(pressed) = pressed(desk, hands) {
        view.note = Some(match view.note {
            Some(note) => format!("{pressed} {note}"),
            None => pressed,
        });
    }
    let others: Vec<BuildUpScene> = desk.guide.made().iter().filter_map(beside).collect();
    Scene {
        engine: frame.engine.clone(),
        unit: frame.unit,
        now: live.pressure,
        number: number(desk, &live),
        full_scale: full_scale(frame, &live, &others),
        asked: frame.asked,
        // Strokes that are only due are counted on by time: after STOP nobody waits for them.
        run: in_hand(desk, &live, frame, live.count.filter(|_| !over)),
        others,
        sensor: sensor(desk, frame),
        cautions: match view.stage {
            Stage::Cautions => desk.guide.cautions(),
            Stage::AirCautions => desk.guide.air_cautions(),
            _ => Vec::new(),
        },
        keys: keys(desk, hands),
        typing: hands.typing(),
        places: desk.guide.places_asked().to_vec(),
        trouble: trouble(desk, hands),
        view,
    }
}

/// What a key that was pressed would do; else what is wrong with disk or sensor; else the last
/// warning, for a while.
fn trouble(desk: &Desk<Session>, hands: &Hands) -> Option<String> {
    let warned = || {
        let (at_us, text) = desk.warned()?;
        (desk.now_us() <= at_us + WARNED_US).then(|| text.to_owned())
    };
    hands
        .armed_words()
        .or_else(|| desk.keeping_trouble().map(str::to_owned))
        .or_else(|| desk.sensor_trouble())
        .or_else(warned)
}

/// What was pressed on a phone, for a while.
fn pressed(desk: &Desk<Session>, hands: &Hands) -> Option<String> {
    let (at_us, what) = hands.pressed.as_ref()?;
    (desk.now_us() <= at_us + PRESSED_US).then(|| format!("{what}."))
}

/// The keys that matter now: none for what this engine has not, or may not be given.
fn keys(desk: &Desk<Session>, hands: &Hands) -> Vec<(&'static str, &'static str)> {
    let session = &desk.guide;
    let mut keys = hands.keys(session.stage());
    keys.retain(|(key, _)| match *key {
        "t" => !session.has_no_throttle(),
        "o" => session.may_be_oiled(),
        "s" if session.stage() == Stage::Air => session.may_skip_air(),
        "l" => session.worth_air().next().is_some(),
        "i" => session.oil_to_pour().is_some(),
        _ => true,
    });
    for (key, what) in &mut keys {
        match *key {
            "Space" => *what = session.turns(),
            "p" if session.is_resting() => *what = "go on",
            _ => {}
        }
    }
    let places = session.places_asked().len();
    if places > 0 {
        keys.insert(0, (place_keys(places), "where"));
    }
    if session.can_undo() && !desk.replayed() {
        keys.insert(0, ("u", "undo"));
    }
    keys
}

fn number(desk: &Desk<Session>, live: &Live) -> Number {
    let holds = matches!(desk.guide.stage(), Stage::Hold | Stage::Bleed);
    if let Some(cm3) = desk.guide.oil_to_pour() {
        return Number::Oil(cm3);
    }
    match desk.guide.settled() {
        Some(reading) if holds => Number::Settled(reading.value, reading.expanded),
        _ => read_off(live),
    }
}

fn beside(made: &MadeRun) -> Option<BuildUpScene> {
    let state = match made.state {
        RunState::Good => Mark::Good,
        RunState::Wrong(_) => Mark::Wrong,
        RunState::Void(_) => return None,
    };
    Some(BuildUpScene {
        cylinder: made.cylinder.clone(),
        condition: made.condition,
        shown: made.shown.clone(),
        reading: made.reading.as_ref().map(|reading| reading.value),
        state,
    })
}
