//! What phones see while recording: nobody guides, so it shows what there is, and says no more than
//! that it is recorded.

use crate::cli::gauge::{BuildUpScene, Mark, Scene};
use crate::cli::live::desk::{Desk, Unguided};
use crate::cli::live::view::{Frame, full_scale, in_hand, read_off, sensor};
use crate::cli::share::Share;
use crate::engine::{Condition, EngineKind, Rating};
use crate::pipeline::{Pipeline, Run};
use crate::recording::Event;
use crate::session::{self, Link, Stage, Tone, View};
use crate::units::PressureUnit;

/// The gauge of a recording, shared.
pub(super) struct Shared<'a> {
    share: &'a mut Share,
    frame: Frame,
    /// The run that was announced, and how many there were then.
    run: Option<(String, Condition, usize)>,
}

impl<'a> Shared<'a> {
    pub(super) fn new(share: &'a mut Share, pipeline: &Pipeline, sensor: String) -> Self {
        let card = pipeline.card();
        let unit = card.map_or_else(PressureUnit::default, |card| card.display.unit);
        let rating = Rating::of(card, pipeline.protocol().gauge_top());
        share.caution(session::cautions(&EngineKind::of(card), rating, unit));
        Self {
            share,
            frame: Frame::new(card, sensor, unit),
            run: None,
        }
    }

    /// Something was written, after so many runs.
    pub(super) fn happened(&mut self, event: &Event, runs: usize) {
        if let Event::Run {
            cylinder,
            condition,
        } = event
        {
            self.run = Some((cylinder.clone(), *condition, runs));
        }
    }

    /// Shows how it is now, if it is time for that.
    pub(super) fn show(&mut self, desk: &Desk<Unguided>) {
        if self.share.is_due() {
            let scene = self.scene(desk);
            self.share.show(&scene, desk.now_us());
        }
    }

    fn scene(&self, desk: &Desk<Unguided>) -> Scene {
        let live = desk.pipeline.live();
        let runs = desk.pipeline.runs();
        let others: Vec<BuildUpScene> = runs.iter().map(beside).collect();
        let run = self.run.as_ref();
        let run = run.filter(|(.., before)| *before == runs.len());
        Scene {
            engine: self.frame.engine.clone(),
            view: View {
                run: run.map(|(cylinder, condition, _)| (cylinder.clone(), *condition)),
                count: (0, 0),
                ..words(desk)
            },
            cautions: Vec::new(),
            unit: self.frame.unit,
            now: live.pressure,
            number: read_off(&live),
            full_scale: full_scale(&self.frame, &live, &others),
            asked: self.frame.asked,
            run: in_hand(desk, &live, &self.frame, live.count),
            others,
            sensor: sensor(desk, &self.frame),
            keys: Vec::new(),
            places: Vec::new(),
            typing: None,
            trouble: desk
                .keeping_trouble()
                .map(str::to_owned)
                .or_else(|| desk.sensor_trouble()),
        }
    }
}

fn words(desk: &Desk<Unguided>) -> View {
    let (tone, headline, next) = match desk.link().0 {
        Link::Up => (
            Tone::Calm,
            "RECORDING",
            "What the sensor tells is recorded; nobody says when to stop. Ctrl-C at the computer ends it.",
        ),
        Link::Silent => (
            Tone::Trouble,
            "NO SIGNAL",
            "Nothing comes from the sensor: is it on? Wait for it, do not crank.",
        ),
        Link::Lost => (
            Tone::Trouble,
            "LINK LOST",
            "Link lost. Do not crank; bring the computer nearer to the sensor.",
        ),
    };
    View {
        stage: Stage::Ready,
        tone,
        headline,
        next: next.to_owned(),
        note: None,
        run: None,
        count: (0, 0),
    }
}

fn beside(run: &Run) -> BuildUpScene {
    let strokes = run.result.strokes.iter();
    BuildUpScene {
        cylinder: run.cylinder.clone(),
        condition: run.condition,
        shown: strokes.map(|stroke| stroke.shown(run.result.rig)).collect(),
        reading: run.result.reading.as_ref().map(|reading| reading.value),
        state: if run.void { Mark::Void } else { Mark::Good },
    }
}
