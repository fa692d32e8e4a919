//! What is read off a run's strokes.

use super::*;

fn stroke(number: u32, count: u32) -> Stroke {
    let at = f64::from(number);
    Stroke {
        number,
        time: Time::from_s(at),
        peak: Pressure::from_pa(100.0 - at),
        rise: Pressure::ZERO,
        needle: Pressure::from_pa(100.0 + at),
        count,
        interval: None,
        cut_off: Pressure::ZERO,
        packets_missing: false,
        clipped: false,
    }
}

/// A gauge behind a check valve stands; one without falls back and shows each top.
#[test]
fn a_gauge_shows_the_needle_where_it_is_held() {
    let stroke = stroke(3, 3);
    assert_eq!(stroke.shown(Some(Rig::Following)).pa(), 97.0);
    for rig in [Some(Rig::Holding), None] {
        assert_eq!(stroke.shown(rig).pa(), 103.0);
    }
}

/// The call stands on a count of strokes or kicks: the last stroke of that kick, or, where the last were only
/// due, of the last that was seen.
#[test]
fn the_call_stands_on_the_last_stroke_of_its_count() {
    let of = |count: Option<u32>| {
        let call = count.map(|count| Call {
            time: Time::from_s(9.0),
            count,
            unseen: 0,
        });
        let run = RunResult {
            started: Time::ZERO,
            ended: Time::from_s(9.0),
            rig: None,
            zero: Zero {
                level: Pressure::ZERO,
                standard: Pressure::ZERO,
                measured: true,
            },
            noise: Pressure::ZERO,
            strokes: vec![stroke(1, 1), stroke(2, 1), stroke(3, 2), stroke(4, 5)],
            turned: Turned::InKicks,
            count: 5,
            build_up: None,
            outcome: Outcome::Settled,
            call,
            reading: None,
            cadence: None,
            droop: None,
            flags: Vec::new(),
            grade: Grade::Good,
        };
        run.stroke_of_call().map(|stroke| stroke.number)
    };
    let told = [None, Some(0), Some(1), Some(2), Some(4), Some(5), Some(9)].map(of);
    assert_eq!(
        told,
        [None, None, Some(2), Some(3), Some(3), Some(4), Some(4)]
    );
}
