//! Every prefix of every demo recording gives a sane state.

use needlerest::pipeline::{Options, Player, analyse};
use needlerest::signal::{Outcome, State};
use std::io::Cursor;

const DEMOS: [(&str, &[u8]); 4] = [
    ("finch", include_bytes!("../../demo/finch.jsonl")),
    ("heron", include_bytes!("../../demo/heron.jsonl")),
    ("otter", include_bytes!("../../demo/otter.jsonl")),
    ("wren", include_bytes!("../../demo/wren.jsonl")),
];

#[test]
fn the_state_is_sane_after_every_record() {
    for (name, bytes) in DEMOS {
        let mut player = Player::open(Cursor::new(bytes), Options::default()).unwrap();
        while player.step().unwrap().is_some() {
            let live = player.pipeline().live();
            if live.strokes == 0 {
                assert!(
                    matches!(live.state, State::SeekingZero | State::Ready),
                    "{name}"
                );
                assert_eq!(live.count, None, "{name}");
            }
            if let Some(count) = live.count {
                assert!(
                    count.needle.is_finite() && count.needle.pa() > 0.0,
                    "{name}"
                );
                assert!(count.heading >= count.needle, "{name}");
                assert!(
                    count.tolerance.pa() > 0.0 && count.unseen < count.made,
                    "{name}"
                );
                if live.state == State::Settled {
                    assert!(count.made >= 4, "{name}");
                }
            }
        }
    }
}

/// Cut anywhere, a recording gives the runs that were complete, and the one in hand never counts
/// as settled before its fourth stroke, kick or pull.
#[test]
fn a_recording_cut_anywhere_gives_sane_runs() {
    for (name, bytes) in DEMOS {
        let whole = analyse(Cursor::new(bytes), Options::default()).unwrap();
        let ends: Vec<usize> = (0..bytes.len()).filter(|i| bytes[*i] == b'\n').collect();
        for end in ends.iter().skip(1).step_by(23) {
            let cut = analyse(Cursor::new(&bytes[..=*end]), Options::default()).unwrap();
            let runs = &cut.findings.runs;
            assert!(
                runs.len() <= whole.findings.runs.len() + 1,
                "{name} at {end}"
            );
            for run in runs {
                let result = &run.result;
                assert_eq!(
                    result.reading.is_none(),
                    result.outcome == Outcome::NoReading
                );
                if result.outcome == Outcome::Settled {
                    assert!(result.count >= 4, "{name} at {end}");
                }
            }
        }
    }
}
