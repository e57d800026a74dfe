//! The pictures of a session: drift over time, frequency against battery voltage, deviation from the model.

pub mod battery;
mod model;

use crate::circuit::pushing::Curve;
use crate::coil::surroundings::EarthState;
use crate::figure::{Axis, Band, Figure, Mark, Panel, Quantity, Role, Series, Stretch, Stroke};
use crate::units::{self, Span, Unit};

use crate::analysis::compare::{Comparison, Traces};
use crate::analysis::drift::{Joint, Slope};
use crate::analysis::trace::{Sample, Trace};
use model::{draw_model, place_model, value_text, with_margin};

/// A panel without the excursions is added when they make the picture higher by more than this factor. Chosen.
const DWARFED: f64 = 2.0;
/// The text that must stand under a picture, and the notes made during the session.
#[derive(Debug, Clone, PartialEq)]
pub struct Notes {
    /// Name of the build.
    pub build: String,
    /// Date of the session, for people.
    pub date: String,
    /// The instruments.
    pub instruments: String,
    /// The meaning of "simulated" here; `None` for measured data.
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

/// Returns the frequency and battery voltage over time, one above the other. The axes are the data's own, so that the drift
/// shows; where an excursion would flatten it, it has a panel of its own.
pub fn over_time(traces: &Traces, comparison: &Comparison, notes: &Notes) -> Figure {
    let frequency = line(&traces.frequency, "frequency", Role::Measured, |hertz| {
        hertz
    });
    let voltage = line(&traces.voltage, "battery", Role::Battery, |volts| volts);
    let frequency = panel("frequency", Quantity::Si(Unit::Hertz), frequency);
    let mut panels = vec![
        frequency,
        panel("battery voltage", Quantity::Si(Unit::Volt), voltage),
    ];
    if let Some(settled) = settled_panel(&panels[0], traces, comparison) {
        panels.insert(1, settled);
    }
    Figure {
        panels,
        ..timed("Frequency and battery voltage", comparison, notes)
    }
}

/// Returns the frequency against battery voltage. The picture has the fitted pushing, the circuit's own behind the readings, and
/// the model as far as it reaches into it.
pub fn against_voltage(
    traces: &Traces,
    comparison: &Comparison,
    curve: Option<&Curve>,
    notes: &Notes,
) -> Figure {
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
    let mut whole = panel("frequency", Quantity::Si(Unit::Hertz), dots);
    let all_hz = Span::new(f64::NEG_INFINITY, f64::INFINITY);
    let settled_hz = comparison.settled_hz.unwrap_or(all_hz);
    let modelled = curve.and_then(|curve| model::pushing(curve, &points, settled_hz));
    let add_slopes = |panel: &mut Panel| {
        panel.series.splice(0..0, modelled);
        panel.series.extend(pushing_line(comparison, &points));
    };
    let mut caption = caption(comparison, notes);
    let mut panels = Vec::new();
    if let Some(mut settled) = settled_panel(&whole, traces, comparison) {
        add_slopes(&mut settled);
        panels.push(settled);
    } else {
        add_slopes(&mut whole);
    }
    if let (Some(model), Some(range)) = (&comparison.model, traces.frequency.range()) {
        caption.extend(place_model(&mut whole, model, range));
    }
    panels.insert(0, whole);
    Figure {
        title: "Frequency against battery voltage".to_owned(),
        caption,
        stamp: stamp(notes),
        x: Axis::new("battery voltage", Quantity::Si(Unit::Volt)),
        panels,
        spans: Vec::new(),
        marks: Vec::new(),
    }
}

/// Returns the deviation of the measured from the modelled frequency over time, in hertz and as a ratio; `None` without a model.
/// The model, which is the zero, is always in sight.
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
    let own_hz = |sample: &Sample| {
        let at_s = sample.stamp.elapsed_s();
        let stretches = comparison.stretches.iter().rev();
        stretches
            .filter(|one| one.stretch.from_s <= at_s)
            .find_map(|one| Some(one.stretch.model.as_ref()?.value_hz))
            .unwrap_or(value_hz)
    };
    let quantity = match ratio {
        RatioUnit::Percent => Quantity::Percent,
        RatioUnit::Ppm => Quantity::Ppm,
    };
    let measured =
        |to: &dyn Fn(&Sample) -> f64| traced(&traces.frequency, "measured", Role::Measured, to);
    let mut absolute = panel(
        "deviation",
        Quantity::Si(Unit::Hertz),
        measured(&|sample| sample.value - own_hz(sample)),
    );
    let mut relative = panel(
        "deviation",
        quantity,
        measured(&|sample| sample.value / own_hz(sample) - 1.0),
    );
    let mut caption = caption(comparison, notes);
    if comparison.stretches.len() > 1 {
        caption.push(own_models(comparison));
        // One line for all bands: they differ.
        let zero = |label: &str| Band {
            label: label.to_owned(),
            role: Role::Modelled,
            low: 0.0,
            value: Some(0.0),
            high: 0.0,
        };
        absolute
            .bands
            .push(zero("zero is the model in the earth state of the time"));
        relative.bands.push(zero(""));
    } else if let Some(read_hz) = traces.frequency.range() {
        let range_hz = read_hz.joined(Span::of(value_hz));
        let zero = format!("zero is the model's {}", value_text(model));
        draw_model(&mut absolute, model, range_hz, &off, &zero);
        draw_model(&mut relative, model, range_hz, &share, &zero);
        // The same model in both panels: named once.
        relative
            .bands
            .iter_mut()
            .for_each(|band| band.label.clear());
    }
    let mut figure = timed("Deviation from the model", comparison, notes);
    figure.panels = vec![absolute, relative];
    figure.caption = caption;
    Some(figure)
}

/// Returns the models of all stretches in one line.
fn own_models(comparison: &Comparison) -> String {
    let words: Vec<String> = comparison
        .stretches
        .iter()
        .filter_map(|one| {
            let state = one.stretch.earth.map_or("", EarthState::name);
            let model = one.stretch.model.as_ref()?;
            let value = units::rounded(model.value_hz, Unit::Hertz, 4);
            Some(format!("{state} {value}"))
        })
        .collect();
    format!("model: {}", words.join(", then "))
}

fn line(trace: &Trace, label: &str, role: Role, to: impl Fn(f64) -> f64) -> Series {
    traced(trace, label, role, |sample| to(sample.value))
}

fn traced(trace: &Trace, label: &str, role: Role, to: impl Fn(&Sample) -> f64) -> Series {
    let point = |sample: &Sample| (sample.stamp.elapsed_s(), to(sample));
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

/// Returns a picture over time without panels yet: heading, time axis, stops, missing data and marks.
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
    let events = &comparison.events;
    let more = events.stops().more + events.outages().more;
    let not_drawn = (more > 0)
        .then(|| format!("{more} later stops and gaps are not shaded: only the first are kept"));
    [first, comparison.pairing.to_string()]
        .into_iter()
        .chain(not_drawn)
        .chain(simulated.map(|meaning| format!("simulated: {meaning}")))
        .collect()
}

fn stamp(notes: &Notes) -> Option<String> {
    notes.simulated.as_ref().map(|_| "simulated".to_owned())
}

/// Returns stops and missing data; a stretch that has not ended reaches to the last row.
fn spans(comparison: &Comparison) -> Vec<Stretch> {
    let end_s = comparison.summary.end_s();
    let span = |label: &str, from: f64, to_s: Option<f64>| Stretch {
        label: label.to_owned(),
        x: Span::new(from, to_s.unwrap_or(end_s)),
    };
    let stops = comparison.events.stops().entries.iter();
    let outages = comparison.events.outages().entries.iter();
    stops
        .map(|stop| span("stopped", stop.from_s, stop.to_s))
        .chain(outages.map(|outage| span(outage.status.word(), outage.from_s, outage.to_s)))
        .collect()
}

/// Returns the fitted straight line over the voltages that were read.
fn pushing_line(comparison: &Comparison, points: &[(f64, f64)]) -> Option<Series> {
    // The same as in words.
    let (fit, how) = match (comparison.drift.joint, comparison.drift.on_voltage) {
        (Joint::Separate { on_voltage, .. }, _) => (on_voltage, ", at constant time"),
        (_, Slope::Fitted(fit)) => (fit, ""),
        _ => return None,
    };
    let volts = || points.iter().map(|&(volts, _)| volts);
    let low_v = volts().min_by(f64::total_cmp)?;
    let high_v = volts().max_by(f64::total_cmp)?;
    let (at_v, at_hz) = middle(comparison, points).unwrap_or((fit.at, fit.at_hz));
    let on_line = |volts: f64| (volts, fit.slope.value.mul_add(volts - at_v, at_hz));
    Some(Series {
        label: format!(
            "pushing {}{how}",
            fit.slope.written(Unit::Hertz, "/V").replace('-', "−")
        ),
        role: Role::Fitted,
        stroke: Stroke::Line,
        pieces: vec![vec![on_line(low_v), on_line(high_v)]],
    })
}

/// Returns the mean of the points outside the excursions: the line is about its slope, and is drawn where the points are. A
/// generalised fit with strongly correlated residuals puts its own line beside them.
fn middle(comparison: &Comparison, points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let settled_hz = comparison.settled_hz?;
    let settled = || {
        points
            .iter()
            .filter(|(_, hertz)| settled_hz.contains(*hertz))
    };
    let count = settled().count() as f64;
    let mean = |pick: fn(&(f64, f64)) -> f64| settled().map(pick).sum::<f64>() / count;
    (count > 0.0).then(|| (mean(|point| point.0), mean(|point| point.1)))
}

/// Returns the panel once more with the range of the readings outside the excursions, where the excursions dwarf it.
fn settled_panel(whole: &Panel, traces: &Traces, comparison: &Comparison) -> Option<Panel> {
    let settled_hz = comparison.settled_hz?;
    let is_dwarfed = traces.frequency.range()?.width() > DWARFED * settled_hz.width();
    if comparison.excursions.count() == 0 || !is_dwarfed {
        return None;
    }
    let mut settled = whole.clone();
    settled.y.label.push_str(" in detail, excursions cut off");
    settled.y.range = Some(with_margin(settled_hz));
    Some(settled)
}

#[cfg(test)]
mod tests;
