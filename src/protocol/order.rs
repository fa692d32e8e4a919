//! Packets by their sequence number: what is lost, what came twice, what came late.

use crate::units::Time;

/// Packets that are held back at most while one before them may still come.
const HELD: usize = 3;
/// How far ahead of the expected a packet may be for the ones between to be waited for. Radio and
/// host stack swap neighbours, not more.
const NEAR: u64 = 8;
/// How long they are held back at most, in seconds of arrival.
const HELD_FOR_S: f64 = 0.25;
/// How far behind the expected a packet counts as late or repeated.
const BEHIND: u64 = 32;

/// A packet that came before its turn.
#[derive(Clone, Debug)]
pub(super) struct Held {
    ahead: u64,
    pub arrived: Time,
    pub payload: Vec<u8>,
}

/// Where a packet belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// It is its turn.
    Next,
    /// This many are missing before it.
    Ahead(u64),
    /// It has been here before, or comes too late.
    Behind,
    /// So far off that the sensor must have begun to count anew.
    Elsewhere,
}

/// How a packet was held back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kept {
    /// After all others that are held.
    Last,
    /// Before one that is held: it came out of order.
    Before,
    /// Not at all: it is held already.
    Already,
}

/// What a packet released from being held is preceded by.
pub(super) struct Released {
    pub packet: Held,
    /// Packets that are lost before it.
    pub lost: u64,
}

/// The sequence numbers of a stream.
#[derive(Clone, Debug)]
pub(super) struct Order {
    modulus: u64,
    next: Option<u64>,
    held: Vec<Held>,
}

impl Order {
    /// For a sequence number that counts up to `highest` and then from 0 again.
    pub(super) fn new(highest: i64) -> Self {
        Self {
            modulus: highest.unsigned_abs() + 1,
            next: None,
            held: Vec::with_capacity(HELD + 1),
        }
    }

    /// Whether a packet went before, so that the next can follow it.
    pub(super) fn is_under_way(&self) -> bool {
        self.next.is_some()
    }

    /// Where the packet with this number belongs.
    pub(super) fn place(&self, sequence: u64) -> Place {
        let Some(next) = self.next else {
            return Place::Next;
        };
        match self.once_around(sequence + self.modulus - next) {
            0 => Place::Next,
            ahead if ahead >= self.modulus - BEHIND.min(self.modulus / 4) => Place::Behind,
            ahead if ahead < self.modulus / 2 => Place::Ahead(ahead),
            _ => Place::Elsewhere,
        }
    }

    /// A number that has gone round at most once (a division, which this saves, is slow).
    fn once_around(&self, number: u64) -> u64 {
        number.checked_sub(self.modulus).unwrap_or(number)
    }

    /// Counts the packet with this number as taken.
    pub(super) fn advance_past(&mut self, sequence: u64) {
        self.next = Some(self.once_around(sequence + 1));
        for held in &mut self.held {
            held.ahead = held.ahead.saturating_sub(1);
        }
    }

    /// Holds a packet back that is `ahead` of its turn.
    pub(super) fn hold(&mut self, ahead: u64, arrived: Time, payload: &[u8]) -> Kept {
        let at = self.held.partition_point(|held| held.ahead < ahead);
        if self.held.get(at).is_some_and(|held| held.ahead == ahead) {
            return Kept::Already;
        }
        let payload = payload.to_vec();
        let late = at < self.held.len();
        let held = Held {
            ahead,
            arrived,
            payload,
        };
        self.held.insert(at, held);
        if late { Kept::Before } else { Kept::Last }
    }

    /// Whether packets are being held back.
    pub(super) fn is_waiting(&self) -> bool {
        !self.held.is_empty()
    }

    /// When the earliest of the packets held back came.
    pub(super) fn waiting_since(&self) -> Option<Time> {
        self.held.iter().map(|held| held.arrived).reduce(Time::min)
    }

    /// Whether what is missing before the held packets is worth waiting for.
    pub(super) fn worth_waiting(&self, now: Time) -> bool {
        let in_time = self
            .waiting_since()
            .is_none_or(|since| (now - since).s() <= HELD_FOR_S);
        let near = self.held.last().is_none_or(|held| held.ahead <= NEAR);
        in_time && near && self.held.len() <= HELD
    }

    /// The next of the held packets, if it is its turn, or if `force` says that whatever is
    /// missing before it is lost.
    pub(super) fn release(&mut self, force: bool) -> Option<Released> {
        let first = self.held.first()?;
        if first.ahead > 0 && !force {
            return None;
        }
        let packet = self.held.remove(0);
        let lost = packet.ahead;
        let next = self.next.unwrap_or(0);
        self.next = Some((next + lost + 1) % self.modulus);
        for held in &mut self.held {
            held.ahead = held.ahead.saturating_sub(lost + 1);
        }
        Some(Released { packet, lost })
    }

    /// Forgets what was expected: the next packet is taken whatever its number.
    pub(super) fn begin_anew(&mut self) {
        self.next = None;
        self.held.clear();
    }
}
