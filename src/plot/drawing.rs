//! Drawings that are no plots: the same page, ink and letters.

use super::face::Weight;
use super::palette::{GRID, INK, look};
use super::path::Frame;
use super::scene::{Hang, PAGE_WIDTH_PX, Scene, Shape, Text};
use super::{PlotError, pixels, raster};
use crate::figure::{Drawing, Item, Setting};

/// A text in lines no wider than a room, for words of a height on a drawing's page.
pub fn broken(text: &str, size: f64, room: f64) -> Vec<String> {
    Weight::Regular.wrap(text, size, room)
}

/// A drawing as SVG, 1600 pixels wide.
///
/// # Errors
/// [`PlotError::Drawing`] if the backend fails.
pub fn drawing_svg(drawing: &Drawing) -> Result<String, PlotError> {
    let scene = Scene {
        height_px: drawing.height,
        shapes: drawing.items.iter().map(shape).collect(),
    };
    Ok(scene.svg(pixels(PAGE_WIDTH_PX), pixels(drawing.height))?)
}

/// A drawing as PNG, 1600 pixels wide.
///
/// # Errors
/// The errors of [`drawing_svg`]; and [`PlotError::Reading`] or [`PlotError::Png`] if it cannot be turned into pixels.
pub fn drawing_png(drawing: &Drawing) -> Result<Vec<u8>, PlotError> {
    raster::png(&drawing_svg(drawing)?)
}

fn shape(item: &Item) -> Shape {
    match item {
        Item::Line {
            points,
            width,
            role,
        } => Shape::Line {
            points: points.clone(),
            colour: role.map_or(INK, |role| look(role).colour),
            width_px: *width,
        },
        Item::Patch { from, to } => Shape::Fill {
            frame: Frame {
                left: from.0,
                top: from.1,
                right: to.0,
                bottom: to.1,
            },
            colour: GRID,
            opacity: 1.0,
        },
        Item::Dot { at, radius } => Shape::Disc {
            centre: *at,
            radius_px: *radius,
            colour: INK,
        },
        Item::Words {
            text,
            at,
            size,
            setting,
        } => {
            let (hang, weight) = match setting {
                Setting::Plain => (Hang::Left, Weight::Regular),
                Setting::Bold => (Hang::Left, Weight::Bold),
                Setting::Centred => (Hang::Middle, Weight::Bold),
            };
            Shape::Words(Text {
                words: text.clone(),
                at: *at,
                hang,
                size_px: *size,
                weight,
                colour: INK,
            })
        }
    }
}
