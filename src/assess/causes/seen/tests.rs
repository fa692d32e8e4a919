//! Where air is heard.

use super::*;

/// It is heard somewhere or nowhere: for each cause the probabilities of all places add up to one, and the place
/// that belongs to what leaks is the likeliest.
#[test]
fn air_is_heard_somewhere_or_nowhere() {
    for two_stroke in [false, true] {
        let likeliest = |of: fn(&Heard) -> f64| {
            // A two-stroke has no breather.
            let has = |place: &Place| !(two_stroke && *place == Place::Breather);
            let places = Place::ALL.into_iter().filter(has);
            let heard: Vec<(Place, f64)> = places
                .map(|place| (place, of(&Heard::at(place, two_stroke))))
                .collect();
            let sum: f64 = heard.iter().map(|(_, p)| p).sum();
            // Nor is anything heard there by mistake (0.02, of a gasket 0.04).
            let least = if two_stroke { 0.959 } else { 0.999 };
            assert!((least..1.001).contains(&sum), "{heard:?}");
            heard
                .into_iter()
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map(|(place, _)| place)
        };
        assert_eq!(likeliest(|heard| heard.intake), Some(Place::Intake));
        assert_eq!(likeliest(|heard| heard.exhaust), Some(Place::Exhaust));
        assert_eq!(likeliest(|heard| heard.gasket), Some(Place::NextHole));
        let quiet = if two_stroke {
            Place::Nowhere
        } else {
            Place::Breather
        };
        assert_eq!(likeliest(|heard| heard.sound), Some(quiet));
        // A two-stroke's crankcase is what the carburettor breathes from.
        let below = if two_stroke {
            Place::Intake
        } else {
            Place::Breather
        };
        assert_eq!(likeliest(|heard| heard.rings), Some(below));
    }
    // Coolant is a gasket's sign before anything else's.
    let coolant = Heard::at(Place::Coolant, false);
    assert!(
        coolant.gasket > coolant.rings
            && coolant.gasket > coolant.sound
            && coolant.gasket > coolant.exhaust
    );
}
