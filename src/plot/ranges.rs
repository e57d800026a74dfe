//! What an axis must reach over: the data's own range, widened where it has no length.

use crate::figure::{Axis, Figure, Panel, Quantity};
use crate::units::Unit;

/// Beyond this nothing is a reading of a bench, and differences of numbers begin to overflow: treated as a break.
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

/// Two values that grow to take in others.
#[derive(Debug, Clone, Copy)]
struct Reach {
    low: f64,
    high: f64,
}

impl Reach {
    const NONE: Self = Self {
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    fn take(&mut self, value: f64) {
        if is_number(value) {
            self.low = self.low.min(value);
            self.high = self.high.max(value);
        }
    }

    fn get(self) -> Option<(f64, f64)> {
        (self.low <= self.high).then_some((self.low, self.high))
    }
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
pub(super) fn x(figure: &Figure) -> Option<(f64, f64)> {
    if let Some(range) = asked(&figure.x) {
        return Some(range);
    }
    let mut reach = Reach::NONE;
    for panel in &figure.panels {
        points(panel).for_each(|point| reach.take(point.0));
    }
    for span in &figure.spans {
        reach.take(span.from);
        reach.take(span.to);
    }
    for mark in &figure.marks {
        reach.take(mark.at);
    }
    // Dots at the very edge keep their whole disc.
    Some(widened(reach.get()?, 0.01, figure.x.quantity))
}

/// The y range of a panel; `None` if it is empty.
pub(super) fn y(panel: &Panel) -> Option<(f64, f64)> {
    if let Some(range) = asked(&panel.y) {
        return Some(range);
    }
    let mut reach = Reach::NONE;
    points(panel).for_each(|point| reach.take(point.1));
    for band in &panel.bands {
        reach.take(band.low);
        reach.take(band.high);
        band.value.into_iter().for_each(|value| reach.take(value));
    }
    Some(widened(reach.get()?, 0.06, panel.y.quantity))
}

/// The range the figure itself asks for; one that is no range is passed over.
fn asked(axis: &Axis) -> Option<(f64, f64)> {
    let (low, high) = axis.range?;
    let sound =
        is_number(low) && is_number(high) && high - low > LEAST_PART * low.abs().max(high.abs());
    sound.then_some((low, high))
}

/// Adds `margin` of the span on both sides; gives a constant the room of a per cent around it.
fn widened((low, high): (f64, f64), margin: f64, quantity: Quantity) -> (f64, f64) {
    let largest = low.abs().max(high.abs());
    if high - low > LEAST_PART * largest {
        let room = margin * (high - low);
        return (low - room, high + room);
    }
    let room = match quantity {
        Quantity::Percent | Quantity::Si(Unit::Percent) => 0.01_f64.max(0.1 * largest),
        Quantity::Ppm => 1e-6_f64.max(0.1 * largest),
        Quantity::Si(_) if largest > 0.0 => 0.01 * largest,
        Quantity::Elapsed | Quantity::Name | Quantity::Place | Quantity::Si(_) => 1.0,
    };
    (low - room, high + room)
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
        let (low, high) = y(&panel(&[(0.0, 6e6), (1.0, 6e6)])).expect("there are readings");
        assert!(low < 5.99e6 && high > 6.01e6, "{low} {high}");
        assert_eq!(y(&panel(&[(0.0, 0.0)])), Some((-1.0, 1.0)));
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
        let (low, high) = y(&nasty).expect("two readings are sound");
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
        assert!(y(&with_band).is_some_and(|(low, high)| low < 6.0 && high > 8.0));
        with_band.y.range = Some((0.0, 3.0));
        assert_eq!(y(&with_band), Some((0.0, 3.0)));
        with_band.y.range = Some((3.0, 3.0));
        assert!(y(&with_band).is_some_and(|(low, high)| low < 6.0 && high > 8.0));
    }
}
