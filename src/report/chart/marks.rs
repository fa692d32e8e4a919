//! Outlines of the marker shapes.

use super::scene::Point;
use crate::report::palette::Marker;

/// Corners of the marker around `at`, within `radius` of it; none for the circle.
pub fn outline(marker: Marker, at: Point, radius: f64) -> Vec<Point> {
    let corners: Vec<Point> = match marker {
        Marker::Circle => Vec::new(),
        Marker::Square => vec![(-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)],
        Marker::TriangleUp => vec![(0.0, -1.1), (1.0, 0.75), (-1.0, 0.75)],
        Marker::TriangleDown => vec![(0.0, 1.1), (1.0, -0.75), (-1.0, -0.75)],
        Marker::Diamond => vec![(0.0, -1.2), (1.0, 0.0), (0.0, 1.2), (-1.0, 0.0)],
        Marker::Bar => vec![(-0.4, -1.2), (0.4, -1.2), (0.4, 1.2), (-0.4, 1.2)],
        Marker::Plus => {
            let (near, far) = (0.38, 1.15);
            vec![
                (-near, -far),
                (near, -far),
                (near, -near),
                (far, -near),
                (far, near),
                (near, near),
                (near, far),
                (-near, far),
                (-near, near),
                (-far, near),
                (-far, -near),
                (-near, -near),
            ]
        }
        Marker::Star => (0..10)
            .map(|n| {
                let reach = if n % 2 == 0 { 1.3 } else { 0.55 };
                let angle = f64::from(n) * std::f64::consts::PI / 5.0;
                (reach * libm::sin(angle), -reach * libm::cos(angle))
            })
            .collect(),
    };
    corners
        .into_iter()
        .map(|(x, y)| (at.0 + x * radius, at.1 + y * radius))
        .collect()
}
