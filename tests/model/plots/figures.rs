//! Figures to be drawn: usual ones, and those that have broken layouts.

use super::*;

pub(super) fn words(figure: &Figure) -> Vec<String> {
    let svg = plot::svg(figure, plot::usual_size(figure)).expect("the figure is drawn");
    all_texts(&svg)
        .0
        .into_iter()
        .map(|text| text.words)
        .collect()
}

pub(super) fn series(role: Role, stroke: Stroke, pieces: Vec<Vec<(f64, f64)>>) -> Series {
    Series {
        label: String::new(),
        role,
        stroke,
        pieces,
    }
}

pub(super) fn panel(label: &str, quantity: Quantity, series: Vec<Series>) -> Panel {
    Panel {
        y: Axis::new(label, quantity),
        series,
        bands: Vec::new(),
    }
}

pub(super) fn figure(panels: Vec<Panel>) -> Figure {
    Figure {
        title: "Frequency over the demo".to_owned(),
        caption: vec!["build: invented".to_owned()],
        stamp: None,
        x: Axis::new("elapsed time", Quantity::Elapsed),
        panels,
        spans: Vec::new(),
        marks: Vec::new(),
    }
}

pub(super) fn one_line(points: Vec<(f64, f64)>) -> Figure {
    let measured = series(Role::Measured, Stroke::Line, vec![points]);
    figure(vec![panel(
        "frequency",
        Quantity::Si(Unit::Hertz),
        vec![measured],
    )])
}

pub(super) fn mark(at: f64, text: &str) -> Mark {
    Mark {
        at,
        text: text.to_owned(),
    }
}

pub(super) fn span(from: f64, to: f64, label: &str) -> Stretch {
    Stretch {
        label: label.to_owned(),
        x: Span::new(from, to),
    }
}

/// Noise without a random source: the fractional part of a large sine (made up, only to look rough).
pub(super) fn rough(index: u32) -> f64 {
    ((f64::from(index) * 12.9898).sin() * 43758.5453).fract()
}

pub(super) fn labelled(label: &str, mut series: Series) -> Series {
    label.clone_into(&mut series.label);
    series
}

/// A value for each of `count` places, `step` apart.
pub(super) fn each(count: u32, step: f64, y: impl Fn(f64, u32) -> f64) -> Vec<(f64, f64)> {
    let point = |i| {
        let x = step * f64::from(i);
        (x, y(x, i))
    };
    (0..count).map(point).collect()
}

/// A frequency that drifts, with a gap, a fit and a modelled band.
pub(super) fn drifting() -> Panel {
    let drift = |t: f64| 6.231e6 - 40.0 * t.sqrt() - 1.2 * t;
    let mut readings = each(3600, 1.0, |t, i| drift(t) + 300.0 * rough(i));
    let after = readings.split_off(1700);
    readings.truncate(1500);
    let measured = series(Role::Measured, Stroke::Line, vec![readings, after]);
    let fitted = series(
        Role::Fitted,
        Stroke::Line,
        vec![each(37, 100.0, |t, _| drift(t))],
    );
    let both = vec![
        labelled("measured", measured),
        labelled("robust line through the good readings", fitted),
    ];
    let mut frequency = panel("frequency", Quantity::Si(Unit::Hertz), both);
    frequency.bands.push(Band {
        label: "modelled resonance with its band, sheet in force when the session began".to_owned(),
        role: Role::Modelled,
        low: 6.2235e6,
        value: Some(6.2285e6),
        high: 6.2335e6,
    });
    frequency
}

/// A battery that is being emptied.
pub(super) fn emptied() -> Panel {
    let mut volts = each(3600, 1.0, |t, i| 9.2 - 0.0006 * t + 0.02 * rough(i));
    let after = volts.split_off(1700);
    volts.truncate(1500);
    let loaded = series(Role::Battery, Stroke::Line, vec![volts, after]);
    let limit = series(
        Role::Limit,
        Stroke::Dashed,
        vec![vec![(0.0, 6.5), (3600.0, 6.5)]],
    );
    let both = vec![
        labelled("under load", loaded),
        labelled("lowest for a demo", limit),
    ];
    panel("battery", Quantity::Si(Unit::Volt), both)
}

/// Dots and dashes about nought.
pub(super) fn spread() -> Panel {
    let dots = each(60, 60.0, |_, i| 4e-5 * rough(i));
    let saw = each(60, 60.0, |_, i| 1e-5 * f64::from(i % 7));
    let both = vec![
        series(Role::Second, Stroke::Dots, vec![dots]),
        series(Role::Modelled, Stroke::Dashed, vec![saw]),
    ];
    panel("deviation from the line", Quantity::Ppm, both)
}

/// A discharge as it may come from a bench; all values invented.
pub(super) fn busy() -> Figure {
    let mut busy = figure(vec![drifting(), emptied(), spread()]);
    busy.title
        .push_str(", battery voltage and deviation, from switch-on to the cut-off");
    busy.caption = vec![
        "build: glow pillar, 450 turns of 0.20 mm wire on 16 mm, standing on an insulating table"
            .to_owned(),
        "session 2026-03-05 18:20 UTC; counter with a gate of 0.1 s; values invented for a test"
            .to_owned(),
    ];
    busy.stamp = Some("simulated".to_owned());
    busy.spans = vec![
        span(1500.0, 1700.0, "gap"),
        span(2400.0, 2410.0, "stopped"),
        span(2420.0, 2425.0, "gap"),
        span(2440.0, 2500.0, "weak oscillation"),
        span(3300.0, 3310.0, "stopped"),
    ];
    let texts = [
        "touched the top",
        "lamp brought near the foot and held there until the light went out, then put back on the table",
        "new clip",
    ];
    let noted = (0..12_u32).zip(texts.iter().cycle());
    busy.marks = noted
        .map(|(i, text)| mark(f64::from(i * i) * 29.0 + 20.0, text))
        .collect();
    busy
}

pub(super) fn ramp(count: u32, span: f64, low: f64, high: f64) -> Figure {
    let step = span / f64::from(count - 1);
    one_line(each(count, step, |x, _| low + (high - low) * x / span))
}

/// Long words everywhere, marks at both ends.
pub(super) fn wordy() -> Figure {
    let mut wordy = ramp(9, 10.0, 1.0, 2.0);
    wordy.title = "A very long heading that says everything there is to say about this picture and then more ".repeat(3);
    wordy.caption = vec![
        "an_extremely_long_word_without_any_blank_".repeat(9),
        String::new(),
        "short\tand\u{1}odd".to_owned(),
    ];
    wordy.x.label.push_str(" since the person switched the circuit on for the first time that day, by the recorder's own clock");
    let panel = &mut wordy.panels[0];
    panel.y.label.push_str(" of the strongest line, averaged over the gate time of the counter and once more over ten readings");
    panel.series[0].label =
        "the reading of the first counter with its own reference, warmed up for an hour ".repeat(3);
    wordy.marks = vec![
        mark(10.0, "at the very end <&\"'>"),
        mark(0.0, "rotate(90, 1, 1)"),
        mark(f64::NAN, "nowhere"),
        mark(5.0, &"and so on ".repeat(500)),
    ];
    wordy.spans = vec![span(2.0, 3.0, "odd\u{1} & <wide>")];
    wordy
}

/// More marks and spans than can be named one by one.
pub(super) fn crowded() -> Figure {
    let mut crowded = ramp(9, 36_000.0, 6.23e6, 6.24e6);
    crowded.marks = (0..60)
        .map(|i| mark(f64::from(i) * 600.0, "again"))
        .collect();
    let kinds = ["gap", "stopped", ""].iter().cycle();
    let places = (0..90).map(|i| f64::from(i) * 400.0);
    crowded.spans = places
        .zip(kinds)
        .map(|(at, kind)| span(at, at + 50.0, kind))
        .collect();
    crowded
}

pub(super) fn bands_only() -> Figure {
    let mut bare = figure(vec![panel(
        "frequency",
        Quantity::Si(Unit::Hertz),
        Vec::new(),
    )]);
    bare.panels[0].bands.push(Band {
        label: "modelled".to_owned(),
        role: Role::Modelled,
        low: f64::NAN,
        value: Some(6.2e6),
        high: 6.3e6,
    });
    bare
}

pub(super) fn cut() -> Figure {
    let mut cut = ramp(50, 10.0, 0.0, 100.0);
    cut.panels[0].y.range = Some(Span::new(40.0, 45.0));
    cut.x.range = Some(Span::new(2.0, 9.0));
    cut
}

pub(super) fn dots(points: Vec<(f64, f64)>) -> Figure {
    let dots = series(Role::Second, Stroke::Dots, vec![points]);
    figure(vec![panel("deviation", Quantity::Percent, vec![dots])])
}

pub(super) fn tiny_ratios() -> Figure {
    let mut tiny = ramp(9, 5.0, -4e-13, -1e-13);
    tiny.panels[0].y.quantity = Quantity::Ppm;
    tiny
}

/// Figures that have broken layouts, each with its name.
pub(super) fn nasty() -> Vec<(&'static str, Figure)> {
    let late = each(9, 0.1, |_, _| 7.0)
        .into_iter()
        .map(|(x, y)| (86_400.0 + x, y))
        .collect();
    let faults = vec![(f64::NAN, 1.0), (1.0, f64::INFINITY), (2.0, -1e300)];
    let mixed = vec![
        (0.0, 1.0),
        (1.0, f64::NAN),
        (2.0, 3.0),
        (3.0, 2.0),
        (4.0, f64::NEG_INFINITY),
    ];
    vec![
        ("busy", busy()),
        ("wordy", wordy()),
        ("crowded", crowded()),
        ("bands only", bands_only()),
        ("cut at a range asked for", cut()),
        ("constant", ramp(5, 100.0, 6.23e6, 6.23e6)),
        ("one point", one_line(vec![(12.0, 6.23e6)])),
        ("one dot at nought", dots(vec![(0.0, 0.0)])),
        (
            "twenty hertz",
            ramp(100, 600.0, 6.23e6 - 10.0, 6.23e6 + 10.0),
        ),
        ("one second", ramp(100, 1.0, 0.0, 5.0)),
        ("ten hours", ramp(100, 36_000.0, 0.0, 5.0)),
        ("a second late in a long session", one_line(late)),
        ("no data", one_line(Vec::new())),
        ("no panel", figure(Vec::new())),
        ("nothing but faults", one_line(faults)),
        ("some faults", one_line(mixed)),
        ("tiny ratios below nought", tiny_ratios()),
        ("huge", ramp(9, 1e12, -1e40, 1e40)),
        (
            "a cloud",
            dots((0..40_000).map(|i| (rough(i), rough(i + 7))).collect()),
        ),
        (
            "a million readings",
            one_line(each(1_000_000, 0.01, |_, i| 6.23e6 + 20.0 * rough(i))),
        ),
    ]
}
