//! What a recording is said to hold: runs, kinds of events, notes, what was lost.

use super::made::{event, every_event, header, packet, small};
use needlerest::engine::Condition;
use needlerest::recording::{Event, Reader, SealState, Summary, Writer};
use std::collections::BTreeMap;

fn summary(bytes: &[u8]) -> Summary {
    Summary::read(&mut Reader::new(bytes).unwrap()).unwrap()
}

fn recorded(events: impl IntoIterator<Item = Event>) -> Summary {
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    for (second, happened) in events.into_iter().enumerate() {
        writer
            .event(&event(1_000_000 * second as u64, happened))
            .unwrap();
    }
    summary(&writer.seal().unwrap().0)
}

/// Each kind by a name that a reader knows; two that differ are never counted as one.
#[test]
fn events_are_counted_by_name() {
    let told = recorded(every_event());
    let expected: BTreeMap<&str, u64> = [
        ("run", 1),
        ("end", 1),
        ("void", 2),
        ("name", 1),
        ("resumed", 1),
        ("link lost", 1),
        ("link back", 1),
        ("link quality", 2),
        ("leak-down", 1),
        ("decay", 1),
        ("air", 1),
        ("heard", 1),
        ("mark", 1),
        ("note", 1),
    ]
    .into();
    assert_eq!(told.events, expected);
    assert_eq!(told.notes.len(), 2, "a mark and a note");
    let last = every_event().len() - 1;
    assert_eq!(told.duration.s(), last as f64, "the last event's time");
}

#[test]
fn runs_are_named_in_order_with_their_times() {
    let run = |cylinder: &str, condition| Event::Run {
        cylinder: cylinder.to_owned(),
        condition,
    };
    let told = recorded([
        run("1", Condition::WarmDry),
        Event::End,
        run("2", Condition::Wet),
    ]);
    let named: Vec<_> = told
        .runs
        .iter()
        .map(|run| (run.at.s(), run.cylinder.as_str(), run.condition))
        .collect();
    assert_eq!(
        named,
        [(0.0, "1", Condition::WarmDry), (2.0, "2", Condition::Wet)]
    );
}

/// A file may name any number of runs, notes and characteristics: a hundred are listed, all packets are counted.
#[test]
fn lists_end_at_a_hundred() {
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    for i in 0..150 {
        let run = Event::Run {
            cylinder: i.to_string(),
            condition: Condition::ColdDry,
        };
        writer.event(&event(i, run)).unwrap();
        let text = i.to_string();
        writer.event(&event(i, Event::Note { text })).unwrap();
        let mut strange = packet(i, 100);
        strange.from = format!("characteristic {i}");
        writer.packet(&strange).unwrap();
        writer.packet(&strange).unwrap();
    }
    let told = summary(&writer.seal().unwrap().0);
    assert_eq!((told.runs.len(), told.notes.len()), (100, 100));
    assert_eq!(told.events["run"], 150);
    assert_eq!(told.packets.values().sum::<u64>(), 300);
    assert_eq!(told.packets.len(), 101);
    assert_eq!(told.packets["others"], 100);
}

/// What is sound, and what is not: a line spoilt, a line missing, the last one torn, the seal broken.
#[test]
fn damage_makes_it_unsound() {
    let whole = small();
    assert!(summary(&whole).is_sound());
    let lines: Vec<&[u8]> = whole.split_inclusive(|byte| *byte == b'\n').collect();
    let without = |at: usize| [&lines[..at], &lines[at + 1..]].concat().concat();
    let missing = summary(&without(3));
    assert!(!missing.is_sound());
    assert_eq!((missing.missing_lines, missing.damaged_lines), (1, 0));
    let mut spoilt = whole.clone();
    spoilt[lines[0].len() + 20] ^= 2;
    let spoilt = summary(&spoilt);
    assert!(!spoilt.is_sound());
    assert_eq!((spoilt.damaged_lines, spoilt.damage[0].line), (1, 2));
    let torn = summary(&whole[..whole.len() - 20]);
    assert!(torn.torn_tail && !torn.is_sound());
    assert_eq!(torn.damaged_lines, 1);
    // Without its seal alone it is sound: recording was ended by a power cut between two lines.
    assert!(summary(&without(lines.len() - 1)).is_sound());
}

/// Lines with nothing in them, however many, are each counted as damaged, and what follows is read.
#[test]
fn empty_lines_are_counted_one_by_one() {
    let whole = small();
    let lines: Vec<&[u8]> = whole.split_inclusive(|byte| *byte == b'\n').collect();
    for blanks in [1, 2, 7, 5000] {
        let between = vec![b'\n'; blanks];
        let bytes = [lines[..2].concat(), between, lines[2..].concat()].concat();
        let told = summary(&bytes);
        assert_eq!(told.damaged_lines, blanks as u64);
        assert_eq!(told.lines, (lines.len() + blanks) as u64);
        assert_eq!(told.packets["stream"], 4, "the packets behind them");
        assert!(matches!(told.seal, SealState::Broken { .. }));
    }
}
