//! Reasons why a figure could not be drawn.

use plotters::drawing::DrawingAreaErrorKind;
use resvg::usvg;

/// Why a figure could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The height leaves no room for the panels under the headings.
    #[error(
        "picture height: {height_px} pixels at {width_px} wide, at least {least_px} for this figure"
    )]
    TooLow {
        /// The width asked for.
        width_px: u32,
        /// The height asked for.
        height_px: u32,
        /// The least height for that width.
        least_px: u32,
    },
    /// An edge is zero or beyond [`LONGEST_EDGE_PX`].
    #[error("picture size: {width_px} × {height_px} pixels, 1 to {LONGEST_EDGE_PX} each way")]
    OutOfRange {
        /// The width asked for.
        width_px: u32,
        /// The height asked for.
        height_px: u32,
    },
    /// The drawing could not be written as SVG.
    #[error("drawing as svg")]
    Drawing(#[from] DrawingAreaErrorKind<std::io::Error>),
    /// The SVG could not be read by the rasteriser.
    #[error("reading the drawn svg")]
    Reading(#[from] usvg::Error),
    /// There is no memory for the pixels, or they could not be packed.
    #[error("picture of {width_px} × {height_px} pixels: not to be stored as png")]
    Png {
        /// Its width.
        width_px: u32,
        /// Its height.
        height_px: u32,
    },
}

/// The longest edge of a picture, in pixels: a poster; more would only fill the memory.
pub const LONGEST_EDGE_PX: u32 = 16_000;
