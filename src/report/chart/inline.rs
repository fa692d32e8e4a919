//! A scene as inline SVG for the page: colours come from the page's style sheet, so that they
//! follow light, dark and print.

use super::marks::outline;
use super::scene::{Align, Ink, Point, Scene, Shape};
use crate::report::palette::{Marker, Style};
use std::fmt::Write as _;

/// The scene as an `<svg>` element. `id` makes the ids of its title and description unique.
pub fn inline(scene: &Scene, id: &str) -> String {
    let (w, h) = (scene.width, scene.height);
    let mut out = format!(
        "<svg class=\"plot\" viewBox=\"0 0 {w:.0} {h:.0}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
         <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>",
        escape(&scene.title),
        escape(&scene.description),
    );
    for shape in &scene.shapes {
        draw(&mut out, shape);
    }
    out.push_str("</svg>");
    out
}

/// Writing to a string cannot fail.
macro_rules! put { ($out:expr, $($arg:tt)*) => { let _ = write!($out, $($arg)*); } }

fn draw(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Line {
            points,
            ink,
            width,
            dashed,
        } => {
            let dash = if *dashed { " d" } else { "" };
            let points = list(points);
            put!(
                out,
                "<polyline class=\"l {}{dash}\" stroke-width=\"{width}\" points=\"{points}\"/>",
                class(*ink)
            );
        }
        Shape::Band { from, to, ink } => {
            let (w, h) = (to.0 - from.0, to.1 - from.1);
            put!(
                out,
                "<rect class=\"{}\" x=\"{:.1}\" y=\"{:.1}\" width=\"{w:.1}\" height=\"{h:.1}\"/>",
                class(*ink),
                from.0,
                from.1
            );
        }
        Shape::Mark {
            at,
            style,
            radius,
            filled,
        } => mark(out, *at, *style, *radius, *filled),
        Shape::Ring { at, radius } => {
            put!(
                out,
                "<circle class=\"ring\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius}\"/>",
                at.0,
                at.1
            );
        }
        Shape::Text {
            at,
            text,
            size,
            align,
            bold,
        } => {
            let anchor = match align {
                Align::Left => "",
                Align::Middle => " text-anchor=\"middle\"",
                Align::Right => " text-anchor=\"end\"",
            };
            let weight = if *bold { " font-weight=\"bold\"" } else { "" };
            put!(
                out,
                "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{size}\"{anchor}{weight}>{}</text>",
                at.0,
                at.1,
                escape(text)
            );
        }
    }
}

fn mark(out: &mut String, at: Point, style: Style, radius: f64, filled: bool) {
    let class = format!(
        "m c{}{}",
        style.colour_index(),
        if filled { "" } else { " open" }
    );
    if style.marker() == Marker::Circle {
        put!(
            out,
            "<circle class=\"{class}\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius}\"/>",
            at.0,
            at.1
        );
    } else {
        let points = list(&outline(style.marker(), at, radius));
        put!(out, "<polygon class=\"{class}\" points=\"{points}\"/>");
    }
}

fn class(ink: Ink) -> String {
    match ink {
        Ink::Ink => "ink".to_owned(),
        Ink::Grid => "grid".to_owned(),
        Ink::Curve(style) => format!("c{}", style.colour_index()),
        Ink::Range => "range".to_owned(),
        Ink::Limit => "limit".to_owned(),
    }
}

fn list(points: &[Point]) -> String {
    let points: Vec<String> = points
        .iter()
        .map(|(x, y)| format!("{x:.1},{y:.1}"))
        .collect();
    points.join(" ")
}

/// Safe inside an element and inside a quoted attribute.
pub(in crate::report) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(c),
        }
    }
    out
}
