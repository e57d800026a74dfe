//! The few ways in which words are set.

use super::face::Weight;
use super::palette::{Colour, INK};
use super::scene::{Hang, Shape, Text};
use super::thin::Place;
use super::ticks::{MOST_TICKS, Scale};

/// Text: 8.8 pixels high when the page is shown 390 pixels wide.
pub(super) const TEXT_PX: f64 = 36.0;
/// Distance of two lines of text.
pub(super) const LINE_PX: f64 = 1.32 * TEXT_PX;
/// The heading.
pub(super) const TITLE_PX: f64 = 48.0;
/// Distance of two lines of the heading.
pub(super) const TITLE_LINE_PX: f64 = 1.25 * TITLE_PX;

/// Room between a plot and the numbers beside it.
pub(super) const TICK_GAP_PX: f64 = 16.0;

/// A line of the heading.
pub(super) fn title(words: &str, at: Place) -> Shape {
    set(words, at, Hang::Left, (TITLE_PX, Weight::Bold, INK))
}

/// The words of an axis.
pub(super) fn axis(words: &str, at: Place, hang: Hang) -> Shape {
    set(words, at, hang, (TEXT_PX, Weight::Bold, INK))
}

/// Ordinary words, hung by their left end.
pub(super) fn plain(words: &str, at: Place) -> Shape {
    label(words, at, Hang::Left, INK)
}

/// Ordinary words.
pub(super) fn label(words: &str, at: Place, hang: Hang, colour: Colour) -> Shape {
    set(words, at, hang, (TEXT_PX, Weight::Regular, colour))
}

/// Width of the widest number an axis may come to carry.
pub(super) fn widest_px(scale: &Scale) -> f64 {
    let ticks = (2..=MOST_TICKS).flat_map(|most| scale.ticks(most));
    let widths = ticks.map(|tick| Weight::Regular.width_px(&tick.text, TEXT_PX));
    widths.fold(0.0, f64::max)
}

fn set(words: &str, at: Place, hang: Hang, style: (f64, Weight, Colour)) -> Shape {
    let (size_px, weight, colour) = style;
    Shape::Words(Text {
        words: words.to_owned(),
        at,
        hang,
        size_px,
        weight,
        colour,
    })
}
