//! SVG to PNG, with the embedded typeface alone: the same bytes on every machine.

use std::sync::Arc;

use resvg::{tiny_skia, usvg};

use super::error::PlotError;
use super::face::Weight;

/// Returns the rasteriser's options: our two faces, no system fonts, nothing to load.
pub(super) fn options() -> usvg::Options<'static> {
    let mut options = usvg::Options::default();
    let faces = options.fontdb_mut();
    for weight in [Weight::Regular, Weight::Bold] {
        faces.load_font_source(usvg::fontdb::Source::Binary(Arc::new(weight.file())));
    }
    options
}

/// Draws the SVG at its own size.
pub(super) fn png(svg: &str) -> Result<Vec<u8>, PlotError> {
    let tree = usvg::Tree::from_str(svg, &options())?;
    let size = tree.size().to_int_size();
    let fault = || PlotError::Png {
        width_px: size.width(),
        height_px: size.height(),
    };
    let mut pixels = tiny_skia::Pixmap::new(size.width(), size.height()).ok_or_else(fault)?;
    resvg::render(
        &tree,
        tiny_skia::Transform::identity(),
        &mut pixels.as_mut(),
    );
    pixels.encode_png().map_err(|_| fault())
}
