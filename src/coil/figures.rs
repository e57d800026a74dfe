//! The pictures of a prediction: the mode along the coil, and the resonance with its band against a hand above the top.

use super::band::{self, Part};
use super::prediction::Prediction;
use super::rings::{Fineness, Profile, RingError, frequency_hz, profile};
use super::setup::{Footing, scene};
use super::spec::CoilSpec;
use crate::figure::{Axis, Band, Figure, Panel, Quantity, Role, Series, Stroke};
use crate::units::{Span, Unit, rounded};

/// Rings behind the picture of the mode, or the number of turns if they are fewer. Chosen: finer than a pixel shows.
const PROFILE_RINGS: f64 = 160.0;

/// Heights of the hand above the top, in metres: chosen, from as near as it lights to where it no longer shows.
const HAND_M: Span = Span::new(0.01, 0.3);

/// Heights computed between these.
const HAND_STEPS: u32 = 32;

/// Returns the text under each picture.
fn caption(build: &str, prediction: &Prediction) -> Vec<String> {
    let found = &prediction.resonance;
    let hertz = |value_hz, digits| rounded(value_hz, Unit::Hertz, digits);
    vec![
        build.to_owned(),
        format!(
            "model {}, between {} and {}; {}",
            hertz(found.value_hz, 4),
            hertz(found.low_hz, 3),
            hertz(found.high_hz, 3),
            found.route
        ),
    ]
}

fn curve(label: &str, role: Role, points: Vec<(f64, f64)>) -> Series {
    Series {
        label: label.to_owned(),
        role,
        stroke: Stroke::Line,
        pieces: vec![points],
    }
}

/// Returns the voltage and current along the winding at resonance, one above the other.
///
/// # Errors
/// Those of the ring model.
pub fn mode(build: &str, spec: &CoilSpec, prediction: &Prediction) -> Result<Figure, RingError> {
    let scene = scene(spec, Footing::of(spec.earth));
    let slope_m = scene.meridian.slope_m();
    let Profile { current, voltage } = profile(&scene, rings(spec))?;
    let current = rounded_ends(&current);
    let panel = |label: &str, points: Vec<(f64, f64)>| {
        let along = |(share, value): (f64, f64)| (share * slope_m, value);
        Panel {
            y: Axis::new(label, Quantity::Percent),
            series: vec![curve(
                "",
                Role::Modelled,
                points.into_iter().map(along).collect(),
            )],
            bands: Vec::new(),
        }
    };
    let mut current = panel("current", current);
    current.y.range = Some(Span::new(0.0, 1.05));
    let mut caption = caption(build, prediction);
    caption.push("voltage as a share of the top's, current as a share of its greatest".to_owned());
    Ok(Figure {
        title: "Voltage and current along the coil at resonance".to_owned(),
        caption,
        stamp: None,
        x: Axis::new("way from foot to top", Quantity::Si(Unit::Metre)),
        panels: vec![panel("voltage", voltage), current],
        spans: Vec::new(),
        marks: Vec::new(),
    })
}

/// Returns the current with its first and last step drawn as the roots they are.
///
/// Charge gathers at a winding's edges as the root of the distance over it. So from an edge on the current changes as the root of
/// the way. On the example spiral that is 0.25 of its greatest for each root of a millimetre, within 5 % from 60 to 480 rings. A
/// straight line across the first ring would show a corner that is none.
fn rounded_ends(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let [first, second, inner @ .., before, last] = points else {
        return points.to_vec();
    };
    let root = |edge: (f64, f64), inside: (f64, f64), part: u32| {
        let share = f64::from(part) / f64::from(ROOT_STEPS);
        let mix = |from: f64, to: f64, share: f64| from + (to - from) * share;
        (
            mix(edge.0, inside.0, share * share),
            mix(edge.1, inside.1, share),
        )
    };
    let at_foot = (0..=ROOT_STEPS).map(|part| root(*first, *second, part));
    let at_top = (0..=ROOT_STEPS)
        .rev()
        .map(|part| root(*last, *before, part));
    at_foot.chain(inner.iter().copied()).chain(at_top).collect()
}

/// Points of a root between an edge and the first ring beside it.
const ROOT_STEPS: u32 = 8;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a number of turns between 5, as the model wants, and 160"
)]
fn rings(spec: &CoilSpec) -> usize {
    spec.winding.turns.round().min(PROFILE_RINGS) as usize
}

/// Returns the resonance against the height of a hand above the top, its band behind it: the inner one by chance alone, the outer
/// one with everything unknown.
///
/// # Errors
/// Those of the ring model.
pub fn hand(build: &str, spec: &CoilSpec, prediction: &Prediction) -> Result<Figure, RingError> {
    let footing = Footing::of(spec.earth);
    let fineness = Fineness::for_turns(spec.winding.turns);
    let load_m = band::load_height_m(spec);
    let at = |height_m: Option<f64>| {
        let mut spec = *spec;
        spec.surroundings.hand_m = height_m.map(|height_m| height_m + load_m);
        frequency_hz(&scene(&spec, footing), fineness)
    };
    let usual_hz = at(spec.surroundings.hand_m.map(|hand_m| hand_m - load_m))?;
    let value_hz = prediction.resonance.value_hz;
    let Span {
        low: near_m,
        high: far_m,
    } = HAND_M;
    let points = (0..=HAND_STEPS)
        .map(|step| near_m * (far_m / near_m).powf(f64::from(step) / f64::from(HAND_STEPS)))
        .map(|height_m| Ok((height_m, value_hz * at(Some(height_m))? / usual_hz)))
        .collect::<Result<Vec<_>, RingError>>()?;
    let mut caption = caption(build, prediction);
    caption.extend(parts_line(prediction));
    Ok(Figure {
        title: "Resonance against the height of a hand above the top".to_owned(),
        caption,
        stamp: None,
        x: Axis::new("hand above the top", Quantity::Si(Unit::Metre)),
        panels: vec![Panel {
            y: Axis::new("resonance", Quantity::Si(Unit::Hertz)),
            series: vec![curve("with a hand", Role::Second, points)],
            bands: bands(prediction),
        }],
        spans: Vec::new(),
        marks: Vec::new(),
    })
}

/// Returns the band's parts as bars about the model's value, and all together; `None` where measured values gave the resonance.
pub fn parts(build: &str, prediction: &Prediction) -> Option<Figure> {
    let model = prediction.modelled.as_ref()?;
    let found = &prediction.resonance;
    let mut names = vec!["all together".to_owned()];
    names.extend(
        model
            .parts
            .iter()
            .rev()
            .map(|part| part.cause.name().to_owned()),
    );
    let rows = model.parts.len() as f64;
    let bars = |label: &str, role: Role, pieces: Vec<Vec<(f64, f64)>>| Series {
        label: label.to_owned(),
        role,
        stroke: Stroke::Bars,
        pieces,
    };
    let of = |is_chance: bool| -> Vec<Vec<(f64, f64)>> {
        let placed = model.parts.iter().enumerate();
        placed
            .filter(|(_, part)| part.cause.is_chance() == is_chance)
            .map(|(index, part)| {
                let at = rows - index as f64;
                let edge = |share: f64| (found.value_hz * (1.0 + share), at);
                vec![edge(part.low), edge(part.high)]
            })
            .collect()
    };
    let whole = vec![vec![(found.low_hz, 0.0), (found.high_hz, 0.0)]];
    let value = Series {
        stroke: Stroke::Dashed,
        ..curve(
            "the model's value",
            Role::Modelled,
            vec![(found.value_hz, -0.5), (found.value_hz, rows + 0.5)],
        )
    };
    let mut caption = caption(build, prediction);
    caption.extend(parts_line(prediction));
    Some(Figure {
        title: "What the resonance's band is made of".to_owned(),
        caption,
        stamp: None,
        x: Axis::new("resonance", Quantity::Si(Unit::Hertz)),
        panels: vec![Panel {
            y: Axis::of_names("", names),
            series: vec![
                bars("errs by chance, as squares add", Role::Fitted, of(true)),
                bars("not known, may all be so at once", Role::Second, of(false)),
                bars("the whole band", Role::Modelled, whole),
                value,
            ],
            bands: Vec::new(),
        }],
        spans: Vec::new(),
        marks: Vec::new(),
    })
}

/// Returns the band's parts in one line; none if it has no parts.
fn parts_line(prediction: &Prediction) -> Option<String> {
    let model = prediction.modelled.as_ref()?;
    let words = |part: &Part| {
        let (low, high) = (per_cent(part.low), per_cent(part.high));
        format!("{} {low} to {high} %", part.cause.name())
    };
    let parts: Vec<String> = model.parts.iter().map(words).collect();
    Some(format!("the band: {}", parts.join(", ")))
}

/// Writes a share in per cent with its sign; a share that rounds to zero has none.
fn per_cent(share: f64) -> String {
    if share.abs() < 0.0005 {
        "0".to_owned()
    } else {
        format!("{:+.1}", share * 100.0)
    }
}

fn bands(prediction: &Prediction) -> Vec<Band> {
    let found = &prediction.resonance;
    let mut bands = vec![Band {
        label: "model with all that is not known".to_owned(),
        role: Role::Modelled,
        low: found.low_hz,
        value: None,
        high: found.high_hz,
    }];
    if let Some(model) = &prediction.modelled {
        let chance: Vec<Part> = model
            .parts
            .iter()
            .filter(|part| part.cause.is_chance())
            .cloned()
            .collect();
        let edges = band::edges(&chance);
        bands.push(Band {
            label: "by winding and model alone".to_owned(),
            role: Role::Modelled,
            low: found.value_hz * edges.low,
            value: Some(found.value_hz),
            high: found.value_hz * edges.high,
        });
    }
    bands
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::predict::predict;
    use crate::coil::predict::tests::example;

    #[test]
    fn the_mode_runs_from_foot_to_top() {
        let spec = example();
        let figure = mode("pillar", &spec, &predict(&spec).unwrap()).unwrap();
        let [voltage, current] = figure.panels.as_slice() else {
            panic!("{}", figure.panels.len());
        };
        let points = |panel: &Panel| panel.series[0].pieces[0].clone();
        let last = *points(voltage).last().unwrap();
        assert!(
            (last.0 - 0.099).abs() < 5e-4 && (last.1 - 1.0).abs() < 1e-12,
            "{last:?}"
        );
        let most = points(current)
            .iter()
            .map(|point| point.1)
            .fold(0.0, f64::max);
        assert!((most - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_current_has_no_corner_at_the_foot_of_a_flat_spiral() {
        let spec = crate::coil::predict::tests::spiral();
        let figure = mode("plate", &spec, &predict(&spec).unwrap()).unwrap();
        let points = &figure.panels[1].series[0].pieces[0];
        assert!(points.is_sorted_by(|one, next| one.0 < next.0));
        // As a root: a quarter of the way carries half of the first ring's step.
        let at = |index: usize| points[index];
        let (foot, half, ring) = (at(0), at(4), at(8));
        assert!(((half.0 - foot.0) / (ring.0 - foot.0) - 0.25).abs() < 1e-9);
        assert!(((half.1 - foot.1) / (ring.1 - foot.1) - 0.5).abs() < 1e-9);
        assert_eq!(*points.last().unwrap(), (spec.winding.shape.slope_m(), 0.0));
    }

    #[test]
    fn each_part_has_its_bar_about_the_value_and_the_whole_band_holds_them() {
        let prediction = predict(&example()).unwrap();
        let figure = parts("pillar", &prediction).unwrap();
        let panel = &figure.panels[0];
        assert_eq!(
            panel.y.names,
            [
                "all together",
                "surroundings",
                "earth",
                "former",
                "model",
                "winding"
            ]
        );
        let [chance, rest, whole, _] = panel.series.as_slice() else {
            panic!("{:?}", panel.series);
        };
        assert_eq!((chance.pieces.len(), rest.pieces.len()), (2, 3));
        let (low, high) = (whole.pieces[0][0].0, whole.pieces[0][1].0);
        let value_hz = prediction.resonance.value_hz;
        for piece in chance.pieces.iter().chain(&rest.pieces) {
            assert!(low <= piece[0].0 && piece[0].0 <= value_hz);
            assert!(value_hz <= piece[1].0 && piece[1].0 <= high);
        }
        // The model's part is ±2 % and lies at the fifth name.
        let model = &chance.pieces[1];
        assert!((model[0].0 / value_hz - 0.98).abs() < 1e-12 && (model[0].1 - 4.0).abs() < 1e-12);
    }

    #[test]
    fn a_measured_resonance_has_no_parts_to_draw() {
        let mut spec = example();
        spec.measured.frequency_hz = Some(6e6);
        assert_eq!(parts("pillar", &predict(&spec).unwrap()), None);
    }

    #[test]
    fn a_hand_lowers_the_resonance_the_nearer_the_more() {
        let spec = example();
        let prediction = predict(&spec).unwrap();
        let figure = hand("pillar", &spec, &prediction).unwrap();
        let points = &figure.panels[0].series[0].pieces[0];
        assert!(points.is_sorted_by(|one, next| one.1 < next.1));
        // Computed before by another program of ours: -11.4 % at 10 mm.
        let nearest = points[0].1 / prediction.resonance.value_hz;
        assert!((nearest - 0.886).abs() < 3e-3, "{nearest}");
        let [all, chance] = figure.panels[0].bands.as_slice() else {
            panic!("{:?}", figure.panels[0].bands);
        };
        assert!(all.low < chance.low && chance.high < all.high);
        let parts = figure.caption.last().unwrap();
        assert!(parts.contains("model -2.0 to +2.0 %") && parts.contains("to 0 %, earth 0 to +"));
    }
}
