//! Bytes as a source of decisions: the same bytes always give the same ones, and when they run
//! out everything is zero.

/// Where the next decision comes from.
pub struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    pub fn new(data: &'a [u8]) -> Self {
        Self(data)
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn byte(&mut self) -> u8 {
        match self.0.split_first() {
            Some((first, rest)) => {
                self.0 = rest;
                *first
            }
            None => 0,
        }
    }

    pub fn below(&mut self, bound: u8) -> u8 {
        self.byte() % bound.max(1)
    }

    pub fn chance(&mut self) -> bool {
        self.byte() & 1 == 1
    }

    pub fn take(&mut self, length: usize) -> &'a [u8] {
        let (taken, rest) = self.0.split_at(length.min(self.0.len()));
        self.0 = rest;
        taken
    }

    pub fn u64(&mut self) -> u64 {
        let mut wide = [0; 8];
        let taken = self.take(8);
        wide[..taken.len()].copy_from_slice(taken);
        u64::from_le_bytes(wide)
    }

    pub fn u32(&mut self) -> u32 {
        self.u64() as u32
    }

    /// Mostly a number of everyday size, now and then any bits whatever.
    pub fn number(&mut self, usual: f64) -> f64 {
        match self.byte() {
            0 => 0.0,
            1 => f64::NAN,
            2 => f64::INFINITY,
            3 => f64::NEG_INFINITY,
            4 => f64::from_bits(self.u64()),
            5 => -usual,
            6 => f64::MAX,
            7 => f64::MIN_POSITIVE,
            near => usual * (f64::from(near) / 128.0 + f64::from(self.byte()) / 32768.0),
        }
    }

    /// A finite number.
    pub fn finite(&mut self, usual: f64) -> f64 {
        let number = self.number(usual);
        if number.is_finite() { number } else { usual }
    }

    pub fn perhaps<T>(&mut self, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        self.chance().then(|| make(self))
    }

    /// A short text, hostile ones among them.
    pub fn text(&mut self) -> String {
        const HOSTILE: [&str; 8] = [
            "",
            "<script>alert(1)</script>",
            "</script>\"'&",
            "=1+1",
            "a\u{202e}b\u{0}\u{1b}[31m",
            "\r\n,;\"",
            "ﷺ\u{1f3cd}\u{301}\u{301}",
            "{{ 7 }}{% raw %}",
        ];
        match self.byte() {
            at @ 0..8 => HOSTILE[usize::from(at)].to_owned(),
            length @ 8..40 => String::from_utf8_lossy(self.take(usize::from(length))).into_owned(),
            other => format!("{}", other % 12),
        }
    }
}
