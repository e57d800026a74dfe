//! The pictures of a session: drift over time, frequency against battery voltage, deviation from the model.

use crate::coil::Resonance;
use crate::figure::{Axis, Band, Figure, Mark, Panel, Quantity, Role, Series, Span, Stroke};
use crate::units::{self, Unit};

use super::compare::{BandPlace, Comparison, Traces};
use super::drift::Slope;
use super::trace::{Sample, Trace};

/// The model's band is drawn when it widens the picture to no more than so many times the data's own span: the drift must
/// stay visible. Chosen.
const WIDEN: f64 = 3.0;

/// What must stand under a picture, and what was noted during the session.
#[derive(Debug, Clone, PartialEq)]
pub struct Notes {
    /// Name of the build.
    pub build: String,
    /// Date of the session, for people.
    pub date: String,
    /// The instruments.
    pub instruments: String,
    /// What "simulated" means here; `None` for measured data.
    pub simulated: Option<String>,
    /// The person's marks.
    pub marks: Vec<Mark>,
}

/// How a deviation is written as a ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatioUnit {
    /// Per cent.
    Percent,
    /// Parts per million.
    Ppm,
}

/// Frequency and battery voltage over time, one above the other. The axes are the data's own, so that the drift shows.
pub fn over_time(traces: &Traces, comparison: &Comparison, notes: &Notes) -> Figure {
    let frequency = line(&traces.frequency, "frequency", Role::Measured, |hertz| {
        hertz
    });
    let voltage = line(&traces.voltage, "battery", Role::Battery, |volts| volts);
    let panels = vec![
        panel("frequency", Quantity::Si(Unit::Hertz), frequency),
        panel("battery voltage", Quantity::Si(Unit::Volt), voltage),
    ];
    Figure {
        panels,
        ..timed("Frequency and battery voltage", comparison, notes)
    }
}

/// Frequency against battery voltage, with the fitted pushing and, where it fits in, the model's band.
pub fn against_voltage(traces: &Traces, comparison: &Comparison, notes: &Notes) -> Figure {
    let points: Vec<(f64, f64)> = traces
        .frequency
        .pieces()
        .concat()
        .iter()
        .filter_map(|sample| Some((sample.battery_v?, sample.value)))
        .collect();
    let dots = Series {
        label: "measured".to_owned(),
        role: Role::Measured,
        stroke: Stroke::Dots,
        pieces: vec![points.clone()],
    };
    let mut panel = panel("frequency", Quantity::Si(Unit::Hertz), dots);
    panel.series.extend(pushing_line(comparison, &points));
    let mut caption = caption(comparison, notes);
    if let (Some(model), Some(range)) = (&comparison.model, traces.frequency.range()) {
        caption.extend(place_band(&mut panel, model, range));
    }
    Figure {
        title: "Frequency against battery voltage".to_owned(),
        caption,
        stamp: stamp(notes),
        x: Axis::new("battery voltage", Quantity::Si(Unit::Volt)),
        panels: vec![panel],
        spans: Vec::new(),
        marks: Vec::new(),
    }
}

/// Deviation of the measured from the modelled frequency over time, in hertz and as a ratio; `None` without a model.
pub fn deviation(
    traces: &Traces,
    comparison: &Comparison,
    notes: &Notes,
    ratio: RatioUnit,
) -> Option<Figure> {
    let model = comparison.model.as_ref()?;
    let value_hz = model.value_hz;
    let off = |hertz: f64| hertz - value_hz;
    let share = |hertz: f64| (hertz - value_hz) / value_hz;
    let quantity = match ratio {
        RatioUnit::Percent => Quantity::Percent,
        RatioUnit::Ppm => Quantity::Ppm,
    };
    let measured =
        |to: &dyn Fn(f64) -> f64| line(&traces.frequency, "measured", Role::Measured, to);
    let mut absolute = panel("deviation", Quantity::Si(Unit::Hertz), measured(&off));
    let mut relative = panel("deviation", quantity, measured(&share));
    let mut figure = timed("Deviation from the model", comparison, notes);
    if let Some((low_hz, high_hz)) = traces.frequency.range() {
        for (panel, to) in [
            (&mut absolute, &off as &dyn Fn(f64) -> f64),
            (&mut relative, &share),
        ] {
            place_scaled_band(panel, model, (low_hz, high_hz), to);
        }
        figure.caption.push(model_line(
            model,
            (low_hz, high_hz),
            absolute.bands.is_empty(),
        ));
    }
    figure.panels = vec![absolute, relative];
    Some(figure)
}

fn line(trace: &Trace, label: &str, role: Role, to: impl Fn(f64) -> f64) -> Series {
    let point = |sample: &Sample| (sample.stamp.elapsed_s(), to(sample.value));
    Series {
        label: label.to_owned(),
        role,
        stroke: Stroke::Line,
        pieces: trace
            .pieces()
            .iter()
            .map(|piece| piece.iter().map(point).collect())
            .collect(),
    }
}

fn panel(label: &str, quantity: Quantity, series: Series) -> Panel {
    Panel {
        y: Axis::new(label, quantity),
        series: vec![series],
        bands: Vec::new(),
    }
}

/// A picture over time without panels yet: heading, time axis, stops, missing data and marks.
fn timed(title: &str, comparison: &Comparison, notes: &Notes) -> Figure {
    Figure {
        title: title.to_owned(),
        caption: caption(comparison, notes),
        stamp: stamp(notes),
        x: Axis::new("time", Quantity::Elapsed),
        panels: Vec::new(),
        spans: spans(comparison),
        marks: notes.marks.clone(),
    }
}

fn caption(comparison: &Comparison, notes: &Notes) -> Vec<String> {
    let first = format!("{} · {} · {}", notes.build, notes.date, notes.instruments);
    let simulated = notes.simulated.as_ref();
    [first, comparison.pairing.to_string()]
        .into_iter()
        .chain(simulated.map(|meaning| format!("simulated: {meaning}")))
        .collect()
}

fn stamp(notes: &Notes) -> Option<String> {
    notes.simulated.as_ref().map(|_| "simulated".to_owned())
}

/// Stops and missing data; what has not ended reaches to the last row.
fn spans(comparison: &Comparison) -> Vec<Span> {
    let end_s = comparison.summary.end_s();
    let span = |label: &str, from: f64, to_s: Option<f64>| Span {
        label: label.to_owned(),
        from,
        to: to_s.unwrap_or(end_s),
    };
    let stops = comparison.events.stops().entries.iter();
    let outages = comparison.events.outages().entries.iter();
    stops
        .map(|stop| span("stopped", stop.from_s, stop.to_s))
        .chain(outages.map(|outage| span(outage.status.word(), outage.from_s, outage.to_s)))
        .collect()
}

/// The fitted straight line over the voltages that were read.
fn pushing_line(comparison: &Comparison, points: &[(f64, f64)]) -> Option<Series> {
    let Slope::Fitted(fit) = comparison.drift.on_voltage else {
        return None;
    };
    let volts = || points.iter().map(|&(volts, _)| volts);
    let low_v = volts().min_by(f64::total_cmp)?;
    let high_v = volts().max_by(f64::total_cmp)?;
    let (at_v, at_hz) = fit.through;
    let on_line = |volts: f64| (volts, fit.slope.value.mul_add(volts - at_v, at_hz));
    Some(Series {
        label: format!("pushing {}", fit.slope.written(Unit::Hertz, "/V")),
        role: Role::Fitted,
        stroke: Stroke::Line,
        pieces: vec![vec![on_line(low_v), on_line(high_v)]],
    })
}

/// Draws the model's band into a panel in hertz where it leaves the data visible; else gives the line that names it.
fn place_band(panel: &mut Panel, model: &Resonance, range: (f64, f64)) -> Option<String> {
    place_scaled_band(panel, model, range, &|hertz| hertz);
    panel
        .bands
        .is_empty()
        .then(|| model_line(model, range, true))
}

/// Draws the band, with values in hertz turned into the panel's own by `to`.
fn place_scaled_band(
    panel: &mut Panel,
    model: &Resonance,
    (low_hz, high_hz): (f64, f64),
    to: &dyn Fn(f64) -> f64,
) {
    let (from_hz, to_hz) = (low_hz.min(model.low_hz), high_hz.max(model.high_hz));
    if to_hz - from_hz > WIDEN * (high_hz - low_hz) {
        return;
    }
    let margin_hz = 0.05 * (to_hz - from_hz);
    panel.y.range = Some((to(from_hz - margin_hz), to(to_hz + margin_hz)));
    panel.bands.push(Band {
        label: format!("model, {}", model.route),
        role: Role::Modelled,
        low: to(model.low_hz),
        value: Some(to(model.value_hz)),
        high: to(model.high_hz),
    });
}

/// The model in words; when it isn't drawn, also where the readings are from it.
fn model_line(model: &Resonance, (low_hz, high_hz): (f64, f64), outside: bool) -> String {
    let hertz = |value| units::rounded(value, Unit::Hertz, 4);
    let model_hz = format!(
        "model {} (band {}–{}, {})",
        hertz(model.value_hz),
        hertz(model.low_hz),
        hertz(model.high_hz),
        model.route
    );
    if !outside {
        return model_hz;
    }
    let readings = match (BandPlace::of(low_hz, model), BandPlace::of(high_hz, model)) {
        (BandPlace::Inside, BandPlace::Inside) => "all readings are inside the band",
        (BandPlace::Above, _) => "all readings are above the band",
        (_, BandPlace::Below) => "all readings are below the band",
        _ => "some readings are inside the band",
    };
    format!("{model_hz} lies outside this picture; {readings}")
}

#[cfg(test)]
mod tests {
    use super::super::compare::Compare;
    use super::super::pairing::Pairing;
    use super::super::testing::row;
    use super::*;
    use crate::reading::Status;

    fn model(low_hz: f64, high_hz: f64) -> Resonance {
        Resonance {
            value_hz: f64::midpoint(low_hz, high_hz),
            low_hz,
            high_hz,
            route: "invented".to_owned(),
        }
    }

    fn notes() -> Notes {
        Notes {
            build: "invented build".to_owned(),
            date: "2026-01-02".to_owned(),
            instruments: "scope".to_owned(),
            simulated: None,
            marks: vec![Mark {
                at: 12.0,
                text: "hand near".to_owned(),
            }],
        }
    }

    /// Invented: 100 s from 9 V to 8.01 V at 12 kHz/V about 6.012 MHz, with a stop at 40 s and a gap at 70 s.
    fn session(model: Option<Resonance>) -> (Traces, Comparison) {
        let mut compare = Compare::new(model, Pairing::new());
        for i in 0..100 {
            let volts = 9.0 - 0.01 * f64::from(i);
            let hertz = 6e6 + 12e3 * (volts - 8.0) + f64::from(i * 7919 % 101) * 0.5;
            let (hertz, status) = match i {
                40..=44 => (None, Status::NoSignal),
                70..=71 => (None, Status::Gap),
                _ => (Some(hertz), Status::Ok),
            };
            compare.push(&[row("scope", f64::from(i), hertz, Some(volts), status)]);
        }
        (compare.traces(), compare.report())
    }

    #[test]
    fn drift_is_drawn_over_time_with_breaks_stops_gaps_and_marks() {
        let (traces, comparison) = session(Some(model(5e6, 7e6)));
        let figure = over_time(&traces, &comparison, &notes());
        let [frequency, battery] = figure.panels.as_slice() else {
            panic!("{figure:?}");
        };
        let lengths = |panel: &Panel| {
            let pieces = &panel.series[0].pieces;
            pieces.iter().map(Vec::len).collect::<Vec<_>>()
        };
        assert_eq!(lengths(frequency), [40, 25, 28]);
        assert_eq!(
            lengths(battery),
            [70, 28],
            "the battery is read through a stop"
        );
        assert!(frequency.bands.is_empty() && frequency.y.range.is_none());
        let spans: Vec<_> = figure
            .spans
            .iter()
            .map(|span| (span.label.as_str(), span.from, span.to))
            .collect();
        assert_eq!(spans, [("stopped", 40.0, 45.0), ("gap", 70.0, 72.0)]);
        assert_eq!(figure.marks, notes().marks);
        assert_eq!(figure.stamp, None);
    }

    #[test]
    fn a_band_near_the_readings_is_drawn_and_fits_in() {
        let (traces, comparison) = session(Some(model(5.995e6, 6.015e6)));
        let figure = against_voltage(&traces, &comparison, &notes());
        let panel = &figure.panels[0];
        assert_eq!(panel.bands[0].value, Some(6.005e6));
        let (low, high) = panel.y.range.unwrap();
        assert!(low < 5.995e6 && high > 6.015e6, "{low} {high}");
        assert_eq!(figure.caption.len(), 2, "{:?}", figure.caption);
    }

    #[test]
    fn a_band_that_would_flatten_the_drift_is_named_instead() {
        let words = |low_hz, high_hz| {
            let (traces, comparison) = session(Some(model(low_hz, high_hz)));
            let figure = against_voltage(&traces, &comparison, &notes());
            assert!(figure.panels[0].bands.is_empty() && figure.panels[0].y.range.is_none());
            figure.caption.last().cloned().unwrap()
        };
        insta::assert_snapshot!(words(5.6e6, 6.1e6),
            @"model 5.850 MHz (band 5.600 MHz–6.100 MHz, invented) lies outside this picture; all readings are inside the band");
        insta::assert_snapshot!(words(5.6e6, 5.8e6),
            @"model 5.700 MHz (band 5.600 MHz–5.800 MHz, invented) lies outside this picture; all readings are above the band");
    }

    #[test]
    fn the_pushing_line_runs_through_the_dots() {
        let (traces, comparison) = session(None);
        let figure = against_voltage(&traces, &comparison, &notes());
        let [dots, line] = figure.panels[0].series.as_slice() else {
            panic!("{figure:?}");
        };
        assert_eq!(dots.pieces[0].len(), 93);
        for &(volts, hertz) in &line.pieces[0] {
            let truth = 6e6 + 12e3 * (volts - 8.0) + 25.0;
            assert!((hertz - truth).abs() < 10.0, "{hertz} is not {truth}");
        }
        assert!(line.label.ends_with(" Hz/V"), "{}", line.label);
    }

    #[test]
    fn deviation_is_drawn_in_hertz_and_as_a_ratio() {
        let (traces, comparison) = session(Some(model(5.995e6, 6.015e6)));
        let figure = deviation(&traces, &comparison, &notes(), RatioUnit::Ppm).unwrap();
        let [absolute, relative] = figure.panels.as_slice() else {
            panic!("{figure:?}");
        };
        assert_eq!(absolute.series[0].pieces[0][0], (0.0, 7000.0));
        assert!((relative.series[0].pieces[0][0].1 - 7.0 / 6005.0).abs() < 1e-12);
        assert_eq!(
            (absolute.bands[0].low, absolute.bands[0].high),
            (-10e3, 10e3)
        );
        assert_eq!(relative.y.quantity, Quantity::Ppm);
        let (traces, comparison) = session(None);
        assert_eq!(
            deviation(&traces, &comparison, &notes(), RatioUnit::Percent),
            None
        );
    }

    #[test]
    fn a_simulated_session_says_so_across_and_under_the_picture() {
        let (traces, comparison) = session(None);
        let notes = Notes {
            simulated: Some("a virtual bench, time × 240".to_owned()),
            ..notes()
        };
        let figure = over_time(&traces, &comparison, &notes);
        assert_eq!(figure.stamp.as_deref(), Some("simulated"));
        insta::assert_snapshot!(figure.caption.join("\n"), @r"
        invented build · 2026-01-02 · scope
        frequency and battery voltage of scope, read together
        simulated: a virtual bench, time × 240
        ");
    }
}
