//! A newcomer practises, and cranks as the screen says: on every engine that comes along, with and
//! without a check valve, STOP comes for every cylinder.

use needlerest::engine::Condition;
use needlerest::pipeline::{News, Options, Pipeline};
use needlerest::protocol::ProtocolFile;
use needlerest::recording::{Event as Written, FORMAT, Header, Record, TimedEvent, VERSION};
use needlerest::signal::{Event, Live, State};
use needlerest::simulate::Recipe;
use needlerest::transport::{Arrival, Pace, PracticeHand, PracticeSensor, Source, practice};

const SENSOR: &str = include_str!("../../protocol/reference-sensor.toml");

/// Recipe, card, and how many cylinders.
const ENGINES: [(&str, &str, &[&str]); 4] = [
    (
        include_str!("../../demo/practice/starter-twin.recipe.toml"),
        include_str!("../../demo/practice/starter-twin.card.toml"),
        &["1", "2"],
    ),
    (
        include_str!("../../demo/practice/starter-four.recipe.toml"),
        include_str!("../../demo/practice/starter-four.card.toml"),
        &["1", "2", "3", "4"],
    ),
    (
        include_str!("../../demo/practice/kicked-twin.recipe.toml"),
        include_str!("../../demo/practice/kicked-twin.card.toml"),
        &["left", "right"],
    ),
    (
        include_str!("../../demo/practice/pulled-single.recipe.toml"),
        include_str!("../../demo/practice/pulled-single.card.toml"),
        &["1"],
    ),
];

/// Nobody kicks more often than this without asking what is wrong.
const PATIENCE: u32 = 20;
/// From one kick, pull or two seconds of cranking to the next (s).
const EVERY_S: f64 = 2.1;

struct Bench {
    sensor: PracticeSensor,
    hand: PracticeHand,
    pipeline: Pipeline,
    now_s: f64,
}

impl Bench {
    fn new(recipe: Recipe, card: &str) -> Self {
        let protocol = ProtocolFile::parse(SENSOR).expect("sound");
        let (sensor, hand) = practice(recipe, &protocol).expect("a sensor");
        let sensor = sensor.at_pace(Pace::Fast);
        let header = Header {
            format: FORMAT.to_owned(),
            version: VERSION,
            tool: "test".to_owned(),
            started: "2026-05-02T09:00:00Z".to_owned(),
            protocol: SENSOR.to_owned(),
            sensor: sensor.origin().sensor.clone(),
            card: Some(card.to_owned()),
        };
        Self {
            pipeline: Pipeline::new(header, Options::default()).expect("sound"),
            sensor,
            hand,
            now_s: 0.0,
        }
    }

    /// Lets time pass; gives what the analysis said.
    async fn wait(&mut self, seconds: f64) -> Vec<News> {
        let mut news = Vec::new();
        let until = self.now_s + seconds;
        while self.now_s < until {
            let Some(Arrival::Packet(packet)) = self.sensor.next().await.expect("goes on") else {
                panic!("only packets come");
            };
            self.now_s = packet.t_us as f64 * 1e-6;
            self.pipeline.take(&Record::Packet(packet), &mut news);
        }
        news
    }

    fn live(&self) -> Live {
        self.pipeline.live()
    }
}

/// Cranks one cylinder until STOP; gives how often that was, if it came.
async fn crank(bench: &mut Bench, cylinder: &str) -> Option<u32> {
    let run = Written::Run {
        cylinder: cylinder.to_owned(),
        condition: Condition::ColdDry,
    };
    let t_us = (bench.now_s * 1e6) as u64;
    let begins = Record::Event(TimedEvent { t_us, event: run });
    bench.pipeline.take(&begins, &mut Vec::new());
    bench.hand.fit(cylinder, Condition::ColdDry);
    bench.wait(2.0).await;
    for kick in 1..=PATIENCE {
        bench.hand.kick();
        let news = bench.wait(EVERY_S).await;
        if news
            .iter()
            .any(|event| matches!(event, News::Signal(Event::Settled { .. })))
        {
            // Nobody touches it: it stays called.
            bench.wait(4.0).await;
            assert_eq!(bench.live().state, State::Settled, "{cylinder}");
            bench.hand.bleed();
            bench.wait(3.0).await;
            return Some(kick);
        }
    }
    None
}

#[tokio::test]
async fn stop_comes_on_every_practice_engine() {
    for (recipe, card, cylinders) in ENGINES {
        for valve in [true, false] {
            let mut recipe = Recipe::parse(recipe).expect("sound");
            let about = recipe.about.clone();
            if !valve {
                recipe.tester = recipe.tester.without_check_valve();
                recipe.sensor.rate_hz = 500.0;
            }
            let mut bench = Bench::new(recipe, card);
            for cylinder in cylinders {
                let stopped = crank(&mut bench, cylinder).await;
                assert!(
                    stopped.is_some_and(|kicks| kicks <= 12),
                    "{about}, check valve {valve}, cylinder {cylinder}: {stopped:?}"
                );
            }
        }
    }
}
