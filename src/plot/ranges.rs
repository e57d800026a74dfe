//! The range that an axis must show: the data's own range, widened where it has no length.

use crate::figure::{Axis, Figure, Panel, Quantity};
use crate::units::{Span, Unit};

/// The largest value: beyond it nothing is a reading of a bench, and differences of numbers begin to overflow. It is treated as a
/// break.
const LARGEST: f64 = 1e60;

/// Ranges shorter than this part of the value are rounding, not data.
const LEAST_PART: f64 = 1e-11;

/// Whether a point can be drawn; one that cannot is a break in its line.
pub(super) fn is_drawable(point: &(f64, f64)) -> bool {
    is_number(point.0) && is_number(point.1)
}

fn is_number(value: f64) -> bool {
    value.abs() < LARGEST
}

/// Returns the range from the least to the greatest of the numbers that can be drawn; `None` without one.
fn reach(values: impl Iterator<Item = f64>) -> Option<Span> {
    let drawable = values.filter(|value| is_number(*value));
    drawable.map(Span::of).reduce(Span::joined)
}

/// The points of a panel that can be drawn.
fn points(panel: &Panel) -> impl Iterator<Item = &(f64, f64)> {
    let pieces = panel.series.iter().flat_map(|series| &series.pieces);
    pieces.flatten().filter(|point| is_drawable(point))
}

/// Whether the panel has anything measured or computed to show.
pub(super) fn has_readings(panel: &Panel) -> bool {
    points(panel).next().is_some()
}

/// The common x range; `None` if nothing in the figure has a place on x.
pub(super) fn x(figure: &Figure) -> Option<Span> {
    if let Some(range) = asked(&figure.x) {
        return Some(range);
    }
    let read = figure.panels.iter().flat_map(points).map(|point| point.0);
    let spans = figure
        .spans
        .iter()
        .flat_map(|span| [span.x.low, span.x.high]);
    let marks = figure.marks.iter().map(|mark| mark.at);
    // Dots at the very edge keep their whole disc.
    Some(widened(
        reach(read.chain(spans).chain(marks))?,
        0.01,
        figure.x.quantity,
    ))
}

/// The y range of a panel; `None` if it is empty.
pub(super) fn y(panel: &Panel) -> Option<Span> {
    if let Some(range) = asked(&panel.y) {
        return Some(range);
    }
    let read = points(panel).map(|point| point.1);
    let edges = panel.bands.iter().flat_map(|band| [band.low, band.high]);
    let values = panel.bands.iter().filter_map(|band| band.value);
    Some(widened(
        reach(read.chain(edges).chain(values))?,
        0.06,
        panel.y.quantity,
    ))
}

/// The range the figure itself asks for; one that is no range is passed over.
fn asked(axis: &Axis) -> Option<Span> {
    let Span { low, high } = axis.range?;
    let sound =
        is_number(low) && is_number(high) && high - low > LEAST_PART * low.abs().max(high.abs());
    sound.then_some(Span::new(low, high))
}

/// Adds `margin` of the span on both sides; gives a constant the room of a per cent around it.
fn widened(Span { low, high }: Span, margin: f64, quantity: Quantity) -> Span {
    let largest = low.abs().max(high.abs());
    if high - low > LEAST_PART * largest {
        let room = margin * (high - low);
        return Span::new(low - room, high + room);
    }
    let room = match quantity {
        Quantity::Percent | Quantity::Si(Unit::Percent) => 0.01_f64.max(0.1 * largest),
        Quantity::Ppm => 1e-6_f64.max(0.1 * largest),
        Quantity::Si(_) if largest > 0.0 => 0.01 * largest,
        Quantity::Elapsed | Quantity::Name | Quantity::Place | Quantity::Si(_) => 1.0,
    };
    Span::new(low - room, high + room)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Band, Role, Series, Stroke};

    fn panel(points: &[(f64, f64)]) -> Panel {
        Panel {
            y: Axis::new("frequency", Quantity::Si(Unit::Hertz)),
            series: vec![Series {
                label: String::new(),
                role: Role::Measured,
                stroke: Stroke::Line,
                pieces: vec![points.to_vec()],
            }],
            bands: Vec::new(),
        }
    }

    #[test]
    fn a_constant_is_given_room_on_both_sides() {
        let Span { low, high } = y(&panel(&[(0.0, 6e6), (1.0, 6e6)])).expect("there are readings");
        assert!(low < 5.99e6 && high > 6.01e6, "{low} {high}");
        assert_eq!(y(&panel(&[(0.0, 0.0)])), Some(Span::new(-1.0, 1.0)));
    }

    #[test]
    fn what_is_no_number_does_not_stretch_the_axis() {
        let nasty = panel(&[
            (0.0, f64::NAN),
            (1.0, f64::INFINITY),
            (2.0, 1e300),
            (3.0, 5.0),
            (f64::NAN, 9.0),
            (4.0, 7.0),
        ]);
        let Span { low, high } = y(&nasty).expect("two readings are sound");
        assert!(low > 4.8 && high < 7.2, "{low} {high}");
        assert_eq!(y(&panel(&[(0.0, f64::NAN)])), None);
    }

    #[test]
    fn a_band_is_always_in_sight_and_a_range_asked_for_is_obeyed() {
        let mut with_band = panel(&[(0.0, 6.0), (1.0, 6.1)]);
        with_band.bands.push(Band {
            label: String::new(),
            role: Role::Modelled,
            low: 7.0,
            value: None,
            high: 8.0,
        });
        assert!(y(&with_band).is_some_and(|y| y.low < 6.0 && y.high > 8.0));
        with_band.y.range = Some(Span::new(0.0, 3.0));
        assert_eq!(y(&with_band), Some(Span::new(0.0, 3.0)));
        with_band.y.range = Some(Span::of(3.0));
        assert!(y(&with_band).is_some_and(|y| y.low < 6.0 && y.high > 8.0));
    }
}
