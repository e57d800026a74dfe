//! One set of axes: its head, grid, numbers, spans, data and marks.

use super::brief::{Bar, LEAST_SHADE_PX};
use super::data::{self, Window};
use super::face::Weight;
use super::inline;
use super::key::Key;
use super::letters::{self, LINE_PX, TEXT_PX, TICK_GAP_PX};
use super::palette::{FRAME, GRID, INK, MARK, SHADE, SOFT_INK};
use super::path::Frame;
use super::ranges;
use super::scene::{Hang, Shape};
use super::thin::Place;
use super::ticks::{MOST_TICKS, Scale, Tick};
use crate::figure::{Band, Panel, Series};
use crate::units::Span;

/// Height of a plot for each number on its y axis.
const Y_NUMBER_EVERY_PX: f64 = 70.0;
const SHADE_OPACITY: f64 = 0.2;
/// Height of the lowest bar that counts gaps too short to be shaded, and of the highest.
const BARS_PX: Span = Span::new(4.0, 40.0);
const BAR_OPACITY: f64 = 0.4;

/// A panel measured.
#[derive(Debug)]
pub(super) struct PanelPlan<'a> {
    series: &'a [Series],
    bands: &'a [Band],
    title: Vec<String>,
    key: Key<'a>,
    y_range: Option<Span>,
    scale: Option<Scale>,
    has_readings: bool,
}

impl<'a> PanelPlan<'a> {
    pub(super) fn new(panel: &'a Panel, room_px: f64) -> Self {
        let y_range = ranges::y(panel);
        let scale = y_range.map(|range| Scale::new(&panel.y, range));
        let title = scale.as_ref().map_or(&panel.y.label, |scale| &scale.title);
        Self {
            series: &panel.series,
            bands: &panel.bands,
            title: Weight::Bold.wrap(title, TEXT_PX, room_px),
            key: Key::new(&panel.series, &panel.bands, room_px),
            y_range,
            has_readings: ranges::has_readings(panel),
            scale,
        }
    }

    /// The panel of a figure that has none.
    pub(super) fn blank() -> Self {
        Self {
            series: &[],
            bands: &[],
            title: Vec::new(),
            key: Key::new(&[], &[], 1.0),
            y_range: None,
            has_readings: false,
            scale: None,
        }
    }

    pub(super) fn y_range(&self) -> Span {
        self.y_range.unwrap_or(Span::new(0.0, 1.0))
    }

    /// Width of the numbers on the left.
    pub(super) fn numbers_px(&self) -> f64 {
        self.scale.as_ref().map_or(0.0, letters::widest_px)
    }

    /// Height of the parts over the plot: the axis' words and the key.
    pub(super) fn head_px(&self) -> f64 {
        self.title.len() as f64 * LINE_PX + self.key.height_px
    }

    pub(super) fn draw_head(&self, (left, top): Place, shapes: &mut Vec<Shape>) {
        let mut y_px = top;
        for line in &self.title {
            shapes.push(letters::axis(
                line,
                (left, y_px + 0.8 * LINE_PX),
                Hang::Left,
            ));
            y_px += LINE_PX;
        }
        self.key.draw(left, y_px, shapes);
    }

    /// Shading, grid, frame and the numbers on the left.
    pub(super) fn draw_back(
        &self,
        window: &Window,
        spans: &[Span],
        bars: &[Bar],
        x_ticks: &[Tick],
        shapes: &mut Vec<Shape>,
    ) {
        let frame = window.frame;
        shapes.extend(spans.iter().map(|span| shade(window, *span)));
        shapes.extend(bars.iter().map(|one| bar(window, one)));
        let line = |from, to, colour| Shape::Line {
            points: vec![from, to],
            colour,
            width_px: 2.0,
        };
        for tick in x_ticks {
            let x = window.x_px(tick.at_si);
            shapes.push(line((x, frame.top), (x, frame.bottom), GRID));
            shapes.push(line((x, frame.bottom), (x, frame.bottom + 8.0), FRAME));
        }
        let most = y_ticks(frame.height());
        for tick in self.scale.iter().flat_map(|scale| scale.ticks(most)) {
            let y = window.y_px(tick.at_si);
            shapes.push(line((frame.left, y), (frame.right, y), GRID));
            shapes.push(line((frame.left - 8.0, y), (frame.left, y), FRAME));
            let at = (frame.left - TICK_GAP_PX, 0.36_f64.mul_add(TEXT_PX, y));
            shapes.push(letters::label(&tick.text, at, Hang::Right, INK));
        }
        shapes.push(Shape::Line {
            points: vec![
                (frame.left, frame.top),
                (frame.right, frame.top),
                (frame.right, frame.bottom),
                (frame.left, frame.bottom),
                (frame.left, frame.top),
            ],
            colour: FRAME,
            width_px: 2.0,
        });
    }

    /// Bands, marks and series, and words where there is nothing.
    pub(super) fn draw_data(
        &self,
        window: &Window,
        marks: &[f64],
        share: usize,
        shapes: &mut Vec<Shape>,
    ) {
        let frame = window.frame;
        for band in self.bands {
            data::band(band, window, shapes);
        }
        for at in marks {
            let x = window.x_px(*at);
            shapes.push(Shape::Line {
                points: vec![(x, frame.top - 8.0), (x, frame.bottom)],
                colour: MARK,
                width_px: 2.0,
            });
        }
        for series in self.series {
            data::series(series, window, share, shapes);
        }
        inline::write(self.series, window, shapes);
        if !self.has_readings {
            let middle = (
                f64::midpoint(frame.left, frame.right),
                f64::midpoint(frame.top, frame.bottom),
            );
            shapes.push(letters::label(
                "no readings",
                middle,
                Hang::Middle,
                SOFT_INK,
            ));
        }
    }
}

/// Numbers a y axis of that height has room for.
fn y_ticks(height_px: f64) -> usize {
    (2..=MOST_TICKS)
        .rev()
        .find(|most| *most as f64 * Y_NUMBER_EVERY_PX <= height_px)
        .unwrap_or(2)
}

/// A bar on the plot's lower edge.
fn bar(window: &Window, bar: &Bar) -> Shape {
    Shape::Fill {
        frame: Frame {
            left: window.x_px(bar.x.low),
            right: window.x_px(bar.x.high),
            top: window.frame.bottom - (bar.share * BARS_PX.high).max(BARS_PX.low),
            bottom: window.frame.bottom,
        },
        colour: SHADE,
        opacity: BAR_OPACITY,
    }
}

fn shade(window: &Window, span: Span) -> Shape {
    let (left, right) = (window.x_px(span.low), window.x_px(span.high));
    let right = right.max((left + LEAST_SHADE_PX).min(window.frame.right));
    Shape::Fill {
        frame: Frame {
            left: left.min(right - LEAST_SHADE_PX),
            right,
            ..window.frame
        },
        colour: SHADE,
        opacity: SHADE_OPACITY,
    }
}
