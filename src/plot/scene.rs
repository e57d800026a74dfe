//! The picture as a list of shapes with their places, and its writing as SVG.

use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind, IntoDrawingArea};
use plotters::element::{Circle, PathElement, Polygon, Rectangle};
use plotters::prelude::SVGBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color as _, FontDesc, FontFamily, FontStyle, FontTransform, RGBAColor, ShapeStyle, TextStyle,
};

use super::face::{FAMILY, Weight};
use super::palette::{Colour, PAPER};
use super::path::Frame;
use super::thin::Place;
use crate::plain;

/// Width of the page in pixels: everything is laid out for this, then scaled to the size asked for.
pub(super) const PAGE_WIDTH_PX: f64 = 1600.0;

/// Steps of the SVG's whole-number coordinates in a pixel.
const STEPS: f64 = 4.0;

/// The SVG backend divides font sizes by this.
const BACKEND_FONT_SHRINK: f64 = 1.24;

/// The SVG backend sets the baseline of a text hung by its top so far below, in ems.
const BASELINE_EM: f64 = 0.76;

/// Slope of the words across the picture, in degrees.
const STAMP_DEGREES: i32 = -14;

/// Which end of a text its place is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hang {
    Left,
    Middle,
    Right,
}

/// Words on the page.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Text {
    pub(super) words: String,
    /// The place of the end named by `hang`, on the baseline.
    pub(super) at: Place,
    pub(super) hang: Hang,
    pub(super) size_px: f64,
    pub(super) weight: Weight,
    pub(super) colour: Colour,
}

/// One shape.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    /// A filled rectangle, opaque by the part `opacity`.
    Fill {
        frame: Frame,
        colour: Colour,
        opacity: f64,
    },
    /// A line, never closed.
    Line {
        points: Vec<Place>,
        colour: Colour,
        width_px: f64,
    },
    /// A filled polygon.
    Solid { corners: Vec<Place>, colour: Colour },
    /// A filled disc.
    Disc {
        centre: Place,
        radius_px: f64,
        colour: Colour,
    },
    /// Upright words.
    Words(Text),
    /// Words across the picture, about their middle.
    Stamp(Text),
}

/// All shapes, the hindmost first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scene {
    pub(super) height_px: f64,
    pub(super) shapes: Vec<Shape>,
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Fault = DrawingAreaErrorKind<std::io::Error>;

impl Scene {
    /// Writes the scene as SVG that shows itself `width_px` × `height_px` large.
    pub(super) fn svg(&self, width_px: u32, height_px: u32) -> Result<String, Fault> {
        let page = (whole(PAGE_WIDTH_PX), whole(self.height_px));
        let canvas = (page.0.unsigned_abs(), page.1.unsigned_abs());
        let mut drawn = String::new();
        {
            let area = SVGBackend::with_string(&mut drawn, canvas).into_drawing_area();
            area.draw(&Rectangle::new([(0, 0), page], filled(PAPER, 1.0)))?;
            for shape in &self.shapes {
                draw(&area, shape)?;
            }
            area.present()?;
        }
        let stamps = self
            .shapes
            .iter()
            .filter(|shape| matches!(shape, Shape::Stamp(_)));
        Ok(finished(
            &drawn,
            canvas,
            (width_px, height_px),
            stamps.count(),
        ))
    }
}

/// Sets the attributes that the backend cannot. These are the size shown, cut-off joins, and the slope of the stamps, which alone
/// are turned and come first. A mitred join would make a spike of a noisy reading, and a round one takes twice as long to draw.
fn finished(drawn: &str, canvas: (u32, u32), shown: (u32, u32), stamps: usize) -> String {
    let size = |(width, height): (u32, u32)| format!("width=\"{width}\" height=\"{height}\"");
    let joins = "stroke-linejoin=\"bevel\" stroke-linecap=\"round\"";
    drawn
        .replacen(&size(canvas), &format!("{} {joins}", size(shown)), 1)
        .replacen("rotate(90, ", &format!("rotate({STAMP_DEGREES}, "), stamps)
}

fn draw(area: &Area<'_>, shape: &Shape) -> Result<(), Fault> {
    match shape {
        Shape::Fill {
            frame,
            colour,
            opacity,
        } => {
            let corners = [
                place((frame.left, frame.top)),
                place((frame.right, frame.bottom)),
            ];
            area.draw(&Rectangle::new(corners, filled(*colour, *opacity)))
        }
        Shape::Line {
            points,
            colour,
            width_px,
        } => {
            let points: Vec<_> = points.iter().copied().map(place).collect();
            let style = ShapeStyle {
                stroke_width: whole(*width_px).unsigned_abs(),
                filled: false,
                color: rgba(*colour, 1.0),
            };
            area.draw(&PathElement::new(points, style))
        }
        Shape::Solid { corners, colour } => {
            let corners: Vec<_> = corners.iter().copied().map(place).collect();
            area.draw(&Polygon::new(corners, filled(*colour, 1.0)))
        }
        Shape::Disc {
            centre,
            radius_px,
            colour,
        } => area.draw(&Circle::new(
            place(*centre),
            whole(*radius_px),
            filled(*colour, 1.0),
        )),
        Shape::Words(text) => write(area, text, FontTransform::None),
        Shape::Stamp(text) => write(area, text, FontTransform::Rotate90),
    }
}

fn write(area: &Area<'_>, text: &Text, turn: FontTransform) -> Result<(), Fault> {
    let style = match text.weight {
        Weight::Regular => FontStyle::Normal,
        Weight::Bold => FontStyle::Bold,
    };
    let end = match text.hang {
        Hang::Left => HPos::Left,
        Hang::Middle => HPos::Center,
        Hang::Right => HPos::Right,
    };
    let size = text.size_px * STEPS;
    let font = FontDesc::new(FontFamily::Name(FAMILY), size * BACKEND_FONT_SHRINK, style);
    let style = TextStyle {
        font: font.transform(turn),
        color: rgba(text.colour, 1.0).to_backend_color(),
        pos: Pos::new(end, VPos::Top),
    };
    let top = (text.at.0, text.at.1 - BASELINE_EM * text.size_px);
    area.draw_text(&plain::line(&text.words), &style, place(top))
}

fn rgba((red, green, blue): Colour, opacity: f64) -> RGBAColor {
    RGBAColor(red, green, blue, opacity)
}

fn filled(colour: Colour, opacity: f64) -> ShapeStyle {
    rgba(colour, opacity).filled()
}

fn place((x, y): Place) -> (i32, i32) {
    (whole(x), whole(y))
}

/// Pixels as whole steps of the canvas.
#[expect(
    clippy::cast_possible_truncation,
    reason = "shapes are clipped to the page; a cast saturates"
)]
fn whole(px: f64) -> i32 {
    (px * STEPS).round() as i32
}
