//! Who is looking: at most sixteen at once. A phone keeps its number when it comes back.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// So many look at once.
pub(super) const MOST: usize = 16;
/// So many are remembered that have gone.
const REMEMBERED: usize = 256;

/// Who is looking.
#[derive(Debug, Default)]
pub(super) struct Phones(Mutex<Known>);

#[derive(Debug, Default)]
struct Known {
    /// What a page calls itself, and its number; the latest last.
    numbers: Vec<(String, u32)>,
    /// Numbers of those that look, and which of their connections is the latest.
    looking: BTreeMap<u32, u64>,
    last_number: u32,
    connections: u64,
}

/// One that looks, as long as this is kept.
#[derive(Debug)]
pub(super) struct Phone {
    pub(super) number: u32,
    connection: u64,
    phones: Arc<Phones>,
}

impl Phones {
    /// One more; none if there are sixteen already. One that comes again takes the place that it
    /// had.
    pub(super) fn come(self: &Arc<Self>, name: &str) -> Option<Phone> {
        let mut known = self.known();
        let before = known.numbers.iter().position(|(other, _)| other == name);
        let number = before.map_or(known.last_number + 1, |at| known.numbers[at].1);
        if known.looking.len() >= MOST && !known.looking.contains_key(&number) {
            return None;
        }
        if let Some(at) = before {
            known.numbers.remove(at);
        } else {
            known.last_number = number;
            known.forget_one_that_left();
        }
        known.numbers.push((name.to_owned(), number));
        known.connections += 1;
        let connection = known.connections;
        known.looking.insert(number, connection);
        Some(Phone {
            number,
            connection,
            phones: self.clone(),
        })
    }

    /// The number of one that is looking.
    pub(super) fn number(&self, name: &str) -> Option<u32> {
        let known = self.known();
        let (_, number) = known.numbers.iter().find(|(other, _)| other == name)?;
        known.looking.contains_key(number).then_some(*number)
    }

    /// How many are looking.
    pub(super) fn count(&self) -> usize {
        self.known().looking.len()
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        // Nothing in here can be left half done by a panic.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Known {
    fn forget_one_that_left(&mut self) {
        let gone = |(_, number): &(String, u32)| !self.looking.contains_key(number);
        let oldest = self.numbers.iter().position(gone);
        if let Some(at) = oldest.filter(|_| self.numbers.len() >= REMEMBERED) {
            self.numbers.remove(at);
        }
    }
}

impl Phone {
    /// It has not come again by another connection.
    pub(super) fn is_latest(&self) -> bool {
        let known = self.phones.known();
        known.looking.get(&self.number) == Some(&self.connection)
    }
}

impl Drop for Phone {
    fn drop(&mut self) {
        let mut known = self.phones.known();
        if known.looking.get(&self.number) == Some(&self.connection) {
            known.looking.remove(&self.number);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_seventeenth_waits_until_one_has_gone() {
        let phones = Arc::new(Phones::default());
        let mut looking: Vec<Phone> = (0..MOST)
            .map(|n| phones.come(&n.to_string()).expect("room"))
            .collect();
        assert!(phones.come("late").is_none());
        assert_eq!((phones.count(), phones.number("late")), (MOST, None));
        drop(looking.remove(4));
        let late = phones.come("late").expect("room");
        assert_eq!(late.number, 17);
        assert!(phones.come("4").is_none());
        drop(late);
        assert_eq!(phones.come("4").expect("room").number, 5);
    }

    #[test]
    fn a_phone_that_comes_again_takes_its_own_place() {
        let phones = Arc::new(Phones::default());
        let first = phones.come("mine").expect("room");
        let _other = phones.come("other").expect("room");
        let again = phones.come("mine").expect("room");
        assert_eq!((again.number, phones.count()), (first.number, 2));
        assert!(again.is_latest() && !first.is_latest());
        drop(first);
        assert_eq!(phones.number("mine"), Some(1));
        drop(again);
        assert_eq!((phones.number("mine"), phones.count()), (None, 1));
    }

    #[test]
    fn names_of_those_that_left_do_not_pile_up() {
        let phones = Arc::new(Phones::default());
        let stays = phones.come("stays").expect("room");
        for n in 0..10_000 {
            phones.come(&n.to_string()).expect("room");
        }
        assert!(phones.known().numbers.len() <= REMEMBERED);
        assert_eq!(phones.number("stays"), Some(stays.number));
    }
}
