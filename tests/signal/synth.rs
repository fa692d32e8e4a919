//! Arrays made by formula: a cylinder without leak behind either rig. They share nothing with the
//! simulator, so that the two check each other.

use needlerest::signal::{Analyser, Event, RunResult, Sample, Settings};
use needlerest::units::{Pressure, Time};

/// A deterministic noise source (Marsaglia's xorshift, *J. Stat. Softw.* 8 (2003) 14).
pub struct Noise(pub u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    /// About normal, variance 1 (sum of twelve).
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// Volume over clearance volume at crank angle `a` (rad), ratio 10, rod 3.5 (Heywood eq. 2.6; from
/// memory).
pub fn volume(a: f64) -> f64 {
    let (sin, cos) = libm::sincos(a);
    1.0 + 4.5 * (4.5 - cos - (12.25 - sin * sin).sqrt())
}

/// Absolute pressure over ambient in a four-stroke cycle at `turn` (0 to 2 crank turns, 1 is top
/// dead centre of compression): polytropic with n = 1.3 while the valves are shut, from 60° after
/// bottom dead centre.
pub fn cycle(turn: f64) -> f64 {
    let angle = (turn - 1.0) * std::f64::consts::TAU;
    let shut = 120.0_f64.to_radians();
    if angle.abs() > shut {
        return 1.0;
    }
    libm::pow(volume(shut) / volume(angle), 1.3)
}

pub const AMBIENT: f64 = 101_325.0;
/// Gauge peak of [`cycle`].
pub fn peak() -> f64 {
    AMBIENT * (cycle(1.0) - 1.0)
}

/// What the sensor sees at `t` on a following rig; cranking at `period` per stroke from 1 s on.
pub fn following(t: f64, period: f64, height: impl Fn(u32) -> f64, strokes: u32) -> f64 {
    let turns = (t - 1.0) / period;
    if turns < 0.0 || turns >= f64::from(strokes) {
        return 0.0;
    }
    height(turns as u32) * AMBIENT * (cycle(2.0 * turns.fract()) - 1.0)
}

/// As [`following`], each stroke with its period (s) and height.
pub fn uneven(t: f64, strokes: &[(f64, f64)]) -> f64 {
    let mut begins = 1.0;
    for (period, height) in strokes {
        if t >= begins && t < begins + period {
            return height * AMBIENT * (cycle(2.0 * (t - begins) / period) - 1.0);
        }
        begins += period;
    }
    0.0
}

/// Held level at `t`: the running maximum of a check valve with build ratio `rho`.
pub fn holding(t: f64, period: f64, plateau: f64, rho: f64, strokes: u32) -> f64 {
    let turns = (t - 1.0) / period;
    if turns < 0.0 {
        return 0.0;
    }
    let done = (turns as u32).min(strokes);
    let level = |k: u32| plateau * (1.0 - libm::pow(rho, f64::from(k)));
    let within = if done < strokes { turns.fract() } else { 0.0 };
    // The step comes within a twentieth of the period before top dead centre.
    let share = ((within - 0.45) / 0.05).clamp(0.0, 1.0);
    level(done) + share * (level(done + 1) - level(done))
}

/// A sensor of 2500 kPa that tells 0.5 kPa.
pub fn settings() -> Settings {
    Settings {
        resolution: Pressure::from_pa(500.0),
        range_max: Some(Pressure::from_kpa(2500.0)),
        ..Settings::default()
    }
}

pub fn sample(t: f64, pa: f64) -> Sample {
    Sample {
        time: Time::from_s(t),
        pressure: Pressure::from_pa(pa),
        clipped: false,
        gap_before: false,
    }
}

/// Samples of `signal` with noise, at `rate` for `length` seconds.
pub fn samples(
    rate: f64,
    length: f64,
    noise: f64,
    seed: u64,
    signal: impl Fn(f64) -> f64,
) -> Vec<Sample> {
    let mut source = Noise(seed * 2_654_435_761 + 1);
    (0..(length * rate) as u32)
        .map(|i| {
            let t = f64::from(i) / rate;
            sample(t, signal(t) + noise * source.normal())
        })
        .collect()
}

pub fn analyse(settings: Settings, samples: &[Sample]) -> Vec<Event> {
    let mut analyser = Analyser::new(settings);
    let mut events = Vec::new();
    for sample in samples {
        analyser.push(*sample, &mut events);
    }
    analyser.finish(&mut events);
    events
}

pub fn runs(events: &[Event]) -> Vec<RunResult> {
    events
        .iter()
        .filter_map(|event| match event {
            Event::RunEnded(run) => Some((**run).clone()),
            _ => None,
        })
        .collect()
}
