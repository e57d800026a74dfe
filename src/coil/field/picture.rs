//! The picture of the field: to scale, potential on the left of the coil, field strength on its right.

use super::contour::Grid;
use super::{Around, AtPoint, LevelKind, Line, Reach, VoltageOrigin, Way};
use crate::coil::rings::conductor::Conductor;
use crate::figure::{Axis, Contour, Figure, Panel, Quantity, Role, Series, Stroke};
use crate::units::{Span, Unit, rounded};

/// Grid points from the axis to the edge. Chosen: a step is then below a twentieth of an inch on a printed page.
const STEPS: u32 = 90;

/// How much farther than the farthest level the picture reaches.
const ROOM: f64 = 1.12;

/// Least and greatest half width, in metres. Chosen: below the coil fills it, above the coil cannot be seen.
const HALF_WIDTH_M: Span = Span::new(0.08, 0.9);

/// Half width over the coil's own length or width, at the least. Chosen.
const COILS: f64 = 1.5;

/// Field strengths drawn thin between the levels, rms, in volts per metre.
const STRENGTHS_V_PER_M: [f64; 8] = [3.0, 10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0, 10000.0];

/// Potentials drawn thin, rms, in volts.
const POTENTIALS_V: [f64; 8] = [0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0];

/// Nearer to a level than this share a thin line would only crowd it.
const CROWDED: f64 = 0.25;

/// Returns the field around a build as a picture to scale: lines of equal potential and field, the coil, where the levels are
/// met.
pub fn picture(build: &str, around: &Around) -> Figure {
    let extent = Extent::of(around);
    let (potentials, strengths) = extent.grids(around);
    let mut series = thin(&potentials, &strengths, around);
    series.extend(level_lines(&strengths, around));
    series.extend(things(around, &extent));
    series.extend(met_dots(around));
    let place = |label: &str, range| Axis {
        range: Some(range),
        ..Axis::new(label, Quantity::Place)
    };
    Figure {
        title: "Electric field around the coil".to_owned(),
        caption: caption(build, around),
        stamp: None,
        x: place("from the axis", Span::new(-extent.wide_m, extent.wide_m)),
        panels: vec![Panel {
            y: place(
                "above the winding's foot",
                Span::new(extent.low_m, extent.high_m),
            ),
            series,
            bands: Vec::new(),
        }],
        spans: Vec::new(),
        marks: Vec::new(),
    }
}

fn caption(build: &str, around: &Around) -> Vec<String> {
    let volt = |value_v| rounded(value_v, Unit::Volt, 3);
    let top = around.top;
    let from = match top.origin {
        VoltageOrigin::Amplitude | VoltageOrigin::Rms => "as typed",
        VoltageOrigin::Circuit { .. } => "as the circuit with typical parts is predicted to give",
    };
    vec![
        build.to_owned(),
        format!(
            "top at {} amplitude, {} rms, against earth, {from}; {}",
            volt(top.amplitude_v),
            volt(top.rms_v()),
            rounded(around.frequency_hz, Unit::Hertz, 4)
        ),
        "left: potential, right: field strength, both rms, as drawn, where nobody stands in it; dots: as far as a level may be met".to_owned(),
        "guidance from a model; it replaces no assessment, and says nothing of burns and implants"
            .to_owned(),
    ]
}

/// The region that the picture shows.
#[expect(clippy::struct_field_names, reason = "each is a length in metres")]
struct Extent {
    wide_m: f64,
    low_m: f64,
    high_m: f64,
}

impl Extent {
    fn of(around: &Around) -> Self {
        let meridian = &around.scene.meridian;
        let (foot, top) = (meridian.foot, meridian.top);
        let size_m = (foot.height_m - top.height_m)
            .abs()
            .max(foot.radius_m.max(top.radius_m));
        let least_m = HALF_WIDTH_M.low.max(COILS * size_m);
        let end_m = |line: &Line| {
            let farthest_m = around
                .farthest
                .iter()
                .filter_map(|met| match met.on(line.way)? {
                    Reach::At(distance_m) | Reach::Farther(distance_m) => Some(distance_m),
                    Reach::Nearer => None,
                });
            let farthest_m = farthest_m.fold(0.0, f64::max) * ROOM;
            line.at_m(farthest_m.min(HALF_WIDTH_M.high))
        };
        let ends = around.lines.iter().map(end_m);
        let (wide_m, high_m) = ends.fold(
            (least_m, top.height_m + least_m),
            |(wide_m, high_m), (radius_m, height_m)| (wide_m.max(radius_m), high_m.max(height_m)),
        );
        // As much room below as beside the foot, or a strip of the plane.
        let low_m = match around.field.plane_m() {
            Some(plane_m) => (plane_m - 0.04 * wide_m).max(-wide_m),
            None => -0.8 * wide_m,
        };
        Self {
            wide_m,
            low_m,
            high_m,
        }
    }

    /// Returns the potential and field strength, rms, from the axis outwards.
    fn grids(&self, around: &Around) -> (Grid, Grid) {
        let step = self.wide_m / f64::from(STEPS);
        let rows = ((self.high_m - self.low_m) / step).ceil();
        let height = |row: u32| step.mul_add(f64::from(row), self.low_m);
        let mut points: Vec<AtPoint> = Vec::new();
        let mut row = 0;
        while f64::from(row) <= rows {
            points.extend((0..=STEPS).map(|column| {
                let radius_m = step * f64::from(column);
                around.field.at(radius_m, height(row), around.top.rms_v())
            }));
            row += 1;
        }
        let grid = |of: fn(&AtPoint) -> f64| Grid {
            from: (0.0, self.low_m),
            step,
            across: STEPS as usize + 1,
            values: points.iter().map(of).map(logarithm).collect(),
        };
        (
            grid(|point| point.potential_v.abs()),
            grid(AtPoint::strength_v_per_m),
        )
    }
}

/// Between two points a field falls as a power, so that its logarithm is the straighter. A field of zero is a hole.
fn logarithm(value: f64) -> f64 {
    if value > 0.0 { value.ln() } else { f64::NAN }
}

fn contour(label: String, role: Role, how: Contour, pieces: Vec<Vec<(f64, f64)>>) -> Series {
    Series {
        label,
        role,
        stroke: Stroke::Contour(how),
        pieces,
    }
}

fn v_per_m(value: f64) -> String {
    format!("{}/m", rounded(value, Unit::Volt, 2))
}

/// Returns the lines at round values, with their entries in the key.
fn thin(potentials: &Grid, strengths: &Grid, around: &Around) -> Vec<Series> {
    let key = |label: &str, role| contour(label.to_owned(), role, Contour::Thin, Vec::new());
    let mut series = vec![
        key("potential (left)", Role::Second),
        key("field strength (right)", Role::Modelled),
    ];
    series.extend(POTENTIALS_V.iter().filter_map(|value_v| {
        let mut pieces = potentials.contours(value_v.ln());
        for point in pieces.iter_mut().flatten() {
            point.0 = -point.0;
        }
        let label = rounded(*value_v, Unit::Volt, 2);
        (!pieces.is_empty()).then(|| contour(label, Role::Second, Contour::Thin, pieces))
    }));
    let is_crowded = |value: f64| {
        let mut levels = around.met.iter().map(|met| met.level.rms_v_per_m);
        levels.any(|level| (value / level).ln().abs() < CROWDED)
    };
    let free = STRENGTHS_V_PER_M
        .iter()
        .filter(|value| !is_crowded(**value));
    series.extend(free.filter_map(|value| {
        let pieces = strengths.contours(value.ln());
        let line = |pieces| contour(v_per_m(*value), Role::Modelled, Contour::Thin, pieces);
        (!pieces.is_empty()).then(|| line(pieces))
    }));
    series
}

/// Returns the lines of the reference levels, the local one last, and their entries in the key.
fn level_lines(strengths: &Grid, around: &Around) -> Vec<Series> {
    let mut series = Vec::new();
    for met in around.met.iter().rev() {
        let how = match met.level.kind {
            LevelKind::Local => Contour::Main,
            LevelKind::WholeBody | LevelKind::Nerves => Contour::Dashed,
        };
        let label = format!("reference level {}", met.level.kind.name());
        series.push(contour(label, Role::Limit, how, Vec::new()));
        let pieces = strengths.contours(met.level.rms_v_per_m.ln());
        if !pieces.is_empty() {
            let label = v_per_m(met.level.rms_v_per_m);
            // Two levels that meet are one line to the eye: once is enough.
            let is_told = series.iter().any(|one: &Series| one.label == label);
            let label = if is_told { String::new() } else { label };
            series.push(contour(label, Role::Limit, how, pieces));
        }
    }
    series
}

/// Returns the winding, metal and plane, from the side.
fn things(around: &Around, extent: &Extent) -> Vec<Series> {
    let meridian = &around.scene.meridian;
    let (foot, top) = (meridian.foot, meridian.top);
    let edge = [(foot.radius_m, foot.height_m), (top.radius_m, top.height_m)];
    let mut pieces = vec![edge.to_vec()];
    for conductor in &around.scene.conductors {
        pieces.push(profile(conductor));
    }
    let mirrored = pieces.iter().map(|piece| {
        let left = piece
            .iter()
            .map(|(radius_m, height_m)| (-radius_m, *height_m));
        left.collect()
    });
    let mirrored: Vec<_> = mirrored.collect();
    pieces.extend(mirrored);
    if let Some(plane_m) = around.field.plane_m() {
        pieces.push(vec![(-extent.wide_m, plane_m), (extent.wide_m, plane_m)]);
    }
    let is_with_plane = around.field.plane_m().is_some();
    let label = if is_with_plane {
        "coil, metal near it, plane below"
    } else {
        "coil and metal near it"
    };
    vec![Series {
        label: label.to_owned(),
        role: Role::Fitted,
        stroke: Stroke::Outline,
        pieces,
    }]
}

/// Returns half of a conductor's section; a closed tube comes back to its beginning.
fn profile(conductor: &Conductor) -> Vec<(f64, f64)> {
    let rings = conductor.rings.iter().map(|one| one.ring);
    let mut points: Vec<(f64, f64)> = rings.map(|one| (one.radius_m, one.height_m)).collect();
    if let [first, second, .., last] = points[..] {
        let step_m = (first.0 - second.0).hypot(first.1 - second.1);
        if (first.0 - last.0).hypot(first.1 - last.1) < 1.5 * step_m {
            points.push(first);
        }
    }
    points
}

/// Returns the dots at the farthest that the local level is met, with the distances in the key.
fn met_dots(around: &Around) -> Option<Series> {
    let met = around
        .farthest
        .iter()
        .find(|met| met.level.kind == LevelKind::Local)?;
    let mut words = Vec::new();
    let mut places = Vec::new();
    for line in &around.lines {
        if let Some(Reach::At(distance_m)) = met.on(line.way) {
            let centimetres = distance_m * 100.0;
            let way = match line.way {
                Way::Beside => "beside the coil",
                Way::Above => "above its top",
            };
            words.push(format!("{centimetres:.0} cm {way}"));
            places.push(vec![line.at_m(distance_m)]);
        }
    }
    (!places.is_empty()).then(|| Series {
        label: format!("local level met as far as {}", words.join(", ")),
        role: Role::Limit,
        stroke: Stroke::Dots,
        pieces: places,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::field::TopVoltage;
    use crate::coil::predict::tests::example;

    fn drawn(top: TopVoltage) -> (Around, Figure) {
        let around = Around::of(&example(), 6.3e6, top).unwrap();
        let figure = picture("pillar", &around);
        (around, figure)
    }

    #[test]
    fn lines_of_a_level_pass_through_where_it_is_met() {
        let (around, figure) = drawn(TopVoltage::rms(500.0));
        let local = around.met.first().unwrap();
        let Some(Reach::At(distance_m)) = local.beside else {
            panic!("{local:?}");
        };
        let (x, y) = around.lines[0].at_m(distance_m);
        let main = figure.panels[0]
            .series
            .iter()
            .find(|one| one.stroke == Stroke::Contour(Contour::Main) && !one.pieces.is_empty());
        let points = main.unwrap().pieces.concat();
        let nearest_m = points
            .iter()
            .map(|point| (point.0 - x).hypot(point.1 - y))
            .fold(f64::INFINITY, f64::min);
        assert!(nearest_m < 0.005, "{nearest_m}");
    }

    #[test]
    fn the_whole_of_each_level_is_in_sight_and_the_caption_never_promises() {
        let (around, figure) = drawn(TopVoltage::amplitude(2000.0));
        let wide_m = figure.x.range.unwrap().high;
        for met in &around.met {
            let Some(Reach::At(distance_m)) = met.beside else {
                panic!("{met:?}");
            };
            assert!(distance_m < wide_m);
        }
        let words = figure.caption.join(" ");
        assert!(words.contains("amplitude") && words.contains("rms") && !words.contains("safe"));
    }

    #[test]
    fn the_dots_stand_at_the_farthest_over_the_band_and_not_on_the_near_side() {
        let top = TopVoltage::rms(500.0);
        let around = Around::of(&example(), 6.3e6, top).unwrap();
        let near = picture("pillar", &around);
        let around = around
            .over(&example(), 6.3e6, TopVoltage::rms(800.0))
            .unwrap();
        let far = picture("pillar", &around);
        let beside_m = |figure: &Figure| {
            let series = &figure.panels[0].series;
            let dots = series.iter().find(|one| one.stroke == Stroke::Dots);
            dots.unwrap().pieces[0][0].0
        };
        assert!(beside_m(&far) > beside_m(&near) + 0.02);
        let wide_m = far.x.range.unwrap().high;
        assert!(beside_m(&far) < wide_m);
    }

    #[test]
    fn a_tiny_and_a_huge_voltage_still_make_a_picture() {
        for volts in [1e-6, 1e9] {
            let (_, figure) = drawn(TopVoltage::rms(volts));
            let mut numbers = figure.panels[0]
                .series
                .iter()
                .flat_map(|one| one.pieces.iter().flatten());
            assert!(numbers.all(|(x, y)| x.is_finite() && y.is_finite()));
        }
    }
}
