//! Puts the lines of a file in the order of their numbers, where some were lost, copied or moved.
//!
//! A line whose number fits the one before is in place. One whose number is too high may be
//! misplaced, or lines before it are missing: it is held back until the lines after it tell. Those
//! that go on from it make a run; if two come that go on from where the file had been before, they
//! outweigh the run, which was misplaced. So one misplaced line costs at most itself, and a
//! misplaced block no more than the block.

use super::format::Record;
use super::found::{Line, SealState};
use super::line::Damage;
use std::collections::VecDeque;

/// Most lines that are held back, and most bytes of them: then the run is taken for the true one.
const MOST_HELD: usize = 1024;
const MOST_BYTES: usize = 1024 * 1024;

/// A line whose check value is right.
#[derive(Debug)]
pub(super) struct Sound {
    pub(super) number: u64,
    pub(super) record: Record,
    /// Of a seal: what came of it where it stands.
    pub(super) seal: Option<SealState>,
}

/// A line that has its place.
#[derive(Debug)]
pub(super) enum Placed {
    /// It is to be used.
    Sound { line: u64, sound: Sound },
    /// It cannot be, or lines before it are missing.
    Damaged(Line),
}

/// What a line that is held back belongs to.
#[derive(Debug, PartialEq)]
enum Side {
    /// The run that began with a number too high.
    Run,
    /// What would go on from where the file had been before.
    Rival,
    /// Neither: it is misplaced whatever comes of those.
    Neither,
}

#[derive(Debug)]
struct Held {
    line: u64,
    count: u64,
    what: Result<(Sound, Side), Damage>,
}

/// The run that is held back.
#[derive(Clone, Copy, Debug)]
struct Run {
    first: u64,
    /// Its last line: number, and place among those held back.
    last: (u64, usize),
    /// The same of the line before the last, if the last does not follow on it.
    before: Option<(u64, usize)>,
    /// It is one line, which nothing has confirmed.
    lone: bool,
}

/// The lines, as far as their order is known.
#[derive(Debug)]
pub(super) struct Order {
    /// The number that the next line should have.
    next: u64,
    /// Lines since the last good one that could not be read: they explain a gap in the numbers.
    unreadable: u64,
    run: Option<Run>,
    /// The rival's only line so far: number, and place among those held back.
    rival: Option<(u64, usize)>,
    held: VecDeque<Held>,
    bytes: usize,
    placed: VecDeque<Placed>,
}

impl Order {
    /// After the header.
    pub(super) fn new() -> Self {
        Self {
            next: 2,
            unreadable: 0,
            run: None,
            rival: None,
            held: VecDeque::new(),
            bytes: 0,
            placed: VecDeque::new(),
        }
    }

    /// The number that the next line should have.
    pub(super) fn next(&self) -> u64 {
        self.next
    }

    /// The next line that has its place.
    pub(super) fn pop(&mut self) -> Option<Placed> {
        self.placed.pop_front()
    }

    /// Whether no line is left.
    pub(super) fn is_empty(&self) -> bool {
        self.placed.is_empty() && self.held.is_empty()
    }

    /// Takes the file's next line, `length` bytes long; of damage, `count` lines on end.
    pub(super) fn push(
        &mut self,
        line: u64,
        count: u64,
        length: usize,
        what: Result<Sound, Damage>,
    ) {
        let Some(run) = self.run else {
            match what {
                Ok(sound) if sound.number > self.next.saturating_add(self.unreadable) => {
                    self.hold(line, length, sound, Side::Run);
                }
                Ok(sound) if sound.number >= self.next => self.place(line, sound),
                Ok(sound) => self.misplaced(line, sound.number),
                Err(damage) => self.damaged(line, count, damage),
            }
            return;
        };
        match what {
            Err(damage) => {
                self.bytes += length;
                let what = Err(damage);
                self.held.push_back(Held { line, count, what });
            }
            Ok(sound) if sound.number < self.next => {
                self.hold(line, length, sound, Side::Neither);
            }
            Ok(sound) => self.weigh(run, line, length, sound),
        }
        if self.held.len() >= MOST_HELD || self.bytes >= MOST_BYTES {
            self.decide(&Side::Run);
        }
    }

    /// The file is at its end: the run stands.
    pub(super) fn end(&mut self) {
        self.decide(&Side::Run);
    }

    /// Weighs a line against the run that is held back.
    fn weigh(&mut self, run: Run, line: u64, length: usize, sound: Sound) {
        let number = sound.number;
        if number > run.last.0 {
            self.forget_rival();
            self.hold(line, length, sound, Side::Run);
        } else if run.lone {
            // Of two single lines the lower one loses less.
            self.decide(&Side::Rival);
            self.push(line, 1, length, Ok(sound));
        } else if run.before.is_some_and(|(before, _)| number > before) {
            self.drop_last(run);
            self.hold(line, length, sound, Side::Run);
        } else if number >= run.first {
            self.hold(line, length, sound, Side::Neither);
        } else if self
            .rival
            .is_some_and(|(rival, _)| number == rival.saturating_add(1))
        {
            self.hold(line, length, sound, Side::Rival);
            self.decide(&Side::Rival);
        } else {
            self.forget_rival();
            self.rival = Some((number, self.held.len()));
            self.hold(line, length, sound, Side::Rival);
        }
    }

    fn hold(&mut self, line: u64, length: usize, sound: Sound, side: Side) {
        if side == Side::Run {
            let here = (sound.number, self.held.len());
            self.run = Some(match self.run {
                None => Run {
                    first: sound.number,
                    last: here,
                    before: None,
                    lone: true,
                },
                Some(run) => Run {
                    first: run.first,
                    last: here,
                    before: (sound.number != run.last.0.saturating_add(1)).then_some(run.last),
                    lone: false,
                },
            });
        }
        self.bytes += length;
        self.held.push_back(Held {
            line,
            count: 1,
            what: Ok((sound, side)),
        });
    }

    /// The last line of the run does not follow on the one before it, and one has come that stands
    /// between them.
    fn drop_last(&mut self, run: Run) {
        self.set_side(run.last.1, Side::Neither);
        if let Some(before) = run.before {
            self.run = Some(Run {
                last: before,
                before: None,
                ..run
            });
        }
    }

    /// One line alone does not outweigh a run.
    fn forget_rival(&mut self) {
        if let Some((_, place)) = self.rival.take() {
            self.set_side(place, Side::Neither);
        }
    }

    fn set_side(&mut self, place: usize, side: Side) {
        if let Some(Ok(held)) = self.held.get_mut(place).map(|held| held.what.as_mut()) {
            held.1 = side;
        }
    }

    /// Puts all that was held back in place: one side is used, the other is not.
    fn decide(&mut self, used: &Side) {
        self.run = None;
        self.rival = None;
        self.bytes = 0;
        for held in std::mem::take(&mut self.held) {
            match held.what {
                Ok((sound, side)) if side == *used => self.place(held.line, sound),
                Ok((sound, _)) => self.misplaced(held.line, sound.number),
                Err(damage) => self.damaged(held.line, held.count, damage),
            }
        }
    }

    fn place(&mut self, line: u64, sound: Sound) {
        let gap = sound.number.saturating_sub(self.next);
        let missing = gap.saturating_sub(self.unreadable);
        if missing > 0 {
            let outcome = Err(Damage::Missing { lines: missing });
            self.placed.push_back(Placed::Damaged(Line {
                number: line,
                count: 1,
                outcome,
            }));
        }
        self.next = sound.number.saturating_add(1);
        self.unreadable = 0;
        self.placed.push_back(Placed::Sound { line, sound });
    }

    fn misplaced(&mut self, number: u64, found: u64) {
        let expected = self.next;
        let outcome = Err(Damage::OutOfOrder { found, expected });
        self.placed.push_back(Placed::Damaged(Line {
            number,
            count: 1,
            outcome,
        }));
    }

    fn damaged(&mut self, number: u64, count: u64, damage: Damage) {
        self.unreadable += count;
        let outcome = Err(damage);
        self.placed.push_back(Placed::Damaged(Line {
            number,
            count,
            outcome,
        }));
    }
}
