//! Lines that were moved, copied or dropped cost themselves and nothing else.

use crate::made::{event, packet, records, small_header};
use needlerest::recording::{Damage, Event, Reader, Record, Writer};
use proptest::prelude::*;

/// A sealed recording of so many lines.
fn recording(lines: u64) -> Vec<Vec<u8>> {
    let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
    for n in 2..lines {
        if n % 17 == 0 {
            let text = n.to_string();
            writer.event(&event(n, Event::Mark { text })).unwrap();
        } else {
            writer.packet(&packet(n, n as u32)).unwrap();
        }
    }
    let bytes = writer.seal().unwrap().0;
    let lines = bytes.split_inclusive(|byte| *byte == b'\n');
    lines.map(<[u8]>::to_vec).collect()
}

/// How many of the recording's records are not among those that are read, and how many lines are
/// told as damaged. What is read is in order and comes once.
fn lost(whole: &[Record], bytes: &[u8]) -> (usize, usize) {
    let reader = Reader::new(bytes).unwrap();
    let outcomes: Vec<_> = reader.map(|line| line.unwrap().outcome).collect();
    let told = outcomes.iter().filter(|outcome| outcome.is_err()).count();
    let mut left = whole.iter();
    let mut used = 0;
    for record in outcomes.into_iter().flatten() {
        let found = left.any(|one| *one == record);
        assert!(found, "a record comes twice or out of order: {record:?}");
        used += 1;
    }
    (whole.len() - used, told)
}

/// The line that was found to cost 538 others.
#[test]
fn a_late_line_copied_to_the_front_costs_nothing_else() {
    let mut lines = recording(600);
    let whole = records(&lines.concat());
    lines.insert(1, lines[540].clone());
    assert_eq!(lost(&whole, &lines.concat()), (0, 1));
}

#[test]
fn a_block_of_the_disk_that_stands_elsewhere_costs_the_block() {
    let lines = recording(900);
    let whole = records(&lines.concat());
    // 40 lines are what a block of 4 kB holds.
    for (from, to) in [(500, 10), (10, 500), (858, 1), (400, 403)] {
        let mut torn = lines.clone();
        for n in 0..40 {
            torn[to + n].clone_from(&lines[from + n]);
        }
        let (lost, told) = lost(&whole, &torn.concat());
        assert!(lost <= 80 && told > 0, "{from} to {to}: {lost} lost");
        let mut copied = lines.clone();
        let block = lines[from..from + 40].to_vec();
        copied.splice(to..to, block);
        let (lost, told) = crate::misplaced::lost(&whole, &copied.concat());
        assert!(lost <= 40 && told > 0, "{from} to {to}: {lost} lost");
    }
}

#[test]
fn a_number_out_of_this_world_costs_nothing_else() {
    let lines = recording(50);
    let whole = records(&lines.concat());
    let mut far = Writer::begin(Vec::new(), &small_header()).unwrap();
    for n in 0..3000 {
        far.packet(&packet(n, 1)).unwrap();
    }
    let far = far.seal().unwrap().0;
    let last = far
        .split_inclusive(|byte| *byte == b'\n')
        .next_back()
        .unwrap();
    for place in 1..50 {
        let mut with = lines.clone();
        with.insert(place, last.to_vec());
        assert_eq!(lost(&whole, &with.concat()), (0, 1), "{place}");
    }
}

/// Lines 2 to 9 are gone, and of what goes on from 10 one stands out of line: it alone is misplaced, as the
/// line after it goes on from the one before it.
#[test]
fn a_late_line_within_a_run_that_waits_costs_nothing_else() {
    let lines = recording(60);
    let whole = records(&lines.concat());
    let mut with: Vec<Vec<u8>> = vec![lines[0].clone()];
    with.extend_from_slice(&lines[9..11]);
    with.push(lines[19].clone());
    with.extend_from_slice(&lines[11..]);
    assert_eq!(lost(&whole, &with.concat()), (8, 2));
}

/// No more than a mebibyte is held back: a run of lines larger than that is taken for the true one before
/// anything can speak against it, smaller lines are not.
#[test]
fn lines_that_wait_are_not_kept_without_end() {
    let with_texts_of = |bytes: usize| {
        let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
        for n in 2..150_u64 {
            let text = "x".repeat(bytes);
            writer.event(&event(n, Event::Mark { text })).unwrap();
        }
        let bytes = writer.seal().unwrap().0;
        let whole = records(&bytes);
        let lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
        // Lines 10 to 129 stand before 2 to 9.
        let order = [&lines[..1], &lines[9..129], &lines[1..9], &lines[129..]];
        lost(&whole, &order.concat().concat())
    };
    assert_eq!(with_texts_of(13_000), (8, 9));
    assert_eq!(with_texts_of(10), (120, 121));
}

#[test]
fn where_most_lines_are_gone_all_that_are_left_are_used() {
    let lines = recording(4000);
    let whole = records(&lines.concat());
    for step in [2, 3, 7, 1500] {
        let left: Vec<&[u8]> = lines.iter().map(Vec::as_slice).step_by(step).collect();
        let (lost, _) = lost(&whole, &left.concat());
        // The header is no record of the reader's.
        assert_eq!(whole.len() - lost, left.len() - 1, "every {step}th line");
    }
}

#[test]
fn a_gap_is_told_before_the_line_after_it() {
    let mut lines = recording(12);
    lines.remove(4);
    let outcomes: Vec<_> = Reader::new(lines.concat().as_slice())
        .unwrap()
        .map(|line| line.unwrap())
        .collect();
    assert_eq!(outcomes[3].outcome, Err(Damage::Missing { lines: 1 }));
    assert_eq!((outcomes[3].number, outcomes[4].number), (5, 5));
    assert!(outcomes[4].outcome.is_ok());
}

proptest! {
    /// Any one line behind the header moved, copied or dropped: at most that line is lost, and it
    /// is told.
    #[test]
    fn one_line_moved_copied_or_dropped_costs_at_most_itself(
        count in 3..120_u64,
        from in any::<prop::sample::Index>(),
        to in any::<prop::sample::Index>(),
        kind in 0..3,
    ) {
        let lines = recording(count);
        let whole = records(&lines.concat());
        let from = 1 + from.index(lines.len() - 1);
        let mut changed = lines.clone();
        if kind > 0 {
            changed.remove(from);
        }
        if kind < 2 {
            let to = 1 + to.index(changed.len());
            changed.insert(to, lines[from].clone());
        }
        let (lost, told) = lost(&whole, &changed.concat());
        prop_assert!(lost <= usize::from(kind > 0), "{lost} lost");
        let last = kind == 2 && from + 1 == lines.len();
        prop_assert_eq!(told > 0, changed != lines && !last);
    }

    /// The same with a second fault: a line that cannot be read.
    #[test]
    fn beside_a_line_that_cannot_be_read_too(
        count in 4..80_u64,
        from in any::<prop::sample::Index>(),
        to in any::<prop::sample::Index>(),
        bad in any::<prop::sample::Index>(),
    ) {
        let lines = recording(count);
        let whole = records(&lines.concat());
        let from = 1 + from.index(lines.len() - 1);
        let mut changed = lines.clone();
        changed.insert(1 + to.index(lines.len()), lines[from].clone());
        let bad = 1 + bad.index(changed.len() - 1);
        changed[bad] = b"{}\n".to_vec();
        let (lost, _) = lost(&whole, &changed.concat());
        prop_assert!(lost <= 2, "{lost} lost");
    }
}
