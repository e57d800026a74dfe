//! Figures to SVG and PNG bytes. The caller writes the files.
//!
//! The picture is laid out on a page 1600 pixels wide with text of 36 pixels, and then scaled to the size asked for. So it can
//! still be read on a telephone (390 pixels) and in print. `page` measures and places, `panel` draws one set of axes, `data` its
//! series, `scene` writes SVG, `raster` makes the PNG. Nothing here reads a file, a clock or the machine's own fonts: the same
//! figure gives the same bytes everywhere.

mod brief;
mod data;
mod drawing;
mod error;
mod face;
mod inline;
mod key;
mod letters;
mod page;
mod palette;
mod panel;
mod path;
mod ranges;
mod raster;
mod scene;
mod tags;
mod thin;
mod ticks;

pub use drawing::{broken, drawing_png, drawing_svg};
pub use error::{LONGEST_EDGE_PX, PlotError};

use crate::figure::Figure;
use scene::PAGE_WIDTH_PX;

/// Size of a picture, in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Width.
    pub width_px: u32,
    /// Height.
    pub height_px: u32,
}

/// The size that suits a figure: 1600 pixels wide, as high as its headings, panels and lists need.
pub fn usual_size(figure: &Figure) -> Size {
    Size {
        width_px: pixels(PAGE_WIDTH_PX),
        height_px: pixels(page::Page::new(figure).usual_height_px()).min(LONGEST_EDGE_PX),
    }
}

/// Draws a figure as SVG.
///
/// The text is set in `DejaVu` Sans, or in the viewer's own font instead; [`png`] always has it.
///
/// # Errors
/// [`PlotError::OutOfRange`] or [`PlotError::TooLow`] if the size will not do; [`PlotError::Drawing`] if the backend fails.
pub fn svg(figure: &Figure, size: Size) -> Result<String, PlotError> {
    let Size {
        width_px,
        height_px,
    } = size;
    if [width_px, height_px]
        .iter()
        .any(|edge| !(1..=LONGEST_EDGE_PX).contains(edge))
    {
        return Err(PlotError::OutOfRange {
            width_px,
            height_px,
        });
    }
    let page = page::Page::new(figure);
    let scale = f64::from(width_px) / PAGE_WIDTH_PX;
    let page_height_px = f64::from(height_px) / scale;
    let least_px = page.least_height_px();
    // Half a pixel of the picture is lost in rounding its size.
    if page_height_px + 0.5 / scale < least_px {
        return Err(PlotError::TooLow {
            width_px,
            height_px,
            least_px: pixels(least_px * scale),
        });
    }
    let scene = page.fitted(page_height_px).scene(page_height_px);
    Ok(scene.svg(width_px, height_px)?)
}

/// Draws a figure as PNG.
///
/// # Errors
/// The errors of [`svg`]; and [`PlotError::Reading`] or [`PlotError::Png`] if it cannot be turned into pixels.
pub fn png(figure: &Figure, size: Size) -> Result<Vec<u8>, PlotError> {
    raster::png(&svg(figure, size)?)
}

/// Whole pixels, rounded up.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a height in pixels; a cast saturates"
)]
fn pixels(px: f64) -> u32 {
    px.ceil() as u32
}
