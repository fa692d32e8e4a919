//! The virtual sensor through the trait that every sensor goes through.

use needlerest::engine::Condition;
use needlerest::protocol::{Decoder, ProtocolFile};
use needlerest::simulate::Recipe;
use needlerest::transport::{
    Arrival, Pace, PracticeHand, PracticeSensor, Source, practice, virtual_sensor,
};
use needlerest::units::Time;

const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");
/// One absolute pressure a notification, without number or clock.
const ENVIRONMENTAL: &str = include_str!("../../protocol/environmental-sensing.toml");

fn finch() -> Recipe {
    Recipe::parse(include_str!("../../demo/finch.recipe.toml")).expect("a recipe")
}

/// A sensor with the decoder that its own protocol file asks for.
struct Listener {
    sensor: PracticeSensor,
    hand: PracticeHand,
    decoder: Decoder,
}

impl Listener {
    fn new(protocol: &str, pace: Pace) -> Self {
        let file = ProtocolFile::parse(protocol).expect("sound");
        let (sensor, hand) = practice(finch(), &file).expect("a sensor");
        let sensor = sensor.at_pace(pace);
        assert_eq!(sensor.origin().protocol, protocol);
        Self {
            sensor,
            hand,
            decoder: Decoder::new(&file),
        }
    }

    /// Pressures in kPa of the next `seconds`.
    async fn listen(&mut self, seconds: f64) -> Vec<f64> {
        let mut samples = Vec::new();
        let until = self.sensor.now_us() as f64 * 1e-6 + seconds;
        loop {
            let arrival = self.sensor.next().await.expect("no error");
            let Some(Arrival::Packet(packet)) = arrival else {
                panic!("only packets come: {arrival:?}");
            };
            let at = packet.t_us as f64 * 1e-6;
            self.decoder
                .accept(&packet.from, Time::from_s(at), &packet.hex, &mut samples);
            if at >= until {
                return samples.iter().map(|s| s.pressure.kpa()).collect();
            }
        }
    }

    /// Highest pressure while so many kicks are given, a second apart.
    async fn kicks(&mut self, count: usize) -> f64 {
        let mut highest = f64::MIN;
        for _ in 0..count {
            self.hand.kick();
            highest = self.listen(2.0).await.into_iter().fold(highest, f64::max);
        }
        highest
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Kicked, held, bled, oiled: worn rings read low, and oil lifts them.
async fn story(protocol: &str, at_rest_kpa: f64) {
    let mut finch = Listener::new(protocol, Pace::Fast);
    let rest = mean(&finch.listen(1.0).await);
    // The zero error of the sensor is 3.1 kPa.
    assert!((rest - at_rest_kpa).abs() < 4.0, "{rest}");
    let dry = finch.kicks(10).await - rest;
    assert!(dry > 400.0, "{dry}");
    let held = mean(&finch.listen(1.0).await) - rest;
    assert!(held > 0.9 * dry, "held {held} of {dry}");
    finch.hand.bleed();
    finch.listen(2.5).await;
    let bled = mean(&finch.listen(0.5).await) - rest;
    assert!(bled.abs() < 2.0, "bled {bled}");
    finch.hand.fit("1", Condition::Wet);
    let fitted = mean(&finch.listen(0.5).await) - rest;
    assert!(fitted.abs() < 2.0, "moved {fitted}");
    let wet = finch.kicks(10).await - rest;
    assert!(wet > 1.3 * dry, "dry {dry}, wet {wet}");
}

#[tokio::test]
async fn it_speaks_the_reference_protocol() {
    story(REFERENCE, 0.0).await;
}

#[tokio::test]
async fn it_speaks_another_protocol_packed_differently() {
    story(ENVIRONMENTAL, 100.3).await;
}

/// Lines and frames, cut into notifications.
#[tokio::test]
async fn it_speaks_lines_of_text_and_frames() {
    const TEXT: &str = include_str!("../../protocol/examples/text-lines.toml");
    const FRAMES: &str = include_str!("../../protocol/examples/frames.toml");
    story(TEXT, 100.3).await;
    story(FRAMES, 0.0).await;
}

/// Real time by a clock that stands still until someone waits, and five times as fast.
#[tokio::test(start_paused = true)]
async fn real_time_or_faster() {
    for (pace, speed) in [(Pace::OwnTime, 1.0), (Pace::Times(5.0), 5.0)] {
        let begun = tokio::time::Instant::now();
        let mut finch = Listener::new(REFERENCE, pace);
        finch.listen(10.0).await;
        let took = begun.elapsed().as_secs_f64();
        assert!((took * speed - 10.0).abs() < 0.2, "{pace:?}: {took}");
    }
}

#[tokio::test]
async fn stopped_it_says_nothing_more() {
    let mut finch = Listener::new(REFERENCE, Pace::Fast);
    finch.listen(0.2).await;
    finch.sensor.stop().await.expect("it stops");
    assert_eq!(finch.sensor.next().await.expect("no error"), None);
    finch.sensor.stop().await.expect("twice is no error");
}

/// The radio's faults come through the same trait, and the decoder counts them.
#[tokio::test]
async fn losses_come_through_the_trait() {
    let mut recipe = finch();
    recipe.runs.truncate(1);
    let count = async |recipe: &Recipe| {
        let mut source = virtual_sensor(recipe, REFERENCE, None, Pace::Fast).expect("a sensor");
        let file = ProtocolFile::parse(REFERENCE).expect("sound");
        let (mut decoder, mut samples) = (Decoder::new(&file), Vec::new());
        while let Some(arrival) = source.next().await.expect("no error") {
            if let Arrival::Packet(packet) = arrival {
                let at = Time::from_s(packet.t_us as f64 * 1e-6);
                decoder.accept(&packet.from, at, &packet.hex, &mut samples);
            }
        }
        decoder.flush(&mut samples);
        decoder.counts()
    };
    let sound = count(&recipe).await;
    assert_eq!((sound.lost, sound.repeated), (0, 0));
    recipe.radio.loss = 0.05;
    recipe.radio.repeated = 0.05;
    let faulty = count(&recipe).await;
    assert!(faulty.lost > 5 && faulty.repeated > 5, "{faulty:?}");
}

/// A recipe that cannot be simulated is refused by the name of the field.
#[test]
fn an_impossible_engine_is_refused() {
    let file = ProtocolFile::parse(REFERENCE).expect("sound");
    let mut recipe = finch();
    recipe.engine.rod_mm = 10.0;
    let error = practice(recipe, &file).err().expect("no such engine");
    assert!(error.to_string().contains("engine.rod_mm"), "{error}");
    let mut recipe = finch();
    recipe.runs.clear();
    assert!(practice(recipe, &file).is_err());
}
