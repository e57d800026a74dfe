//! Series and bands: from values to shapes inside one plot.

use super::palette::{self, Colour, INK, Look, Marker, PAPER};
use super::path::{self, Frame};
use super::ranges::is_drawable;
use super::scene::Shape;
use super::thin::{self, Place};
use crate::figure::{Band, Contour, Role, Series, Stroke};
use crate::units::Span;

/// Width of a data line: a full pixel when the page is shown a quarter as large.
pub(super) const LINE_PX: f64 = 4.0;

/// Half the thickness of a bar, in places of its axis of names.
const HALF_BAR: f64 = 0.3;

/// How opaque the inside of a bar is.
const BAR_OPACITY: f64 = 0.55;

/// How opaque the inside of a band is.
pub(super) const BAND_OPACITY: f64 = 0.18;

/// Width of the edge of a thing.
const OUTLINE_PX: f64 = 6.0;

/// Width of a thin line of equal value.
const THIN_PX: f64 = 2.5;

/// Half the size of a marker on a line.
const MARKER_PX: f64 = 11.0;

/// Least distance between two markers on a line.
const MARKER_EVERY_PX: f64 = 190.0;

/// Dots for which the large size is still clear of the neighbours.
const FEW_DOTS: usize = 150;

/// Dots and runs a figure may have before they are thinned further: keeps an SVG below a megabyte.
pub(super) const MOST_SHAPES: usize = 4000;

/// Turns of a dash pattern in one series; beyond it the line is drawn whole.
const MOST_TURNS: f64 = 400.0;

/// A plot: where it is on the page, and which values its edges stand for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    pub(super) frame: Frame,
    pub(super) x: Span,
    pub(super) y: Span,
}

impl Window {
    pub(super) fn x_px(&self, x: f64) -> f64 {
        let part = (x - self.x.low) / self.x.width();
        part.mul_add(self.frame.width(), self.frame.left)
    }

    pub(super) fn y_px(&self, y: f64) -> f64 {
        let part = (y - self.y.low) / self.y.width();
        (-part).mul_add(self.frame.height(), self.frame.bottom)
    }

    fn place(&self, point: (f64, f64)) -> Place {
        (self.x_px(point.0), self.y_px(point.1))
    }

    /// Which half pixel of width an x falls into; all that is out of sight on one side falls into one.
    fn bucket(&self, x: f64) -> i64 {
        let px = self
            .x_px(x)
            .clamp(self.frame.left - 1.0, self.frame.right + 1.0);
        thin::floor(2.0 * px)
    }
}

/// Draws a series; at most `most` dots of it are kept.
pub(super) fn series(series: &Series, window: &Window, most: usize, shapes: &mut Vec<Shape>) {
    let look = palette::look(series.role);
    if matches!(series.stroke, Stroke::Outline | Stroke::Contour(_)) {
        for path in free_paths(series, window) {
            shapes.extend(free(path, series.stroke, look));
        }
        return;
    }
    if series.stroke == Stroke::Dots {
        let places = runs(series).flatten().map(|point| window.place(*point));
        let seen = places.filter(|place| window.frame.holds(*place));
        dots(thin::dots(seen, 3.0, most), look, shapes);
        return;
    }
    if series.stroke == Stroke::Bars {
        shapes.extend(runs(series).flat_map(|run| bar(run, window, look.colour)));
        return;
    }
    let (paths, alone) = lines(series, window, most);
    // A reading between two breaks has no line to lie on.
    let alone = thin::dots(alone.into_iter(), 2.0, most);
    let radius_px = dot_px(alone.len());
    for centre in alone {
        shapes.push(Shape::Disc {
            centre,
            radius_px,
            colour: look.colour,
        });
    }
    if series.stroke == Stroke::Dashed {
        shapes.extend(dashed(&paths, look));
        return;
    }
    let marked: Vec<Place> = if series.role == Role::Measured {
        Vec::new()
    } else {
        marked(&paths)
    };
    shapes.extend(paths.into_iter().map(|points| line(points, look.colour)));
    for centre in marked {
        hollow(look, centre, shapes);
    }
}

/// Whether a series has its words in the key.
pub(super) const fn is_in_key(series: &Series) -> bool {
    !matches!(series.stroke, Stroke::Contour(_)) || series.pieces.is_empty()
}

/// The points of a series on the page.
pub(super) fn places(series: &Series, window: &Window) -> Vec<Place> {
    let points = runs(series).flatten();
    points.map(|point| window.place(*point)).collect()
}

/// The runs of a series on the page whose points are in any order: not thinned, cut off at the frame.
pub(super) fn free_paths(series: &Series, window: &Window) -> Vec<Vec<Place>> {
    let on_page = |run: &[(f64, f64)]| run.iter().map(|point| window.place(*point)).collect();
    runs(series)
        .flat_map(|run| {
            let places: Vec<Place> = on_page(run);
            window.frame.clip(&places)
        })
        .collect()
}

/// A path as an outline or a line of equal value.
fn free(path: Vec<Place>, stroke: Stroke, look: Look) -> Vec<Shape> {
    let (colour, width_px) = match stroke {
        Stroke::Outline => (INK, OUTLINE_PX),
        Stroke::Contour(Contour::Thin) => (look.colour, THIN_PX),
        Stroke::Contour(Contour::Dashed) => return dashed(&[path], look),
        _ => (look.colour, LINE_PX),
    };
    vec![Shape::Line {
        points: path,
        colour,
        width_px,
    }]
}

/// Returns the pieces of a series without the points that cannot be drawn.
fn runs(series: &Series) -> impl Iterator<Item = &[(f64, f64)]> {
    let pieces = series.pieces.iter();
    pieces
        .flat_map(|piece| piece.split(|point| !is_drawable(point)))
        .filter(|run| !run.is_empty())
}

/// The lines of a series on the page, and the points that stand alone.
fn lines(series: &Series, window: &Window, most: usize) -> (Vec<Vec<Place>>, Vec<Place>) {
    let crowded = runs(series).nth(most).is_some();
    let mut paths = Vec::new();
    let mut alone = Vec::new();
    for run in runs(series) {
        let kept = thin::line(run, |x| window.bucket(x));
        let ends = (kept.first(), kept.last());
        let narrow = matches!(ends, (Some(a), Some(b)) if window.bucket(a.0) == window.bucket(b.0));
        let places: Vec<_> = kept.into_iter().map(|point| window.place(point)).collect();
        if places.len() == 1 || (crowded && narrow) {
            alone.extend(
                places
                    .into_iter()
                    .filter(|place| window.frame.holds(*place)),
            );
        } else {
            paths.extend(window.frame.clip(&places));
        }
    }
    (paths, alone)
}

/// A bar from the first to the last point of a run: filled and edged, so that one of no length is still seen.
fn bar(run: &[(f64, f64)], window: &Window, colour: Colour) -> Vec<Shape> {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return Vec::new();
    };
    let seen = window.frame;
    let (one, other) = (window.x_px(first.0), window.x_px(last.0));
    let frame = Frame {
        left: one.min(other).clamp(seen.left, seen.right),
        right: one.max(other).clamp(seen.left, seen.right),
        top: window.y_px(first.1 + HALF_BAR).clamp(seen.top, seen.bottom),
        bottom: window.y_px(first.1 - HALF_BAR).clamp(seen.top, seen.bottom),
    };
    boxed(frame, colour)
}

fn boxed(frame: Frame, colour: Colour) -> Vec<Shape> {
    let Frame {
        left,
        top,
        right,
        bottom,
    } = frame;
    let round = vec![
        (left, top),
        (right, top),
        (right, bottom),
        (left, bottom),
        (left, top),
    ];
    vec![
        Shape::Fill {
            frame,
            colour,
            opacity: BAR_OPACITY,
        },
        line(round, colour),
    ]
}

fn line(points: Vec<Place>, colour: Colour) -> Shape {
    Shape::Line {
        points,
        colour,
        width_px: LINE_PX,
    }
}

/// The lines cut into the role's dashes.
fn dashed(paths: &[Vec<Place>], look: Look) -> Vec<Shape> {
    let turn_px: f64 = look.dash_px.iter().sum();
    let whole_px: f64 = paths.iter().map(|line| path::length_px(line)).sum();
    // A line that goes to and fro so often is a block of colour; gaps in it would only hide readings.
    let pattern_px = if whole_px > MOST_TURNS * turn_px {
        &[]
    } else {
        look.dash_px
    };
    let strokes = paths.iter().flat_map(|line| path::dashes(line, pattern_px));
    strokes.map(|points| line(points, look.colour)).collect()
}

/// Points of the lines that carry the marker: real ones only, a fair distance apart, also from one line to the next.
fn marked(lines: &[Vec<Place>]) -> Vec<Place> {
    let mut next_px = f64::NEG_INFINITY;
    let mut chosen = Vec::new();
    for &place in lines.iter().flatten() {
        if place.0 >= next_px {
            chosen.push(place);
            next_px = place.0 + MARKER_EVERY_PX;
        }
    }
    chosen
}

/// Half the size of a dot, by the number of dots.
const fn dot_px(count: usize) -> f64 {
    if count > FEW_DOTS { 5.0 } else { 8.0 }
}

fn dots(places: Vec<Place>, look: Look, shapes: &mut Vec<Shape>) {
    let radius_px = dot_px(places.len());
    for centre in places {
        shapes.extend(marker(look.marker, centre, radius_px, look.colour));
    }
}

/// A marker with a light middle, which stays visible on its own line.
fn hollow(look: Look, centre: Place, shapes: &mut Vec<Shape>) {
    shapes.extend(marker(look.marker, centre, MARKER_PX, look.colour));
    if look.marker != Marker::Cross {
        shapes.extend(marker(look.marker, centre, 0.5 * MARKER_PX, PAPER));
    }
}

fn marker(marker: Marker, (x, y): Place, radius_px: f64, colour: Colour) -> Vec<Shape> {
    let around = |corners: &[(f64, f64)]| -> Vec<Place> {
        let at = |(dx, dy): &(f64, f64)| (dx.mul_add(radius_px, x), dy.mul_add(radius_px, y));
        corners.iter().map(at).collect()
    };
    let corners: &[(f64, f64)] = match marker {
        Marker::Disc => {
            return vec![Shape::Disc {
                centre: (x, y),
                radius_px,
                colour,
            }];
        }
        Marker::Cross => {
            let strokes = [[(-0.8, -0.8), (0.8, 0.8)], [(-0.8, 0.8), (0.8, -0.8)]];
            return strokes
                .iter()
                .map(|stroke| line(around(stroke), colour))
                .collect();
        }
        Marker::Diamond => &[(0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)],
        Marker::Triangle => &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
        Marker::Wedge => &[(0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)],
        Marker::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
    };
    vec![Shape::Solid {
        corners: around(corners),
        colour,
    }]
}

/// Draws a band over the whole width of the plot.
pub(super) fn band(band: &Band, window: &Window, shapes: &mut Vec<Shape>) {
    let look = palette::look(band.role);
    let frame = window.frame;
    let level = |y: f64| window.y_px(y).clamp(frame.top, frame.bottom);
    let (low, high) = (band.low.min(band.high), band.low.max(band.high));
    if is_drawable(&(low, high)) && high >= window.y.low && low <= window.y.high {
        shapes.push(Shape::Fill {
            frame: Frame {
                top: level(high),
                bottom: level(low),
                ..frame
            },
            colour: look.colour,
            opacity: BAND_OPACITY,
        });
    }
    let across = |y: f64| [(frame.left, window.y_px(y)), (frame.right, window.y_px(y))];
    for edge in [low, high] {
        let lines = frame.clip(&across(edge)).into_iter();
        shapes.extend(lines.map(|points| Shape::Line {
            points,
            colour: look.colour,
            width_px: 1.5,
        }));
    }
    if let Some(value) = band.value.filter(|value| is_drawable(&(*value, *value))) {
        shapes.extend(dashed(&frame.clip(&across(value)), look));
    }
}

/// The sample of a series in the key, as wide as the frame.
pub(super) fn series_sample(role: Role, stroke: Stroke, frame: Frame) -> Vec<Shape> {
    let look = palette::look(role);
    let y = f64::midpoint(frame.top, frame.bottom);
    let middle = (f64::midpoint(frame.left, frame.right), y);
    let whole = vec![(frame.left, y), (frame.right, y)];
    match stroke {
        Stroke::Dashed => dashed(&[whole], look),
        Stroke::Bars => boxed(frame, look.colour),
        Stroke::Outline | Stroke::Contour(_) => free(whole, stroke, look),
        Stroke::Dots => {
            let third_px = frame.width() / 3.0;
            let centres = [-third_px, 0.0, third_px].map(|aside| (middle.0 + aside, y));
            centres
                .iter()
                .flat_map(|centre| marker(look.marker, *centre, 8.0, look.colour))
                .collect()
        }
        Stroke::Line => {
            let mut shapes = vec![line(whole, look.colour)];
            if role != Role::Measured {
                hollow(look, middle, &mut shapes);
            }
            shapes
        }
    }
}

/// The sample of a band in the key.
pub(super) fn band_sample(sample: &Band, frame: Frame) -> Vec<Shape> {
    let mut shapes = Vec::new();
    let unit = Window {
        frame,
        x: Span::new(0.0, 1.0),
        y: Span::new(0.0, 1.0),
    };
    let small = Band {
        label: String::new(),
        role: sample.role,
        low: 0.0,
        value: sample.value.map(|_| 0.5),
        high: 1.0,
    };
    band(&small, &unit, &mut shapes);
    shapes
}
