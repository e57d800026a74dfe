//! The modelled resonance in a picture: its value and band as far as they reach into it, and the words beside them.

use crate::analysis::level::BandPlace;
use crate::circuit::pushing::Curve;
use crate::coil::Resonance;
use crate::figure::{Band, Panel, Role, Series, Stroke};
use crate::units::{self, Span, Unit};

/// The model's value is drawn when it widens the picture to at most this multiple of the data's own span: the drift must
/// stay visible. Chosen.
const WIDEN: f64 = 3.0;
/// Room over and under the range a panel must show, as a share of its height.
const MARGIN: f64 = 0.06;

/// Returns the range a panel must show, with room over and under it.
pub(super) const fn with_margin(range: Span) -> Span {
    let margin = MARGIN * range.width();
    Span::new(range.low - margin, range.high + margin)
}

/// Draws the model into a panel in hertz where it leaves the data visible; gives a line for the caption when its value is
/// out of sight.
pub(super) fn place_model(panel: &mut Panel, model: &Resonance, range_hz: Span) -> Option<String> {
    let with_value_hz = range_hz.joined(Span::of(model.value_hz));
    if with_value_hz.width() <= WIDEN * range_hz.width() {
        let words = format!("model {}", value_text(model));
        draw_model(panel, model, with_value_hz, &|hertz| hertz, &words);
        return None;
    }
    let shown_hz = with_margin(range_hz);
    if model.low_hz <= shown_hz.high && model.high_hz >= shown_hz.low {
        draw_model(panel, model, range_hz, &|hertz| hertz, "model");
    }
    Some(out_of_sight(model, range_hz))
}

/// Draws the model's band, and its value if in sight, into a panel that shows `range_hz`; `to` turns hertz into the panel's
/// own unit.
pub(super) fn draw_model(
    panel: &mut Panel,
    model: &Resonance,
    range_hz: Span,
    to: &dyn Fn(f64) -> f64,
    words: &str,
) {
    let shown_hz = with_margin(range_hz);
    let is_in_sight = |hertz: f64| shown_hz.contains(hertz);
    let beyond = if is_in_sight(model.low_hz) && is_in_sight(model.high_hz) {
        ""
    } else {
        ", beyond this picture"
    };
    panel.y.range =
        (shown_hz.high > shown_hz.low).then(|| Span::new(to(shown_hz.low), to(shown_hz.high)));
    panel.bands.push(Band {
        label: format!("{words}; band {}{beyond}", band_text(model)),
        role: Role::Modelled,
        low: to(model.low_hz),
        value: is_in_sight(model.value_hz).then(|| to(model.value_hz)),
        high: to(model.high_hz),
    });
}

/// Returns the model's value and its route.
pub(super) fn value_text(model: &Resonance) -> String {
    let value = units::rounded(model.value_hz, Unit::Hertz, 4);
    format!("{value}, {}", model.route)
}

fn band_text(model: &Resonance) -> String {
    units::rounded_span(Span::new(model.low_hz, model.high_hz), Unit::Hertz, 4)
}

/// Returns the circuit's frequency over the voltage, moved onto the readings so that its slope can be seen beside theirs.
///
/// A picture of drift is some kilohertz high, while the modelled frequency is off by per cents.
pub(super) fn pushing(curve: &Curve, points: &[(f64, f64)], settled_hz: Span) -> Option<Series> {
    let reach_v = curve.reach_v();
    let is_in_reach = |volt: f64| reach_v.contains(volt);
    let settled = || {
        let settled = points.iter();
        settled.filter(|(_, hertz)| settled_hz.contains(*hertz))
    };
    let any_in_reach = settled().any(|&(volt, _)| is_in_reach(volt));
    let off: Vec<f64> = settled()
        .filter(|&&(volt, _)| !any_in_reach || is_in_reach(volt))
        .map(|&(volt, hertz)| hertz - curve.at_hz(volt))
        .collect();
    let moved_hz = off.iter().sum::<f64>() / off.len() as f64;
    let signed = |value: f64, digits| {
        let sign = if value < 0.0 { "−" } else { "+" };
        format!("{sign}{}", units::rounded(value.abs(), Unit::Hertz, digits))
    };
    let point = |&(volt, hertz): &(f64, f64)| (volt, hertz + moved_hz);
    moved_hz.is_finite().then(|| Series {
        label: format!(
            "modelled pushing {}/V, moved by {} to the readings",
            signed(curve.slope_hz_per_v(), 3),
            signed(moved_hz, 2)
        ),
        role: Role::Modelled,
        stroke: Stroke::Dashed,
        pieces: vec![curve.points().iter().map(point).collect()],
    })
}

/// Returns where the model's value lies when it isn't drawn, and how the readings lie against its band.
fn out_of_sight(model: &Resonance, range_hz: Span) -> String {
    let side = if model.value_hz > range_hz.high {
        "above"
    } else {
        "below"
    };
    let readings = match [range_hz.low, range_hz.high].map(|hertz| BandPlace::of(hertz, model)) {
        [BandPlace::Inside, BandPlace::Inside] => "all readings are inside its band",
        [BandPlace::Above, _] => "all readings are above its band",
        [_, BandPlace::Below] => "all readings are below its band",
        _ => "some readings are inside its band",
    };
    let (value, band) = (value_text(model), band_text(model));
    format!("model {value}, {side} this picture; {readings}, {band}")
}
