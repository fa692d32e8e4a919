//! The page for the phone beside the terminal's screen: both are of the same scene, and say the same.

use crate::screen::{bare, climbing, link_lost, oil, render, settled, text};
use needlerest::cli::gauge::{PhonePage, Picture, Scene, Theme, phone_page};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use serde_json::Value;

/// A screen with room for every word.
const LARGE: (u16, u16) = (200, 60);

fn picture(scene: &Scene) -> Value {
    serde_json::to_value(Picture::from(scene)).expect("JSON")
}

fn words(value: &Value) -> Vec<String> {
    match value {
        Value::String(text) => vec![text.clone()],
        Value::Array(list) => list.iter().flat_map(words).collect(),
        _ => Vec::new(),
    }
}

#[test]
fn every_word_of_the_page_is_on_the_screen() {
    for scene in [climbing(), settled(), link_lost(), oil(), bare()] {
        let picture = picture(&scene);
        let screen = text(&render(&scene, Theme::Colour, LARGE.0, LARGE.1));
        for field in [
            "engine", "run", "count", "sensor", "next", "trouble", "caption", "about",
        ] {
            for said in words(&picture[field]) {
                assert!(screen.contains(&said), "{field}: {said:?} in\n{screen}");
            }
        }
        // Where something is wrong, the screen has room for that alone.
        if scene.trouble.is_none() {
            for said in words(&picture["note"]) {
                assert!(screen.contains(&said), "{said:?} in\n{screen}");
            }
        }
        // Headline and number are in block letters on the large screen, plain on a narrow one.
        let narrow = text(&render(&scene, Theme::Colour, 22, 9));
        for field in ["headline", "number"] {
            for said in words(&picture[field]) {
                assert!(narrow.contains(&said), "{field}: {said:?} in\n{narrow}");
            }
        }
        for run in picture["runs"].as_array().expect("a list") {
            for said in [&run["name"], &run["value"], &run["symbol"]] {
                let said = said.as_str().expect("text");
                assert!(screen.contains(said), "{said:?} in\n{screen}");
            }
        }
    }
}

#[test]
fn lengths_are_shares_of_the_scale() {
    let needle = &picture(&climbing())["needle"];
    // Of 200 psi: the needle at 128.4, the limit at 110, normal from 135 to 170, heading for 134.2.
    for (name, share) in [
        ("now", 0.642),
        ("limit", 0.55),
        ("low", 0.675),
        ("high", 0.85),
        ("target", 0.671),
    ] {
        assert_eq!(needle[name], share, "{name}");
    }
    assert_eq!(needle["numbers"][1], serde_json::json!([0.25, "50"]));
}

#[test]
fn the_page_with_the_address_serves_any_window() {
    let page = PhonePage {
        code: vec!["█▀ ▄".repeat(10); 20],
        url: "http://192.168.1.5:8023/abcdefghjkmnpqrstuvwxyz234".to_owned(),
        looking: 2,
        control: true,
    };
    for theme in [Theme::Colour, Theme::Plain] {
        for width in (1..130).step_by(3) {
            for height in 1..45 {
                let area = Rect::new(0, 0, width, height);
                let mut buf = Buffer::empty(area);
                phone_page(&page, theme, area, &mut buf);
                let shown = text(&buf);
                if width >= 60 && height >= 10 {
                    assert!(shown.contains(&page.url), "{width}×{height}\n{shown}");
                    assert!(shown.contains("2 phones are looking"), "{shown}");
                }
                // The code is whole or not there.
                let rows = shown.lines().filter(|line| line.matches('▀').count() >= 10);
                assert!([0, 20].contains(&rows.count()), "{width}×{height}\n{shown}");
            }
        }
    }
}
