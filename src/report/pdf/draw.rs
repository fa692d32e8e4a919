//! Draws filled pages as PDF.

use super::flow::{Item, PAGE};
use crate::report::chart::{Align, Ink, Scene, Shape, outline, text_width};
use crate::report::palette::Rgb;
use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Rect, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

/// Why a PDF could not be made: in each case a fault of the program.
#[derive(Debug, thiserror::Error)]
#[error("the PDF cannot be made: {0}")]
pub struct PdfError(String);

struct Fonts {
    regular: Font,
    bold: Font,
}

pub(super) fn document(pages: &[Vec<Item>], title: &str) -> Result<Vec<u8>, PdfError> {
    let load = |bytes: &'static [u8]| {
        Font::new(bytes.into(), 0)
            .ok_or_else(|| PdfError("the carried font cannot be read".to_owned()))
    };
    let fonts = Fonts {
        regular: load(dejavu::sans::regular())?,
        bold: load(dejavu::sans::bold())?,
    };
    let mut document = Document::new();
    document.set_metadata(
        Metadata::new()
            .title(format!("Compression test: {title}"))
            .language("en".to_owned()),
    );
    let size = PageSettings::from_wh(PAGE.0 as f32, PAGE.1 as f32)
        .ok_or_else(|| PdfError("the page has no size".to_owned()))?;
    for (n, items) in pages.iter().enumerate() {
        let mut page = document.start_page_with(size.clone());
        let mut surface = page.surface();
        for item in items {
            draw(&mut surface, &fonts, item);
        }
        let foot = format!("page {} of {}", n + 1, pages.len());
        let left = PAGE.0 - 45.0 - text_width(&foot, 8.0, false);
        text(
            &mut surface,
            &fonts,
            (left, PAGE.1 - 28.0),
            &foot,
            8.0,
            false,
        );
        surface.finish();
        page.finish();
    }
    document
        .finish()
        .map_err(|error| PdfError(format!("{error:?}")))
}

fn draw(surface: &mut Surface<'_>, fonts: &Fonts, item: &Item) {
    match item {
        Item::Text {
            at,
            text: words,
            size,
            bold,
        } => text(surface, fonts, *at, words, *size, *bold),
        Item::Rule { y } => {
            let right = PAGE.0 - 45.0;
            line(
                surface,
                &[(45.0, *y), (right, *y)],
                (0xbb, 0xbb, 0xbb),
                0.5,
                false,
            );
        }
        Item::Plot { at, scene, scale } => {
            let scale = *scale as f32;
            surface.push_transform(&Transform::from_row(
                scale,
                0.0,
                0.0,
                scale,
                at.0 as f32,
                at.1 as f32,
            ));
            plot(surface, fonts, scene);
            surface.pop();
        }
    }
}

fn plot(surface: &mut Surface<'_>, fonts: &Fonts, scene: &Scene) {
    for shape in &scene.shapes {
        match shape {
            Shape::Line {
                points,
                ink,
                width,
                dashed,
            } => line(surface, points, ink.rgb(), *width, *dashed),
            Shape::Band { from, to, ink } => {
                let rect = Rect::from_ltrb(from.0 as f32, from.1 as f32, to.0 as f32, to.1 as f32);
                let mut builder = PathBuilder::new();
                if let Some(rect) = rect {
                    builder.push_rect(rect);
                }
                paint(surface, builder.finish(), Some(ink.rgb()), None);
            }
            Shape::Mark {
                at,
                style,
                radius,
                filled,
            } => {
                let corners = outline(style.marker(), *at, *radius);
                let corners = if corners.is_empty() {
                    circle(*at, *radius)
                } else {
                    corners
                };
                let colour = style.colour();
                let (fill, edge) = if *filled {
                    (colour, (Ink::Ink.rgb(), 0.7))
                } else {
                    ((255, 255, 255), (colour, 1.6))
                };
                paint(surface, closed(&corners), Some(fill), Some(edge));
            }
            Shape::Ring { at, radius } => {
                paint(
                    surface,
                    closed(&circle(*at, *radius)),
                    None,
                    Some((Ink::Ink.rgb(), 1.4)),
                );
            }
            Shape::Text {
                at,
                text: words,
                size,
                align,
                bold,
            } => {
                let wide = text_width(words, *size, *bold);
                let left = match align {
                    Align::Left => at.0,
                    Align::Middle => at.0 - wide / 2.0,
                    Align::Right => at.0 - wide,
                };
                text(surface, fonts, (left, at.1), words, *size, *bold);
            }
        }
    }
}

fn circle(at: (f64, f64), radius: f64) -> Vec<(f64, f64)> {
    (0..32)
        .map(|n| {
            let angle = f64::from(n) * std::f64::consts::TAU / 32.0;
            (
                at.0 + radius * libm::cos(angle),
                at.1 + radius * libm::sin(angle),
            )
        })
        .collect()
}

fn builder(points: &[(f64, f64)]) -> PathBuilder {
    let mut builder = PathBuilder::new();
    for (n, (x, y)) in points.iter().enumerate() {
        if n == 0 {
            builder.move_to(*x as f32, *y as f32);
        } else {
            builder.line_to(*x as f32, *y as f32);
        }
    }
    builder
}

fn closed(points: &[(f64, f64)]) -> Option<Path> {
    let mut builder = builder(points);
    builder.close();
    builder.finish()
}

fn stroke(colour: Rgb, width: f64, dashed: bool) -> Stroke {
    let (r, g, b) = colour;
    Stroke {
        paint: rgb::Color::new(r, g, b).into(),
        width: width as f32,
        dash: dashed.then(|| StrokeDash {
            array: vec![6.0, 4.0],
            offset: 0.0,
        }),
        ..Stroke::default()
    }
}

fn fill(colour: Rgb) -> Fill {
    let (r, g, b) = colour;
    Fill {
        paint: rgb::Color::new(r, g, b).into(),
        ..Fill::default()
    }
}

fn line(surface: &mut Surface<'_>, points: &[(f64, f64)], colour: Rgb, width: f64, dashed: bool) {
    surface.set_fill(None);
    surface.set_stroke(Some(stroke(colour, width, dashed)));
    if let Some(path) = builder(points).finish() {
        surface.draw_path(&path);
    }
}

fn paint(
    surface: &mut Surface<'_>,
    path: Option<Path>,
    inside: Option<Rgb>,
    edge: Option<(Rgb, f64)>,
) {
    surface.set_fill(inside.map(fill));
    surface.set_stroke(edge.map(|(colour, width)| stroke(colour, width, false)));
    if let Some(path) = path {
        surface.draw_path(&path);
    }
}

fn text(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    at: (f64, f64),
    words: &str,
    size: f64,
    bold: bool,
) {
    let font = if bold { &fonts.bold } else { &fonts.regular };
    surface.set_stroke(None);
    surface.set_fill(Some(fill(Ink::Ink.rgb())));
    let at = Point::from_xy(at.0 as f32, at.1 as f32);
    surface.draw_text(
        at,
        font.clone(),
        size as f32,
        words,
        false,
        TextDirection::LeftToRight,
    );
}
