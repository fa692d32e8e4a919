//! Level and noise of the sensor at rest.

pub(super) mod screen;

/// A chunk of rest lasts at least this long (s) and holds at least [`CHUNK_SAMPLES`].
const CHUNK_S: f64 = 0.2;
const CHUNK_SAMPLES: u32 = 2;
/// Rest must have been watched this long (s) before its level counts as a zero.
const WATCH_S: f64 = 0.3;

/// A chunk weighs this much of the next one: gas that warms up or leaks away before the first
/// stroke moves the zero.
const FADE: f64 = 0.75;
/// The same for the noise: the end of a bleed is no noise, but a slow sensor gives few samples.
const FADE_NOISE: f64 = 0.85;
/// A chunk lower than the level so far by this many standard deviations of its own samples shows
/// that what came before was the end of a bleed, not rest.
const BLEEDING: f64 = 3.0;
/// Differences that a chunk needs to know its own noise.
const KNOWS_NOISE: u32 = 10;
/// A noise known from fewer differences than this is doubtful.
const DOUBTED: f64 = 5.0;

/// Sums over a stretch of samples.
#[derive(Clone, Copy, Debug, Default)]
struct Chunk {
    started_s: f64,
    ended_s: f64,
    n: u32,
    sum: f64,
    /// Sum of squared differences of neighbours, and how many there are.
    squares: f64,
    pairs: u32,
    last: f64,
}

impl Chunk {
    fn start(t: f64, x: f64) -> Self {
        Self {
            started_s: t,
            ended_s: t,
            n: 1,
            sum: x,
            squares: 0.0,
            pairs: 0,
            last: x,
        }
    }
    fn add(&mut self, t: f64, x: f64) {
        let step = x - self.last;
        self.squares += step * step;
        self.pairs += 1;
        self.n += 1;
        self.sum += x;
        self.last = x;
        self.ended_s = t;
    }
    fn mean(&self) -> f64 {
        self.sum / f64::from(self.n.max(1))
    }
    /// Standard deviation of a sample, from differences of neighbours.
    fn noise(&self) -> f64 {
        (self.squares / (2.0 * f64::from(self.pairs.max(1)))).sqrt()
    }
    fn full(&self) -> bool {
        self.n >= CHUNK_SAMPLES && self.ended_s - self.started_s >= CHUNK_S
    }
}

/// Watches a sensor at rest in chunks. The chunk in hand and the one before it count only when
/// more rest follows, so that the foot of a rising stroke never enters the zero.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rest {
    in_hand: Option<Chunk>,
    waiting: Option<Chunk>,
    watched_s: f64,
    n: f64,
    mean: f64,
    /// Weighted sum of squared deviations of the chunk means (West 1979).
    spread: f64,
    /// Chunks in the mean, faded.
    kept: f64,
    squares: f64,
    pairs: f64,
    /// What [`Self::so_far`] says until the next chunk begins.
    so_far: Option<(f64, f64)>,
}

/// What a rest says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct RestLevel {
    pub(crate) level: f64,
    /// Standard uncertainty of the level.
    pub(crate) standard: f64,
    /// Standard deviation of a single sample.
    pub(crate) noise: f64,
}

impl Rest {
    /// Takes a sample at rest.
    pub(crate) fn push(&mut self, t: f64, x: f64) {
        let Some(chunk) = &mut self.in_hand else {
            self.in_hand = Some(Chunk::start(t, x));
            return;
        };
        if chunk.full() {
            let mut done = *chunk;
            // Until the next one begins: a slow sensor's samples are far apart.
            done.ended_s = t;
            *chunk = Chunk::start(t, x);
            self.so_far = None;
            if let Some(earlier) = self.waiting.replace(done) {
                self.commit(&earlier);
            }
        } else {
            chunk.add(t, x);
        }
    }

    fn commit(&mut self, chunk: &Chunk) {
        let fallen = self.mean - chunk.mean();
        if self.n > 0.0 && chunk.pairs >= KNOWS_NOISE && fallen > BLEEDING * chunk.noise() {
            let (in_hand, waiting) = (self.in_hand, self.waiting);
            *self = Self {
                in_hand,
                waiting,
                ..Self::default()
            };
        }
        let weight = f64::from(chunk.n);
        self.n = FADE * self.n + weight;
        self.spread *= FADE;
        self.kept = FADE * self.kept + 1.0;
        let off = chunk.mean() - self.mean;
        self.mean += off * weight / self.n;
        self.spread += weight * off * (chunk.mean() - self.mean);
        self.squares = FADE_NOISE * self.squares + chunk.squares;
        self.pairs = FADE_NOISE * self.pairs + f64::from(chunk.pairs);
        self.watched_s += chunk.ended_s - chunk.started_s;
    }

    /// The level, once it has been watched long enough. Noise is von Neumann's mean square
    /// successive difference, which a slow drift does not inflate; `floor` is what the
    /// resolution alone leaves.
    pub(crate) fn level(&self, floor: f64) -> Option<RestLevel> {
        if !self.settled() {
            return None;
        }
        let noise = (self.squares / (2.0 * self.pairs)).sqrt().max(floor);
        let white = noise / self.n.sqrt();
        // Drift between chunks shows in the scatter of their means.
        let drift = if self.kept > 1.5 {
            (self.spread / self.n / (self.kept - 1.0)).sqrt()
        } else {
            0.0
        };
        Some(RestLevel {
            level: self.mean,
            standard: white.max(drift).max(floor / self.n.sqrt()),
            noise,
        })
    }

    /// Whether it has been watched long enough.
    pub(crate) fn settled(&self) -> bool {
        self.watched_s >= WATCH_S && self.pairs >= 1.0
    }

    /// Where the sensor rests as far as is known yet, and the noise: what the next sample is
    /// compared with. A noise known from a few samples only is mixed with `doubt`.
    pub(crate) fn so_far(&mut self, doubt: f64) -> Option<(f64, f64)> {
        if self.so_far.is_some() {
            return self.so_far;
        }
        let newest = self.in_hand?;
        let newest = self.waiting.unwrap_or(newest);
        let level = if self.n > 0.0 {
            self.mean
        } else {
            newest.mean()
        };
        let squares = self.squares + newest.squares;
        let pairs = self.pairs + f64::from(newest.pairs);
        let doubted = (DOUBTED - pairs).max(0.0);
        let variance = (0.5 * squares + doubted * doubt * doubt) / (pairs + doubted).max(1.0);
        let so_far = Some((level, variance.sqrt()));
        if self.waiting.is_some() {
            self.so_far = so_far;
        }
        so_far
    }
}

#[cfg(test)]
mod tests;
