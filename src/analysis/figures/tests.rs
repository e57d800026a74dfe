use super::super::testing::row;
use super::*;
use crate::analysis::compare::Compare;
use crate::analysis::pairing::Pairing;
use crate::coil::{Resonance, Route};
use crate::reading::Status;

fn model(low_hz: f64, high_hz: f64) -> Resonance {
    Resonance {
        value_hz: f64::midpoint(low_hz, high_hz),
        low_hz,
        high_hz,
        route: Route::Measured,
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
        .map(|span| (span.label.as_str(), span.x.low, span.x.high))
        .collect();
    assert_eq!(spans, [("stopped", 40.0, 45.0), ("gap", 70.0, 72.0)]);
    assert_eq!(figure.marks, notes().marks);
    assert_eq!(figure.stamp, None);
}

#[test]
fn a_model_among_the_readings_is_drawn_and_a_band_that_goes_beyond_is_said_to() {
    let figure_of = |low_hz, high_hz| {
        let (traces, comparison) = session(Some(model(low_hz, high_hz)));
        against_voltage(&traces, &comparison, None, &notes())
    };
    let near = figure_of(6.001e6, 6.011e6);
    let band = &near.panels[0].bands[0];
    assert_eq!(band.value, Some(6.006e6));
    assert_eq!(
        band.label,
        "model 6.006 MHz, measured; band 6.001–6.011 MHz"
    );
    assert_eq!(near.caption.len(), 2, "{:?}", near.caption);
    let wide = figure_of(5.8e6, 6.2e6);
    let Span { low, high } = wide.panels[0].y.range.unwrap();
    assert!(low < 6.0e6 && low > 5.998e6, "{low}");
    assert!(high > 6.012e6 && high < 6.014e6, "{high}");
    assert_eq!(
        wide.panels[0].bands[0].label,
        "model 6.000 MHz, measured; band 5.800–6.200 MHz, beyond this picture"
    );
    assert_eq!(wide.caption.len(), 2, "{:?}", wide.caption);
}

#[test]
fn a_value_that_would_flatten_the_drift_is_named_instead() {
    let named = |low_hz, high_hz| {
        let (traces, comparison) = session(Some(model(low_hz, high_hz)));
        let figure = against_voltage(&traces, &comparison, None, &notes());
        let bands = figure.panels[0].bands.clone();
        assert!(bands.iter().all(|band| band.value.is_none()));
        (bands.len(), figure.caption.last().cloned().unwrap())
    };
    let (bands, words) = named(5.6e6, 6.1e6);
    assert_eq!(bands, 1, "the band reaches over the readings");
    insta::assert_snapshot!(words,
        @"model 5.850 MHz, measured, below this picture; all readings are inside its band, 5.600–6.100 MHz");
    let (bands, words) = named(5.6e6, 5.8e6);
    assert_eq!(bands, 0);
    insta::assert_snapshot!(words,
        @"model 5.700 MHz, measured, below this picture; all readings are above its band, 5.600–5.800 MHz");
}

#[test]
fn an_excursion_that_dwarfs_the_drift_gives_a_panel_without_it() {
    let mut compare = Compare::new(Some(model(5.9e6, 6.1e6)), Pairing::new());
    for i in 0..900 {
        let volts = 9.0 - 0.001 * f64::from(i);
        let hand_hz = if (400..440).contains(&i) { -70e3 } else { 0.0 };
        let hertz = 6e6 + 1500.0 * volts + f64::from(i * 7919 % 101) * 0.2 + hand_hz;
        compare.push(&[row(
            "scope",
            f64::from(i),
            Some(hertz),
            Some(volts),
            Status::Ok,
        )]);
    }
    let (traces, comparison) = (compare.traces(), compare.report());
    assert_eq!(
        (comparison.excursions.count(), comparison.left_out),
        (1, 40)
    );
    let over_time = over_time(&traces, &comparison, &notes());
    assert_eq!(over_time.panels.len(), 3);
    let against = against_voltage(&traces, &comparison, None, &notes());
    for detail in [&over_time.panels[1], &against.panels[1]] {
        let Span { low, high } = detail.y.range.unwrap();
        assert!(low > 6.011e6 && high < 6.015e6, "{low} {high}");
    }
    assert_eq!(against.panels[0].series.len(), 1);
    assert_eq!(against.panels[1].series[1].role, Role::Fitted);
}

#[test]
fn the_pushing_line_runs_through_the_dots() {
    let (traces, comparison) = session(None);
    let figure = against_voltage(&traces, &comparison, None, &notes());
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
fn the_modelled_pushing_lies_behind_the_dots_with_its_own_slope_and_goes_through_their_middle() {
    let (traces, comparison) = session(None);
    // Typical parts run fully only down to 8.5 V here.
    let curve = Curve::from_points([(8.5, 5.9e6), (9.0, 5.901e6)]).unwrap();
    let figure = against_voltage(&traces, &comparison, Some(&curve), &notes());
    let [modelled, dots, _] = figure.panels[0].series.as_slice() else {
        panic!("{figure:?}");
    };
    assert_eq!(dots.stroke, Stroke::Dots);
    let [(v0, f0), (v1, f1)] = modelled.pieces[0][..] else {
        panic!("{modelled:?}");
    };
    assert!(((f1 - f0) / (v1 - v0) - 2e3).abs() < 1e-6);
    let truth_hz = 6e6 + 12e3 * 0.75 + 25.0;
    assert!(
        (f64::midpoint(f0, f1) - truth_hz).abs() < 200.0,
        "{f0} {f1}"
    );
    insta::assert_snapshot!(modelled.label, @"modelled pushing +2.00 kHz/V, moved by +110 kHz to the readings");
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
    assert_eq!(absolute.bands[0].value, Some(0.0));
    assert_eq!(
        absolute.bands[0].label,
        "zero is the model's 6.005 MHz, measured; band 5.995–6.015 MHz, beyond this picture"
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
