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
                assert_eq!(live.estimate, None, "{name}");
            }
            if let Some(estimate) = live.estimate {
                assert!(
                    estimate.plateau.is_finite() && estimate.standard.pa() > 0.0,
                    "{name}"
                );
                assert!(
                    estimate.tolerance.pa() > 0.0 && estimate.left.is_finite(),
                    "{name}"
                );
                if live.state == State::Settled {
                    assert!(live.strokes >= 3, "{name}");
                }
            }
        }
    }
}

/// Cut anywhere, a recording gives the runs that were complete, and the one in hand never counts
/// as settled before its third stroke.
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
                    assert!(result.strokes.len() >= 3, "{name} at {end}");
                }
            }
        }
    }
}
