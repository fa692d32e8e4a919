//! Plots: drawn for everything from nothing to twelve cylinders in three conditions.

use crate::fixture;
use needlerest::report::Units;
use needlerest::report::chart::{
    Align, Scene, Shape, by_condition, by_cylinder, png, sheet, svg, text_width,
};

/// Left, top, right, bottom of a text, as the carried font measures it.
fn boxes(scene: &Scene) -> Vec<(String, [f64; 4])> {
    scene
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Text {
                at,
                text,
                size,
                align,
                bold,
            } => {
                let wide = text_width(text, *size, *bold);
                let left = match align {
                    Align::Left => at.0,
                    Align::Middle => at.0 - wide / 2.0,
                    Align::Right => at.0 - wide,
                };
                let place = [left, at.1 - 0.76 * size, left + wide, at.1 + 0.24 * size];
                Some((text.clone(), place))
            }
            _ => None,
        })
        .collect()
}

fn assert_texts_apart(scene: &Scene) {
    let boxes = boxes(scene);
    for (n, (text, a)) in boxes.iter().enumerate() {
        assert!(a[0] >= 0.0 && a[2] <= scene.width, "{text} leaves the plot");
        assert!(
            a[1] >= 0.0 && a[3] <= scene.height,
            "{text} leaves the plot"
        );
        for (other, b) in &boxes[n + 1..] {
            let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
            assert!(apart, "{text} lies over {other} in {}", scene.title);
        }
    }
}

#[test]
fn texts_never_overlap_nor_leave_the_plot() {
    let mut all = vec![
        fixture::four(),
        fixture::twelve(),
        fixture::one(),
        fixture::none(),
        fixture::hostile(),
    ];
    all.extend((1..=12).map(fixture::cylinders));
    for findings in all {
        let units = Units::default();
        assert_texts_apart(&sheet(&findings, units));
        for width in [480.0, 800.0] {
            by_condition(&findings, units, width)
                .iter()
                .for_each(assert_texts_apart);
            by_cylinder(&findings, units, width)
                .iter()
                .for_each(assert_texts_apart);
        }
    }
}

#[test]
fn files_are_what_they_say_and_the_same_each_time() {
    let scene = sheet(&fixture::four(), Units::default());
    let drawn = svg(&scene).unwrap();
    assert!(drawn.starts_with("<svg width=\"800\""));
    assert_eq!(drawn, svg(&scene).unwrap());
    let picture = png(&scene).unwrap();
    assert_eq!(&picture[..8], b"\x89PNG\r\n\x1a\n");
    assert_eq!(
        u32::from_be_bytes(picture[16..20].try_into().unwrap()),
        1600
    );
    assert_eq!(picture, png(&scene).unwrap());
}

#[test]
fn hostile_names_stay_text_in_the_svg() {
    let drawn = svg(&sheet(&fixture::hostile(), Units::default())).unwrap();
    assert!(!drawn.contains("<script") && !drawn.contains("<img"));
}
