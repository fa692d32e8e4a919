//! A scene as an SVG or PNG file, drawn by plotters with the font that the program carries.

use super::font::HEIGHT;
use super::marks::outline;
use super::scene::{Align, Ink, Point, Scene, Shape};
use crate::report::palette::Marker;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::register_font;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::sync::LazyLock;

/// Why a plot could not be drawn.
#[derive(Debug, thiserror::Error)]
#[error("the plot cannot be drawn: {0}")]
pub struct PlotError(String);

fn failed(error: impl std::fmt::Display) -> PlotError {
    PlotError(error.to_string())
}

static FONT: LazyLock<bool> = LazyLock::new(|| {
    register_font("sans-serif", FontStyle::Normal, dejavu::sans::regular()).is_ok()
        && register_font("sans-serif", FontStyle::Bold, dejavu::sans::bold()).is_ok()
});

/// Pixels of the PNG for one of the scene, …
const SHARP: u32 = 2;
/// … unless the scene is higher than this, which takes a hundred runs: then one, so that drawing
/// the largest takes some 30 MB, not 120.
const TALL: f64 = 1200.0;
/// Drawn this much larger than the PNG, then averaged: smooth edges on every line.
const OVER: u32 = 2;
/// Parts of a pixel to which the SVG's coordinates are kept (plotters has whole numbers only).
const PARTS: u32 = 10;

/// The scene as an SVG file.
///
/// # Errors
/// If plotters cannot draw it.
pub fn svg(scene: &Scene) -> Result<String, PlotError> {
    let (w, h) = (scene.width as u32, scene.height.ceil() as u32);
    let large = (w * PARTS, h * PARTS);
    let mut out = String::new();
    {
        let area = SVGBackend::with_string(&mut out, large).into_drawing_area();
        // plotters divides a font's size by 1.24 on its way to SVG.
        Drawer {
            area: &area,
            scale: f64::from(PARTS),
            font: 1.24,
            drop: 0.27,
        }
        .scene(scene)?;
        area.present().map_err(failed)?;
    }
    let size = |(w, h): (u32, u32)| format!("width=\"{w}\" height=\"{h}\"");
    Ok(out.replacen(&size(large), &size((w, h)), 1))
}

/// The scene as a PNG file, at twice its size in pixels; a very tall one at its size.
///
/// # Errors
/// If plotters cannot draw it, or it is too large.
pub fn png(scene: &Scene) -> Result<Vec<u8>, PlotError> {
    let sharp = if scene.height > TALL { 1 } else { SHARP };
    let (w, h) = (
        scene.width as u32 * sharp,
        scene.height.ceil() as u32 * sharp,
    );
    let large = (w * OVER, h * OVER);
    let mut pixels = vec![255; large.0 as usize * large.1 as usize * 3];
    {
        let area = BitMapBackend::with_buffer(&mut pixels, large).into_drawing_area();
        // Here a font's size is its height.
        Drawer {
            area: &area,
            scale: f64::from(sharp * OVER),
            font: HEIGHT,
            drop: 0.113,
        }
        .scene(scene)?;
        area.present().map_err(failed)?;
    }
    encode(&average(&pixels, w as usize), w, h)
}

/// Each pixel is the mean of `OVER` × `OVER` drawn ones.
fn average(large: &[u8], w: usize) -> Vec<u8> {
    let over = OVER as usize;
    let area = (OVER * OVER) as u16;
    let mut small = Vec::with_capacity(large.len() / (over * over));
    let mut sums = vec![0_u16; w * 3];
    for rows in large.chunks_exact(w * over * 3 * over) {
        sums.fill(0);
        for row in rows.chunks_exact(w * over * 3) {
            for (sum, pixels) in sums.chunks_exact_mut(3).zip(row.chunks_exact(over * 3)) {
                for pixel in pixels.chunks_exact(3) {
                    for (sum, value) in sum.iter_mut().zip(pixel) {
                        *sum += u16::from(*value);
                    }
                }
            }
        }
        small.extend(sums.iter().map(|sum| ((sum + area / 2) / area) as u8));
    }
    small
}

fn encode(pixels: &[u8], w: u32, h: u32) -> Result<Vec<u8>, PlotError> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, w, h);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header().map_err(failed)?;
    writer.write_image_data(pixels).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(out)
}

fn colour(ink: Ink) -> RGBColor {
    let (r, g, b) = ink.rgb();
    RGBColor(r, g, b)
}

/// Draws shapes on a plotters area that is `scale` times as large as the scene.
struct Drawer<'a, B: DrawingBackend> {
    area: &'a DrawingArea<B, Shift>,
    scale: f64,
    /// What plotters takes for a font size, over the font size.
    font: f64,
    /// How far below a text's place this drawer puts the base line, in font sizes.
    drop: f64,
}

impl<B: DrawingBackend> Drawer<'_, B> {
    fn scene(&self, scene: &Scene) -> Result<(), PlotError> {
        if !*FONT {
            return Err(PlotError("the carried font cannot be read".to_owned()));
        }
        self.area.fill(&WHITE).map_err(failed)?;
        scene.shapes.iter().try_for_each(|shape| self.shape(shape))
    }

    fn at(&self, (x, y): Point) -> (i32, i32) {
        (
            (x * self.scale).round() as i32,
            (y * self.scale).round() as i32,
        )
    }

    fn length(&self, pixels: f64) -> u32 {
        (pixels * self.scale).round() as u32
    }

    fn shape(&self, shape: &Shape) -> Result<(), PlotError> {
        match shape {
            Shape::Line {
                points,
                ink,
                width,
                dashed,
            } => self.line(points, *ink, *width, *dashed),
            Shape::Band { from, to, ink } => {
                let corners = [self.at(*from), self.at(*to)];
                self.draw(&Rectangle::new(corners, colour(*ink).filled()))
            }
            Shape::Mark {
                at,
                style,
                radius,
                filled,
            } => {
                let fill = if *filled {
                    colour(Ink::Curve(*style))
                } else {
                    WHITE
                };
                let edge = if *filled {
                    Ink::Ink
                } else {
                    Ink::Curve(*style)
                };
                if style.marker() == Marker::Circle {
                    self.circle(
                        *at,
                        *radius,
                        Some(fill),
                        colour(edge),
                        if *filled { 0.7 } else { 1.6 },
                    )
                } else {
                    self.polygon(
                        outline(style.marker(), *at, *radius),
                        fill,
                        edge,
                        if *filled { 0.7 } else { 1.6 },
                    )
                }
            }
            Shape::Ring { at, radius } => self.circle(*at, *radius, None, colour(Ink::Ink), 1.4),
            Shape::Text {
                at,
                text,
                size,
                align,
                bold,
            } => self.text(*at, text, *size, *align, *bold),
        }
    }

    fn draw<E>(&self, element: &E) -> Result<(), PlotError>
    where
        for<'e> &'e E: plotters::element::PointCollection<'e, (i32, i32)>,
        E: plotters::element::Drawable<B>,
    {
        self.area.draw(element).map_err(failed)
    }

    fn line(&self, points: &[Point], ink: Ink, width: f64, dashed: bool) -> Result<(), PlotError> {
        let style = colour(ink).stroke_width(self.length(width));
        let pieces = if dashed {
            dashes(points)
        } else {
            vec![points.to_vec()]
        };
        pieces.into_iter().try_for_each(|piece| {
            let places: Vec<_> = piece.into_iter().map(|p| self.at(p)).collect();
            self.draw(&PathElement::new(places, style))
        })
    }

    /// A ring is a polygon of many corners: plotters draws it as evenly as any line.
    fn circle(
        &self,
        at: Point,
        radius: f64,
        fill: Option<RGBColor>,
        edge: RGBColor,
        width: f64,
    ) -> Result<(), PlotError> {
        let corners: Vec<Point> = (0..=48)
            .map(|n| {
                let angle = f64::from(n) * std::f64::consts::TAU / 48.0;
                (
                    at.0 + radius * libm::cos(angle),
                    at.1 + radius * libm::sin(angle),
                )
            })
            .collect();
        let places: Vec<_> = corners.iter().map(|p| self.at(*p)).collect();
        if let Some(fill) = fill {
            self.draw(&Polygon::new(places.clone(), fill.filled()))?;
        }
        self.draw(&PathElement::new(
            places,
            edge.stroke_width(self.length(width)),
        ))
    }

    fn polygon(
        &self,
        corners: Vec<Point>,
        fill: RGBColor,
        edge: Ink,
        width: f64,
    ) -> Result<(), PlotError> {
        let mut places: Vec<_> = corners.into_iter().map(|p| self.at(p)).collect();
        self.draw(&Polygon::new(places.clone(), fill.filled()))?;
        places.extend(places.first().copied());
        self.draw(&PathElement::new(
            places,
            colour(edge).stroke_width(self.length(width)),
        ))
    }

    fn text(
        &self,
        at: Point,
        text: &str,
        size: f64,
        align: Align,
        bold: bool,
    ) -> Result<(), PlotError> {
        let style = if bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let horizontal = match align {
            Align::Left => HPos::Left,
            Align::Middle => HPos::Center,
            Align::Right => HPos::Right,
        };
        let font = FontDesc::new(FontFamily::SansSerif, size * self.font * self.scale, style);
        let at = (at.0, at.1 - self.drop * size);
        let ink = colour(Ink::Ink);
        let style = TextStyle::from(font)
            .color(&ink)
            .pos(Pos::new(horizontal, VPos::Center));
        self.draw(&Text::new(text.to_owned(), self.at(at), style))
    }
}

/// Cuts a line into dashes of six pixels with gaps of four.
fn dashes(points: &[Point]) -> Vec<Vec<Point>> {
    let (dash, gap) = (6.0, 4.0);
    let mut pieces = Vec::new();
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    let (mut drawing, mut left) = (true, dash);
    for ends in points.windows(2) {
        let &[(x0, y0), (x1, y1)] = ends else {
            continue;
        };
        let length = libm::hypot(x1 - x0, y1 - y0);
        let mut done = 0.0;
        while length - done > left {
            done += left;
            let here = (
                x0 + (x1 - x0) * done / length,
                y0 + (y1 - y0) * done / length,
            );
            if drawing {
                piece.push(here);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![here];
            }
            drawing = !drawing;
            left = if drawing { dash } else { gap };
        }
        left -= length - done;
        if drawing {
            piece.push((x1, y1));
        }
    }
    if piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_six_tenths() {
        let pieces = dashes(&[(0.0, 0.0), (70.0, 0.0), (100.0, 0.0)]);
        let drawn: f64 = pieces
            .iter()
            .map(|piece| piece.last().unwrap().0 - piece[0].0)
            .sum();
        assert!((drawn - 60.0).abs() < 1e-9, "{drawn}");
        assert_eq!(pieces.len(), 10);
    }
}
