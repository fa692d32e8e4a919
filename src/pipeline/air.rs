//! Tests with air on their way through the pipeline: as long as one is under way the samples are its
//! own, and no strokes are looked for.

use super::news::News;
use super::stream::Pipeline;
use crate::engine::expected::CHARGE;
use crate::engine::{Ambient, Site};
use crate::leakdown::{AirTest, Place, Settings, Stage, Told, Watch};
use crate::protocol::Reference;
use crate::recording::Event;
use crate::signal::Sample;
use crate::units::Pressure;

/// Most tests with air that are kept of a recording.
pub const MOST_AIR_TESTS: usize = 200;

impl Pipeline {
    /// The tests with air so far.
    pub fn air_tests(&self) -> &[AirTest] {
        &self.air
    }

    /// The test with air under way.
    pub const fn air(&self) -> Option<&Watch> {
        self.watch.as_ref()
    }

    pub(super) fn begin_air(&mut self, event: &Event) {
        let settings = self.air_settings();
        self.watch = match event.clone() {
            Event::LeakDown {
                cylinder,
                condition,
                restrictor,
            } => Some(Watch::leak_down(settings, cylinder, condition, restrictor)),
            Event::Decay {
                filled,
                cylinder,
                volume_cm3,
            } => {
                let volume = volume_cm3.filter(|cm3| *cm3 > 0.0 && cm3.is_finite());
                Some(Watch::decay(settings, filled, cylinder, volume))
            }
            _ => None,
        };
    }

    pub(super) fn direct_air(&mut self, stage: Stage) {
        if let Some(watch) = &mut self.watch {
            watch.set_stage(stage);
        }
    }

    /// Where air is heard may be said after the test, too.
    pub(super) fn hear(&mut self, places: &[Place]) {
        if let Some(watch) = &mut self.watch {
            watch.hear(places);
        } else if let Some(AirTest::LeakDown { heard, .. }) = self.air.last_mut() {
            *heard = places.to_vec();
        }
    }

    pub(super) fn end_air(&mut self, news: &mut Vec<News>) {
        if let Some(watch) = self.watch.take()
            && self.air.len() < MOST_AIR_TESTS
        {
            news.push(News::AirTested(self.air.len()));
            self.air.push(watch.finish());
        }
    }

    /// Hands samples to the test with air, if one is under way.
    pub(super) fn watched(&mut self, samples: &[Sample], news: &mut Vec<News>) -> bool {
        let Some(watch) = &mut self.watch else {
            return false;
        };
        let mut told: Vec<Told> = Vec::new();
        for sample in samples {
            watch.push(*sample, &mut told);
        }
        news.extend(told.into_iter().map(News::Air));
        true
    }

    fn air_settings(&self) -> Settings {
        let site = self.card.as_ref().and_then(|card| card.site.as_ref());
        Settings {
            absolute: self.protocol.reference() == Reference::Absolute,
            ambient_absolute: Ambient::of(site).absolute,
            air: site.and_then(Site::air).unwrap_or(CHARGE),
            resolution: self.protocol.resolution().unwrap_or(Pressure::ZERO),
            accuracy_standard: self
                .protocol
                .accuracy_uncertainty()
                .unwrap_or(Pressure::ZERO),
        }
    }
}
