//! The picture of a battery: voltage under load, its runs laid over each other, and the charge given.

use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::Outlook;
use crate::figure::{Axis, Figure, Panel, Quantity, Role, Series, Stretch, Stroke};
use crate::units::{Span, Unit};

use crate::analysis::discharge::{Discharge, LoadOff, Point};

/// One run to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    /// Its day.
    pub label: String,
    /// Its points.
    pub points: Vec<Point>,
    /// The places where the load went off and gave the resistance.
    pub steps: Vec<LoadOff>,
}

impl Overlay {
    /// Creates the overlay of a session as a discharge.
    pub fn new(label: String, run: &Discharge) -> Self {
        Self {
            label,
            points: run.points().to_vec(),
            steps: run.steps().to_vec(),
        }
    }
}

/// Draws voltage over time under load of the runs given, the newest first. It shows the end voltage, the band of the run's
/// possible end, and the voltage at which the coil is predicted to stop. Below it stand charge, energy and the resistance where
/// the load went off, as far as a current is known.
pub fn runs(
    book: &Logbook,
    overlays: &[Overlay],
    looked: Option<&Outlook>,
    stop_v: Option<f64>,
) -> Figure {
    let end_v = book.last().and_then(|last| last.end_v);
    let longest_s = overlays
        .iter()
        .filter_map(|one| one.points.last())
        .map(|point| point.sample.running_s)
        .fold(0.0, f64::max);
    let said = looked.and_then(|looked| looked.said.as_ref().ok());
    let spans: Vec<Stretch> = said
        .map(|said| Stretch {
            label: "end, likely".to_owned(),
            x: Span::new(said.elapsed_s + said.low_s, said.elapsed_s + said.high_s),
        })
        .into_iter()
        .collect();
    let last_s = spans
        .iter()
        .map(|span| span.x.high)
        .fold(longest_s, f64::max);
    let looks = looks_of_one(overlays.len());
    let mut voltage = drawn(overlays, &looks, |point| Some(point.sample.volts_v));
    voltage.extend(end_v.map(|end_v| level("end voltage", Role::Limit, end_v, last_s)));
    voltage.extend(
        stop_v.map(|stop_v| level("coil stops, predicted", Role::Modelled, stop_v, last_s)),
    );
    let panels = panels(voltage, overlays, &looks);
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

/// Draws one run of each of several batteries laid over each other, with the end voltage where all have the same.
pub fn side_by_side(entries: &[&Entry], overlays: &[Overlay]) -> Figure {
    let last_s = overlays
        .iter()
        .filter_map(|one| one.points.last())
        .map(|point| point.sample.running_s)
        .fold(0.0, f64::max);
    let looks = looks_of_several(overlays.len());
    let mut voltage = drawn(overlays, &looks, |point| Some(point.sample.volts_v));
    let mut ends = entries.iter().map(|entry| entry.end_v);
    let first_v = ends.next().flatten();
    let shared_v = first_v.filter(|first_v| {
        ends.all(|end_v| end_v.is_some_and(|end_v| (end_v - first_v).abs() < 1e-9))
    });
    voltage.extend(shared_v.map(|end_v| level("end voltage", Role::Limit, end_v, last_s)));
    let estimated = if entries.iter().any(|entry| entry.estimated) {
        "; current estimated, not measured"
    } else {
        ""
    };
    let end = if shared_v.is_none() {
        "; their end voltages differ or are not known"
    } else {
        ""
    };
    Figure {
        title: "Batteries compared under load".to_owned(),
        caption: vec![format!(
            "each one's last full run, else its last; time counts while the coil runs{estimated}{end}"
        )],
        stamp: entries
            .iter()
            .any(|entry| entry.simulated)
            .then(|| "simulated".to_owned()),
        x: Axis::new("time under load", Quantity::Elapsed),
        panels: panels(voltage, overlays, &looks),
        spans: Vec::new(),
        marks: Vec::new(),
    }
}

/// Returns the voltages, and below them charge, energy and resistance as far as they are known.
fn panels(voltage: Vec<Series>, overlays: &[Overlay], looks: &[(Role, Stroke)]) -> Vec<Panel> {
    let charge = drawn(overlays, looks, |point| point.charge_ah);
    let energy = drawn(overlays, looks, |point| point.energy_wh);
    let below = [
        ("charge given", Unit::AmpereHour, charge),
        ("energy given", Unit::WattHour, energy),
        (
            "resistance, load going off",
            Unit::Ohm,
            resistance(overlays, looks),
        ),
    ];
    let known = below
        .into_iter()
        .filter(|(.., series)| series.iter().any(|one| !one.pieces.is_empty()));
    let mut panels = vec![panel("battery voltage", Unit::Volt, voltage)];
    panels.extend(known.map(|(label, unit, series)| panel(label, unit, series)));
    panels
}

/// Returns a voltage over the whole width.
fn level(label: &str, role: Role, volts_v: f64, last_s: f64) -> Series {
    Series {
        label: label.to_owned(),
        role,
        stroke: Stroke::Dashed,
        pieces: vec![vec![(0.0, volts_v), (last_s, volts_v)]],
    }
}

/// Of one battery's runs the newest is a battery's line; those before it have colours of their own, dashed, and when those
/// are used up in lines.
fn looks_of_one(count: usize) -> Vec<(Role, Stroke)> {
    let roles = [Role::Second, Role::Measured, Role::Fitted];
    let strokes = [Stroke::Dashed, Stroke::Line];
    let before = strokes
        .into_iter()
        .flat_map(|stroke| roles.into_iter().map(move |role| (role, stroke)));
    std::iter::once((Role::Battery, Stroke::Line))
        .chain(before.cycle())
        .take(count)
        .collect()
}

/// Batteries differ by four colours, and four more by dashes.
fn looks_of_several(count: usize) -> Vec<(Role, Stroke)> {
    let roles = [Role::Battery, Role::Second, Role::Fitted, Role::Modelled];
    let strokes = [Stroke::Line, Stroke::Dashed];
    let looks = strokes
        .into_iter()
        .flat_map(|stroke| roles.into_iter().map(move |role| (role, stroke)));
    looks.take(count).collect()
}

fn caption(book: &Logbook, looked: Option<&Outlook>) -> Vec<String> {
    let kind = book.kind().map_or("kind not known", |kind| kind.name());
    let estimated = if book.entries.iter().any(|entry| entry.estimated) {
        "; current estimated, not measured"
    } else {
        ""
    };
    let missing = if book.entries.iter().any(|entry| entry.missing_s > 0.0) {
        "; readings are missing: charge and energy are at least as drawn"
    } else {
        ""
    };
    let band = match looked.map(|looked| &looked.said) {
        Some(Ok(_)) => "; shaded: 90 % band of the end",
        _ => "",
    };
    vec![format!(
        "{kind}; time counts while the coil runs{estimated}{missing}{band}"
    )]
}

fn panel(label: &str, unit: Unit, series: Vec<Series>) -> Panel {
    Panel {
        y: Axis::new(label, Quantity::Si(unit)),
        series,
        bands: Vec::new(),
    }
}

/// Returns a line for each run.
fn drawn(
    overlays: &[Overlay],
    looks: &[(Role, Stroke)],
    value: impl Fn(&Point) -> Option<f64>,
) -> Vec<Series> {
    let series = |(one, &(role, stroke)): (&Overlay, &(Role, Stroke))| Series {
        label: one.label.clone(),
        role,
        stroke,
        pieces: pieces(&one.points, &value),
    };
    // The last one is drawn on top: the newest. A run without data would only take a line of the key.
    let drawn = overlays.iter().zip(looks).rev().map(series);
    drawn.filter(|one| !one.pieces.is_empty()).collect()
}

/// Returns a dot for each time the load went off.
fn resistance(overlays: &[Overlay], looks: &[(Role, Stroke)]) -> Vec<Series> {
    let series = |(one, (role, _)): (&Overlay, &(Role, Stroke))| Series {
        label: one.label.clone(),
        role: *role,
        stroke: Stroke::Dots,
        pieces: vec![
            one.steps
                .iter()
                .map(|step| (step.running_s, step.resistance.ohm))
                .collect(),
        ],
    };
    let told = overlays.iter().zip(looks).rev();
    told.filter(|(one, _)| !one.steps.is_empty())
        .map(series)
        .collect()
}

/// Returns the points in pieces that break where data are missing.
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
    fn earlier_runs_are_told_apart_and_those_without_data_are_left_out() {
        let looks = looks_of_one(7);
        for (index, look) in looks.iter().enumerate() {
            assert!(!looks[..index].contains(look), "{look:?} stands twice");
        }
        let run = |label: &str, points: Vec<Point>| Overlay {
            label: label.to_owned(),
            points,
            steps: Vec::new(),
        };
        let overlays = [
            run("today", vec![point(0.0, false), point(60.0, false)]),
            run("nothing in it", Vec::new()),
        ];
        let series = drawn(&overlays, &looks, |point| Some(point.sample.volts_v));
        assert_eq!(series.len(), 1);
        assert_eq!(series[0].label, "today");
    }

    #[test]
    fn the_newest_run_is_drawn_last_and_so_on_top() {
        let run = |label: &str| Overlay {
            label: label.to_owned(),
            points: vec![point(0.0, false), point(60.0, false)],
            steps: Vec::new(),
        };
        let book = Logbook {
            battery: "N2".to_owned(),
            is_simulated: false,
            entries: Vec::new(),
        };
        let figure = runs(&book, &[run("today"), run("yesterday")], None, None);
        let labels: Vec<&str> = figure.panels[0]
            .series
            .iter()
            .map(|one| one.label.as_str())
            .collect();
        assert_eq!(labels, ["yesterday", "today"]);
    }

    #[test]
    fn where_the_coil_stops_is_drawn_over_the_whole_run_if_asked_for() {
        let book = Logbook {
            battery: "N2".to_owned(),
            is_simulated: false,
            entries: Vec::new(),
        };
        let overlays = [Overlay {
            label: "a day".to_owned(),
            points: vec![point(0.0, false), point(60.0, false)],
            steps: Vec::new(),
        }];
        let stops = |stop_v| {
            let figure = runs(&book, &overlays, None, stop_v);
            let mut series = figure.panels.into_iter().flat_map(|panel| panel.series);
            series.find(|one| one.label == "coil stops, predicted")
        };
        let drawn = stops(Some(7.1)).unwrap();
        assert_eq!(drawn.pieces, [[(0.0, 7.1), (60.0, 7.1)]]);
        assert_eq!((drawn.role, drawn.stroke), (Role::Modelled, Stroke::Dashed));
        assert_eq!(stops(None), None);
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
