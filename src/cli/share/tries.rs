//! How often a wrong address is answered: whoever guesses does not get on faster by asking more.

use std::time::{Duration, Instant};

/// So many in a second.
const MOST: u32 = 20;
const SECOND: Duration = Duration::from_secs(1);

/// Counts wrong tries, of everyone together.
#[derive(Debug)]
pub(super) struct Tries {
    since: Instant,
    count: u32,
}

impl Tries {
    pub(super) fn new(now: Instant) -> Self {
        Self {
            since: now,
            count: 0,
        }
    }

    /// Whether one more is answered.
    pub(super) fn answered(&mut self, now: Instant) -> bool {
        if now.duration_since(self.since) >= SECOND {
            *self = Self::new(now);
        }
        self.count = self.count.saturating_add(1);
        self.count <= MOST
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_in_a_second_are_answered() {
        let begin = Instant::now();
        let mut tries = Tries::new(begin);
        let mut ask = |ms: u64| tries.answered(begin + Duration::from_millis(ms));
        let answered = (0..100).filter(|n| ask(n * 5)).count();
        assert_eq!(answered, 20);
        assert!(!ask(999));
        let answered = (0..100).filter(|n| ask(1000 + n * 5)).count();
        assert_eq!(answered, 20);
    }
}
