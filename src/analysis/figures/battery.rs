//! The picture of a battery: voltage under load, its runs laid over each other, and the charge given.

use crate::battery::logbook::Logbook;
use crate::battery::outlook::Outlook;
use crate::figure::{Axis, Figure, Panel, Quantity, Role, Series, Span, Stroke};
use crate::units::Unit;

use super::super::discharge::Point;

/// One run to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    /// Its day.
    pub label: String,
    /// Its points.
    pub points: Vec<Point>,
}

/// Voltage over time under load of the runs given, the newest first, with the end voltage and the band in which the run may
/// come to its end; below it the charge, where a current is known.
pub fn runs(book: &Logbook, overlays: &[Overlay], looked: Option<&Outlook>) -> Figure {
    let end_v = book.last().and_then(|last| last.end_v);
    let longest_s = overlays
        .iter()
        .filter_map(|one| one.points.last())
        .map(|point| point.sample.running_s)
        .fold(0.0, f64::max);
    let said = looked.and_then(|looked| looked.said.as_ref().ok());
    let spans: Vec<Span> = said
        .map(|said| Span {
            label: "end, likely".to_owned(),
            from: said.elapsed_s + said.low_s,
            to: said.elapsed_s + said.high_s,
        })
        .into_iter()
        .collect();
    let last_s = spans.iter().map(|span| span.to).fold(longest_s, f64::max);
    let mut voltage = drawn(overlays, |point| Some(point.sample.volts_v));
    voltage.extend(end_v.map(|end_v| Series {
        label: "end voltage".to_owned(),
        role: Role::Limit,
        stroke: Stroke::Dashed,
        pieces: vec![vec![(0.0, end_v), (last_s, end_v)]],
    }));
    let charge = drawn(overlays, |point| point.charge_ah);
    let mut panels = vec![panel("battery voltage", Unit::Volt, voltage)];
    if charge.iter().any(|series| !series.pieces.is_empty()) {
        panels.push(panel("charge given", Unit::AmpereHour, charge));
    }
    let simulated = book.entries.iter().any(|entry| entry.simulated);
    Figure {
        title: format!("Battery {} under load", book.battery),
        caption: caption(book, looked),
        stamp: simulated.then(|| "simulated".to_owned()),
        x: Axis::new("time under load", Quantity::Elapsed),
        panels,
        spans,
        marks: Vec::new(),
    }
}

fn caption(book: &Logbook, looked: Option<&Outlook>) -> Vec<String> {
    let kind = book.kind().map_or("kind not known", |kind| kind.name());
    let estimated = if book.entries.iter().any(|entry| entry.estimated) {
        "; current estimated, not measured"
    } else {
        ""
    };
    let band = match looked.map(|looked| &looked.said) {
        Some(Ok(_)) => "; shaded: 90 % band of the end",
        _ => "",
    };
    vec![format!(
        "{kind}; time counts while the coil runs{estimated}{band}"
    )]
}

fn panel(label: &str, unit: Unit, series: Vec<Series>) -> Panel {
    Panel {
        y: Axis::new(label, Quantity::Si(unit)),
        series,
        bands: Vec::new(),
    }
}

/// A line for each run: the newest as a battery, those before it dashed.
fn drawn(overlays: &[Overlay], value: impl Fn(&Point) -> Option<f64>) -> Vec<Series> {
    let series = |(age, one): (usize, &Overlay)| Series {
        label: one.label.clone(),
        role: if age == 0 {
            Role::Battery
        } else {
            Role::Second
        },
        stroke: if age == 0 {
            Stroke::Line
        } else {
            Stroke::Dashed
        },
        pieces: pieces(&one.points, &value),
    };
    overlays.iter().enumerate().map(series).collect()
}

/// The points in pieces that break where data are missing.
fn pieces(points: &[Point], value: impl Fn(&Point) -> Option<f64>) -> Vec<Vec<(f64, f64)>> {
    points
        .chunk_by(|_, next| !next.after_gap)
        .map(|piece| {
            let known = piece
                .iter()
                .filter_map(|one| Some((one.sample.running_s, value(one)?)));
            known.collect::<Vec<_>>()
        })
        .filter(|piece| !piece.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::curve::Sample;

    fn point(running_s: f64, after_gap: bool) -> Point {
        Point {
            sample: Sample {
                running_s,
                volts_v: 9.0,
                current_a: None,
            },
            charge_ah: None,
            energy_wh: None,
            after_gap,
        }
    }

    #[test]
    fn a_line_breaks_where_data_are_missing() {
        let points = [point(0.0, false), point(1.0, false), point(60.0, true)];
        let lengths: Vec<usize> = pieces(&points, |one| Some(one.sample.volts_v))
            .iter()
            .map(Vec::len)
            .collect();
        assert_eq!(lengths, [2, 1]);
        assert!(pieces(&points, |one| one.charge_ah).is_empty());
    }
}
