use std::f64::consts::PI;

use super::*;
use crate::coil::band::Cause;
use crate::coil::film::OverEnamel;
use crate::coil::former::Former;
use crate::coil::spec::{Close, Measure, Measured, Tolerance};
use crate::coil::surroundings::{Body, EarthState, Surroundings, TopLoad};
use crate::coil::winding::{CollectorEnd, Lay, Primary, Sense, SpiralEnd, Winding};
use crate::coil::wire::Gauge;

/// The example coil: 450 turns on 16 mm, foot earthed over a table 5 mm below.
pub(in crate::coil) fn example() -> CoilSpec {
    CoilSpec {
        winding: Winding {
            shape: Shape::Cylinder {
                diameter_m: 0.01622,
                length_m: 0.099,
            },
            turns: 450.0,
            gauge: Gauge::Metric(0.0002),
            over_enamel: OverEnamel::measured(0.00022),
            sense: Sense::Right,
            foot_end: SpiralEnd::Outer,
        },
        former: Former::Unsaid,
        primary: Primary {
            turns: 3,
            diameter_m: 0.022,
            lay: Lay::Stacked,
            gauge: Gauge::Metric(0.001),
            pitch_m: 0.002,
            position_m: 0.0,
            collector_end: CollectorEnd::TopSide,
            sense: Sense::Right,
        },
        earth: EarthState::Earthed,
        surroundings: Surroundings {
            plane: Plane::Table { distance_m: 0.005 },
            ..Surroundings::EMPTY
        },
        tolerance: Tolerance::default(),
        measured: Measured::default(),
        seed: 1,
    }
}

/// The example spiral: 60 turns of 0.4 mm between 15 and 51 mm, a primary of 2 turns 5 mm outside.
pub(in crate::coil) fn spiral() -> CoilSpec {
    let mut spec = example();
    spec.winding.shape = Shape::FlatSpiral {
        inner_diameter_m: 0.030,
        outer_diameter_m: 0.102,
    };
    spec.winding.turns = 60.0;
    spec.winding.gauge = Gauge::Metric(0.0004);
    spec.primary.turns = 2;
    spec.primary.lay = Lay::Flat;
    spec.primary.diameter_m = 0.112;
    spec.surroundings.plane = Plane::None;
    spec
}

fn with(measured: Measured) -> Prediction {
    predict(&CoilSpec {
        measured,
        ..example()
    })
    .unwrap()
}

fn near(got: f64, want: f64, relative: f64) {
    assert!((got / want - 1.0).abs() < relative, "{got} is not {want}");
}

fn part(prediction: &Prediction, cause: Cause) -> (f64, f64) {
    let found = prediction
        .modelled
        .as_ref()
        .unwrap()
        .parts
        .iter()
        .find(|part| part.cause == cause)
        .unwrap();
    (found.low, found.high)
}

#[test]
fn the_example_coil_is_predicted_as_computed_before() {
    // Another program of ours, with rings of a sheet: 6.231 MHz with the primary at earth; the wire takes 0.2 % off.
    let prediction = predict(&example()).unwrap();
    let model = prediction.modelled.clone().unwrap();
    near(prediction.resonance.value_hz, 6.231e6 * 0.998, 5e-4);
    near(model.next_hz, 2.5 * 6.24e6, 0.02);
    near(prediction.coupling.unwrap().value, 0.2027, 5e-4);
    let foot = prediction.at_foot.unwrap();
    near(foot.coupling, 0.263, 0.01);
    near(foot.top_factor, 1.252, 0.01);
    // The capacitance named is the one that resonates with the inductance named.
    let again_hz = thomson_hz(
        prediction.inductance_h.unwrap().value,
        prediction.capacitance_f.unwrap(),
    );
    near(again_hz, prediction.resonance.value_hz, 1e-12);
    assert!(model.linear_f < prediction.capacitance_f.unwrap());
    assert!(prediction.capacitance_f.unwrap() < model.one_potential_f);
}

#[test]
fn fine_wire_resists_little_more_than_for_direct_current() {
    // Closely wound 0.05 mm on 16 mm, 99 mm long; and 0.10 mm on 20 mm. Medhurst's factor for thick wire would give 3.1
    // times the direct current's resistance and a Q of little more than half.
    let of = |bare_m: f64, pitch_m: f64, diameter_m: f64, length_m: f64| {
        let mut spec = example();
        spec.winding.gauge = Gauge::Metric(bare_m);
        spec.winding.over_enamel = OverEnamel::measured(pitch_m);
        spec.winding.turns = length_m / pitch_m;
        spec.winding.shape = Shape::Cylinder {
            diameter_m,
            length_m,
        };
        spec.primary.diameter_m = diameter_m + 0.006;
        predict(&spec).unwrap()
    };
    let finest = of(0.05e-3, 0.056e-3, 0.016, 0.099);
    let ratio = finest.resistance_ohm.unwrap().value / finest.resistance_dc_ohm;
    let depths = 0.05e-3 / skin_depth_m(finest.resonance.value_hz);
    // The wire's own skin effect and the loss of a wire in a uniform field, d⁴/δ⁴·(1/768 + π²/256·(d/p)²·0.8); the last
    // factor is the mean square of a coil's field so long over an endless one's.
    let spread = PI.powi(2) / 256.0 * (0.05_f64 / 0.056).powi(2) * 0.8;
    near(ratio, 1.0 + depths.powi(4) * (1.0 / 768.0 + spread), 0.02);
    assert!((1.0..1.2).contains(&ratio), "{ratio} at {depths}");
    assert_eq!(finest.crowding, Crowding::Field);
    let fine = of(0.10e-3, 0.112e-3, 0.020, 0.080);
    let ratio = fine.resistance_ohm.unwrap().value / fine.resistance_dc_ohm;
    let depth_m = skin_depth_m(fine.resonance.value_hz);
    near(ratio, layer_ratio(0.10e-3, 0.112e-3, depth_m), 0.1);
}

#[test]
fn the_sensitivities_are_those_computed_before() {
    // Another program of ours: D −1.21 %, l +0.22 %, N −0.99 %, N and l −0.78 % for 1 %.
    let found = predict(&example()).unwrap().modelled.unwrap().sensitivities;
    for (measure, want) in [
        (Measure::Diameter, -1.21),
        (Measure::Length, 0.22),
        (Measure::Turns, -0.99),
        (Measure::TurnsAtPitch, -0.78),
    ] {
        let row = found.iter().find(|row| row.measure == measure).unwrap();
        assert!((row.per_cent * 100.0 - want).abs() < 0.03, "{row:?}");
    }
}

#[test]
fn a_floating_circuit_raises_the_resonance_by_its_size() {
    let with_circuit = |earth, circuit_m| {
        let mut spec = example();
        spec.earth = earth;
        spec.surroundings.plane = Plane::None;
        spec.surroundings.circuit_m = circuit_m;
        predict(&spec).unwrap()
    };
    // Another program of ours, for discs of 30, 60 and 100 mm: 8.85, 7.85, 7.07 MHz; touched 6.438 MHz.
    for (circuit_m, want_hz) in [(0.03, 8.85e6), (0.06, 7.85e6), (0.1, 7.07e6)] {
        let found = with_circuit(EarthState::Standing, Some(circuit_m));
        near(found.resonance.value_hz, want_hz, 5e-3);
        assert!(found.at_foot.unwrap().foot_share < -0.2);
    }
    let held = with_circuit(EarthState::Held, None);
    near(held.resonance.value_hz, 6.438e6, 5e-3);
    // A hand is anything from a firm earth to none, so the floating value lies in its band.
    assert!(part(&held, Cause::Earth).1 > 0.18);
    assert!(held.resonance.high_hz > 7.85e6);
    let standing = with_circuit(EarthState::Standing, None);
    assert!(standing.resonance.low_hz < 7.07e6 && standing.resonance.high_hz > 8.85e6);
}

#[test]
fn each_part_of_the_band_goes_with_its_cause() {
    let plain = predict(&example()).unwrap();
    let (low, high) = part(&plain, Cause::Winding);
    assert!(low.abs() < 1e-15 && high.abs() < 1e-15, "{low} {high}");
    let mut spec = example();
    // Two deviations: 0.05 mm, 3 turns, 0.5 mm. Computed before by another program of ours: 0.78 % for one, with 1 mm of the plane.
    spec.tolerance = Tolerance {
        diameter_m: 0.0001,
        length_m: 0.001,
        turns: 6.0,
        ..Tolerance::default()
    };
    let wound = predict(&spec).unwrap();
    let (low, high) = part(&wound, Cause::Winding);
    assert!((-0.018..-0.012).contains(&low), "{low}");
    assert!((0.012..0.018).contains(&high), "{high}");
    assert_eq!(wound, predict(&spec).unwrap());
    spec.former = Former::Rod;
    let rod = predict(&spec).unwrap();
    near(
        rod.resonance.value_hz / wound.resonance.value_hz,
        1.0 - 0.0242,
        1e-3,
    );
    assert!(part(&rod, Cause::Former).0 < 0.0 && part(&rod, Cause::Former).1 > 0.0);
    spec.surroundings.plane = Plane::Metal { distance_m: 0.005 };
    assert!(part(&predict(&spec).unwrap(), Cause::Surroundings).1.abs() < 1e-15);
}

#[test]
fn what_stands_low_or_hangs_near_does_not_spoil_the_band() {
    let mut spec = example();
    spec.surroundings.plane = Plane::None;
    spec.primary.position_m = -0.05;
    spec.surroundings.ceiling_m = Some(0.05);
    spec.earth = EarthState::Standing;
    spec.surroundings.circuit_below_m = Some(0.08);
    let found = predict(&spec).unwrap();
    assert!(part(&found, Cause::Surroundings).0 < 0.0);
}

#[test]
fn a_top_load_a_hand_and_a_ceiling_lower_the_resonance() {
    let with = |change: fn(&mut Surroundings)| {
        let mut spec = example();
        change(&mut spec.surroundings);
        predict(&spec).unwrap().resonance.value_hz
    };
    let bare_hz = with(|_| ());
    // Another program of ours, without the primary: sphere of 20 mm 5.413, of 30 mm 4.828 of 6.244 MHz; hand −1.9 %, −6.4 %.
    let sphere = |diameter_m| TopLoad {
        body: Body::Sphere { diameter_m },
        gap_m: 0.002,
    };
    let loaded = |load| {
        let mut spec = example();
        spec.surroundings.top_load = Some(load);
        predict(&spec).unwrap().resonance.value_hz
    };
    near(loaded(sphere(0.02)) / bare_hz, 5.413 / 6.244, 3e-3);
    near(loaded(sphere(0.03)) / bare_hz, 4.828 / 6.244, 3e-3);
    let disc = TopLoad {
        body: Body::Disc { diameter_m: 0.02 },
        gap_m: 0.001,
    };
    near(loaded(disc) / bare_hz, 6.085 / 6.244, 3e-3);
    let toroid = TopLoad {
        body: Body::Toroid {
            diameter_m: 0.04,
            tube_m: 0.01,
        },
        gap_m: 0.002,
    };
    near(loaded(toroid) / bare_hz, 4.918 / 6.244, 8e-3);
    near(with(|near| near.hand_m = Some(0.05)) / bare_hz, 0.981, 2e-3);
    near(with(|near| near.hand_m = Some(0.02)) / bare_hz, 0.936, 2e-3);
    assert!(with(|near| near.ceiling_m = Some(0.3)) < bare_hz);
}

#[test]
fn a_flat_spiral_and_its_primary_are_predicted() {
    // Another program of ours: alone 7.267, 5.916 and 8.252 MHz; with the primary at earth 7.025; k 0.397 and 0.424.
    let prediction = predict(&spiral()).unwrap();
    near(prediction.inductance_h.unwrap().value, 231.523e-6, 2e-5);
    let model = prediction.modelled.clone().unwrap();
    let alone: Vec<f64> = model
        .terminals
        .iter()
        .map(|found| found.frequency_hz)
        .collect();
    near(alone[0], 8.2524e6, 2e-4);
    near(alone[1], 7.2666e6, 2e-4);
    near(alone[2], 5.9155e6, 2e-4);
    near(prediction.resonance.value_hz, 7.025e6, 2e-3);
    near(
        prediction.primary_inductance_h.unwrap().value,
        1.1812e-6,
        0.01,
    );
    near(prediction.coupling.unwrap().value, 0.397, 0.01);
    near(prediction.at_foot.unwrap().coupling, 0.424, 0.02);
    assert!(prediction.notes.contains(&Note::SplitPeaks));
    assert!(prediction.notes.contains(&Note::NoMeasuredCoilOfThisShape));
    assert!(model.handbook.is_none());
    // What it lies on is not told: down to −11 % for a board of 3 mm.
    let (low, _) = part(&prediction, Cause::Former);
    assert!((-0.12..-0.10).contains(&low), "{low}");
}

#[test]
fn a_board_lowers_a_flat_spiral_as_its_images_say() {
    // Another program of ours, foot outside: 2 mm of 2.5 −6.4 %, of 3 −8.0 %, 1 mm of 3 −4.7 %; a half space √(2/(1+ε)).
    let mut spec = spiral();
    for (thickness_m, permittivity, want) in [
        (0.002, 2.5, 0.064),
        (0.002, 3.0, 0.080),
        (0.001, 3.0, 0.047),
        (1.0, 3.0, 0.2929),
    ] {
        spec.former = Former::Board {
            thickness_m,
            permittivity,
        };
        let shift = former_shift(&spec).unwrap();
        assert!(
            (-shift.value - 0.006 - want).abs() < 3e-3,
            "{shift:?} {want}"
        );
    }
}

#[test]
fn a_measured_frequency_is_the_resonance_whatever_else_is_known() {
    let prediction = with(Measured {
        frequency_hz: Some(6.1e6),
        frequency_ratio: 0.01,
        inductance_h: Some(300e-6),
        resonance_capacitance_f: Some(7e-12),
        ..Measured::default()
    });
    assert_eq!(prediction.resonance.route, "measured");
    near(prediction.resonance.value_hz, 6.1e6, 1e-12);
    near(prediction.resonance.low_hz, 6.039e6, 1e-9);
    assert_eq!(prediction.band, BandBasis::Stated);
    assert_eq!(prediction.modelled, None);
}

#[test]
fn measured_inductance_and_capacitance_make_the_resonance() {
    // 300 µH and 7 pF: 3.47305 MHz.
    let prediction = with(Measured {
        inductance_h: Some(300e-6),
        resonance_capacitance_f: Some(7e-12),
        ..Measured::default()
    });
    near(prediction.resonance.value_hz, 3.47305e6, 3e-6);
    let foot = prediction.at_foot.unwrap();
    near(foot.inductance_h, 300e-6, 1e-12);
    near(foot.capacitance_f, 7e-12, 1e-9);
    near(foot.top_factor, 1.0, 1e-12);
    let route = "measured inductance and resonance capacitance";
    assert_eq!(prediction.resonance.route, route);
    assert_eq!(prediction.band, BandBasis::NoneGiven);
}

#[test]
fn one_measured_value_alone_keeps_the_part_of_the_band_it_does_not_settle() {
    let plain_hz = with(Measured::default()).resonance.value_hz;
    let inductance = with(Measured {
        inductance_h: Some(500e-6),
        ..Measured::default()
    });
    let route = &inductance.resonance.route;
    assert!(route.ends_with(", measured inductance"), "{route}");
    assert_eq!(inductance.band, BandBasis::PartsAndInductance);
    let want_hz = plain_hz * (491.164_f64 / 500.0).sqrt();
    near(inductance.resonance.value_hz, want_hz, 1e-6);
    let capacitance = with(Measured {
        resonance_capacitance_f: Some(1.323e-12),
        ..Measured::default()
    });
    assert_eq!(capacitance.band, BandBasis::ComputedInductance);
    // The ring computation that gave 1.323 pF gave 6.244 MHz.
    near(capacitance.resonance.value_hz, 6.244e6, 5e-4);
}

#[test]
fn measured_values_replace_computed_ones_and_silence_their_notes() {
    let prediction = with(Measured {
        q: Some(100.0),
        coupling: Some(0.2),
        primary_inductance_h: Some(0.6e-6),
        ..Measured::default()
    });
    assert_eq!(prediction.q.unwrap().origin, Origin::Measured);
    near(prediction.coupling.unwrap().value, 0.2, 1e-15);
    let primary = prediction.primary_inductance_h.unwrap();
    assert_eq!(primary.origin, Origin::Measured);
    assert_eq!(prediction.notes, []);
}

#[test]
fn a_winding_without_solution_is_refused_until_its_frequency_is_measured() {
    let mut spec = example();
    spec.winding.turns = 3.0;
    insta::assert_snapshot!(predict(&spec).unwrap_err(), @"ring model of the winding: found 3 turns, at least 5 are wanted; in the sheet: coil.turns");
    spec.measured.frequency_hz = Some(7.0e6);
    let prediction = predict(&spec).unwrap();
    assert_eq!(prediction.inductance_h, None);
    assert_eq!(prediction.q, None);
    assert!(matches!(prediction.notes[0], Note::NotComputed(_)));
    assert!(prediction.resistance_dc_ohm > 0.0);
}

#[test]
fn turns_too_far_apart_for_the_table_leave_the_resistance_open() {
    let mut spec = example();
    spec.winding.turns = 40.0;
    let prediction = predict(&spec).unwrap();
    assert_eq!(prediction.resistance_ohm, None);
    assert_eq!(prediction.q, None);
    let is_told = |note: &Note| matches!(note, Note::CrowdingNotTabulated { .. });
    assert!(prediction.notes.iter().any(is_told));
}

#[test]
fn measured_ohms_that_ask_for_other_turns_are_told() {
    let with_ohms = |ohm| {
        with(Measured {
            resistance_ohm: Some(ohm),
            ..Measured::default()
        })
    };
    assert!(!with_ohms(12.6).notes.contains(&Note::OhmsDisagree));
    assert!(with_ohms(11.9).notes.contains(&Note::OhmsDisagree));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(24))]

    #[test]
    fn any_build_is_predicted_or_refused_in_words(
        form in 0_u8..3,
        turns in 0.0_f64..3000.0,
        across_m in 1e-3_f64..0.5,
        along_m in 1e-3_f64..1.0,
        near_m in 1e-4_f64..0.3,
        state in 0_usize..4,
        bare_m in 2e-5_f64..2e-3,
    ) {
        let mut spec = if form == 2 { spiral() } else { example() };
        spec.winding.turns = turns;
        spec.winding.gauge = Gauge::Metric(bare_m);
        spec.winding.shape = match form {
            0 => Shape::Cylinder { diameter_m: across_m, length_m: along_m },
            1 => Shape::Cone {
                foot_diameter_m: across_m,
                top_diameter_m: 0.3 * across_m,
                length_m: along_m,
            },
            _ => Shape::FlatSpiral {
                inner_diameter_m: 0.3 * across_m,
                outer_diameter_m: across_m,
            },
        };
        spec.tolerance = Tolerance { diameter_m: 1e-3, length_m: 1e-3, turns: 5.0, ..Tolerance::default() };
        spec.earth = EarthState::WORDS[state].1;
        spec.surroundings.plane = Plane::Metal { distance_m: near_m };
        spec.surroundings.circuit_m = Some(10.0 * near_m);
        spec.surroundings.hand_m = Some(near_m);
        match predict(&spec) {
            Ok(found) => {
                let Resonance { value_hz, low_hz, high_hz, .. } = found.resonance;
                proptest::prop_assert!(low_hz > 0.0 && low_hz <= value_hz && value_hz <= high_hz);
                proptest::prop_assert!(high_hz.is_finite());
            }
            Err(error) => proptest::prop_assert!(error.to_string().contains("wanted")),
        }
    }
}

/// The steps of a resonance over distances 1 % apart, each with what it moves by more than the step before.
fn steps(
    spec: &CoilSpec,
    footing: Footing,
    with: impl Fn(&mut CoilSpec, f64),
) -> Vec<(f64, f64, f64)> {
    let hertz = |distance_m: f64| {
        let mut spec = *spec;
        with(&mut spec, distance_m);
        frequency_hz(&scene(&spec, footing), Fineness::coarse(spec.winding.turns)).unwrap()
    };
    let mut found: Vec<(f64, f64, f64)> = Vec::new();
    let (mut distance_m, mut before_hz) = (0.003, hertz(0.003));
    while distance_m < 0.04 {
        distance_m *= 1.01;
        let now_hz = hertz(distance_m);
        let step = now_hz / before_hz - 1.0;
        let bend = found.last().map_or(0.0, |(_, last, _)| step - last);
        found.push((distance_m, step, bend));
        before_hz = now_hz;
    }
    found
}

#[test]
fn a_standing_build_s_resonance_has_no_step_in_the_distance_of_its_plane() {
    for footing in [Footing::Afloat, Footing::Touched] {
        for is_metal in [false, true] {
            for spec in [example(), spiral()] {
                if footing == Footing::Touched && is_metal {
                    continue;
                }
                let is_flat = spec.winding.cylinder().is_none();
                let found = steps(&spec, footing, |spec, distance_m| {
                    spec.surroundings.plane = if is_metal {
                        Plane::Metal { distance_m }
                    } else {
                        Plane::Table { distance_m }
                    };
                });
                for (distance_m, step, bend) in found {
                    // A flat coil near a plane goes as a plate capacitor: at most 0.5 % for 1 %, and that smoothly.
                    let most = if is_flat { 0.005 } else { 0.002 };
                    assert!(step.abs() < most, "{footing:?} {distance_m}: step {step}");
                    assert!(bend.abs() < 0.002, "{footing:?} {distance_m}: bend {bend}");
                }
            }
        }
    }
}

#[test]
fn a_told_circuit_is_computed_down_to_a_tenth_of_a_millimetre_above_the_table() {
    // Distances as a maker may tell them about a circuit told 10 mm below, where the disc once was moved without a word.
    let mut spec = example();
    spec.earth = EarthState::Standing;
    spec.surroundings.circuit_below_m = Some(0.010);
    let hertz = |distance_m: f64| {
        let mut spec = spec;
        spec.surroundings.plane = Plane::Table { distance_m };
        predict(&spec).unwrap().resonance.value_hz
    };
    let distances_m = [0.0101, 0.0102, 0.0105, 0.011, 0.0125, 0.015, 0.02];
    let found: Vec<f64> = distances_m.map(hertz).to_vec();
    // The nearer the table, the more its circuit is at earth and the lower the resonance.
    assert!(found.is_sorted(), "{found:?}");
    let mut earthed = spec;
    earthed.earth = EarthState::Held;
    earthed.surroundings.plane = Plane::Table { distance_m: 0.0101 };
    let touched_hz = predict(&earthed).unwrap().resonance.value_hz;
    near(found[0], touched_hz, 5e-3);
}

#[test]
fn a_board_near_a_plane_lowers_the_resonance_by_what_the_plane_makes_of_it() {
    // The layered medium's integral, tests/compare/board.py: 2 mm of 3 at 5 mm -13.80 %, 3 mm -20.92 %.
    let mut spec = spiral();
    spec.surroundings.plane = Plane::Table { distance_m: 0.005 };
    for (thickness_m, want) in [(0.002, 0.1380), (0.003, 0.2092)] {
        spec.former = Former::Board {
            thickness_m,
            permittivity: 3.0,
        };
        let shift = former_shift(&spec).unwrap();
        assert!((-shift.value - 0.006 - want).abs() < 2e-3, "{shift:?}");
    }
}

#[test]
fn a_board_under_a_cylinder_or_cone_counts_and_more_where_the_foot_swings() {
    let board = Some(crate::coil::rings::Board {
        thickness_m: 0.003,
        permittivity: 3.0,
    });
    let ratio = |mut spec: CoilSpec| {
        let without = former_shift(&spec).unwrap();
        spec.surroundings.board = board;
        let with = former_shift(&spec).unwrap();
        (with.value - without.value, with.low - without.low)
    };
    let mut cone = spiral();
    let (sin, cos) = 30_f64.to_radians().sin_cos();
    cone.winding.shape = Shape::Cone {
        foot_diameter_m: 0.102,
        top_diameter_m: 0.102 - 0.072 * cos,
        length_m: 0.036 * sin,
    };
    // The layered medium's integral, tests/compare/board.py: -3.96 %; 40 rings here for 60.
    assert!((ratio(cone).0 + 0.0396).abs() < 3e-3, "{:?}", ratio(cone));
    let (earthed, earthed_low) = ratio(example());
    assert!((-0.003..-0.001).contains(&earthed), "{earthed}");
    let mut floating = example();
    floating.earth = EarthState::Standing;
    let (_, floating_low) = ratio(floating);
    assert!(floating_low < 5.0 * earthed_low, "{floating_low}");
}

#[test]
fn metal_of_a_floating_circuit_under_a_flat_spiral_reaches_up_in_the_band() {
    let mut spec = spiral();
    spec.earth = EarthState::Standing;
    spec.surroundings.circuit_m = Some(0.08);
    let found = predict(&spec).unwrap();
    let (_, high) = part(&found, Cause::Surroundings);
    assert!((0.08..0.25).contains(&high), "{high}");
    assert!(found.notes.contains(&Note::EddyCurrents));
    // A smaller and a deeper piece does less.
    let high_of = |circuit_m, below_m| {
        let mut spec = spec;
        spec.surroundings.circuit_m = Some(circuit_m);
        spec.surroundings.circuit_below_m = Some(below_m);
        part(&predict(&spec).unwrap(), Cause::Surroundings).1
    };
    assert!(high_of(0.05, 0.01) < high && high_of(0.08, 0.03) < high);
    spec.earth = EarthState::Earthed;
    let wired = predict(&spec).unwrap();
    assert!(part(&wired, Cause::Surroundings).1.abs() < 1e-12);
    assert!(!wired.notes.contains(&Note::EddyCurrents));
}

#[test]
fn a_spiral_with_its_inner_end_at_the_base_resonates_lower_and_says_so() {
    // Another program of ours: alone 5.9155 MHz, with the primary at earth 4.593 MHz where the outer end gives 7.025.
    let mut spec = spiral();
    let outer = predict(&spec).unwrap();
    spec.winding.foot_end = SpiralEnd::Inner;
    let inner = predict(&spec).unwrap();
    near(inner.resonance.value_hz, 4.593e6, 3e-3);
    near(
        inner.modelled.clone().unwrap().terminals[1].frequency_hz,
        5.9155e6,
        2e-4,
    );
    assert!(inner.notes.contains(&Note::InnerEndAtFoot));
    assert!(!outer.notes.contains(&Note::InnerEndAtFoot));
    // The measure named for the foot is the foot's.
    let wider = spec.with_larger(Measure::FootDiameter, 0.01).winding.shape;
    let Shape::FlatSpiral {
        inner_diameter_m,
        outer_diameter_m,
    } = wider
    else {
        panic!("{wider:?}");
    };
    near(inner_diameter_m, 0.0303, 1e-9);
    near(outer_diameter_m, 0.102, 1e-9);
}

/// A published coil as a build, its foot earthed; what it was wound on is not known.
fn published(turns: f64, length_m: f64, diameter_m: f64, bare_m: f64, plane: Plane) -> CoilSpec {
    let mut spec = example();
    spec.winding.shape = Shape::Cylinder {
        diameter_m,
        length_m,
    };
    spec.winding.turns = turns;
    // The gauge of S3 is 1.4 % thicker than its length leaves room for.
    spec.winding.gauge = Gauge::Metric(bare_m.min(0.99 * length_m / turns));
    spec.winding.over_enamel = OverEnamel::measured(length_m / turns);
    // Measured without one: a single thin turn, far outside.
    spec.primary = Primary {
        turns: 1,
        diameter_m: 2.5 * diameter_m,
        gauge: Gauge::Metric(0.0001),
        ..spec.primary
    };
    spec.surroundings.plane = plane;
    spec
}

#[test]
fn every_published_coil_lies_in_the_band_of_its_build() {
    // Public mailing-list archive, February 2001, posts msg00090, msg00141, msg00174: foot earthed; S1 to S4 indoors, their
    // ceilings not told.
    let metal = |distance_m| Plane::Metal { distance_m };
    let table = |distance_m| Plane::Table { distance_m };
    let awg = |number: f64| 127e-6 * 92.0_f64.powf((36.0 - number) / 39.0);
    for (name, spec, measured_hz) in [
        (
            "P1",
            published(725.0, 1.6, 0.58, awg(12.0), metal(0.15)),
            90.9e3,
        ),
        (
            "P2",
            published(365.0, 0.8, 0.58, awg(12.0), metal(0.15)),
            150.7e3,
        ),
        (
            "T1",
            published(1001.0, 0.762, 0.2606, awg(24.0), metal(0.025)),
            148.4e3,
        ),
        (
            "S1",
            published(821.0, 1.768, 0.4013, awg(17.162), table(0.7)),
            119.0e3,
        ),
        (
            "S2",
            published(1950.0, 1.41, 0.1633, awg(22.053), table(0.5)),
            147.7e3,
        ),
        (
            "S3",
            published(921.0, 0.585, 0.1207, awg(22.0), table(0.2)),
            368.0e3,
        ),
        (
            "S4",
            published(979.0, 0.68, 0.2, awg(22.0), table(0.5)),
            202.7e3,
        ),
    ] {
        let found = predict(&spec).unwrap();
        let Resonance {
            value_hz,
            low_hz,
            high_hz,
            ..
        } = found.resonance;
        let parts = found.modelled.unwrap().parts;
        assert!(
            (low_hz..=high_hz).contains(&measured_hz),
            "{name}: {measured_hz} not in {low_hz} to {high_hz}; {parts:?}"
        );
    }
}

#[test]
fn five_to_seven_close_turns_are_predicted() {
    for turns in [5.0, 6.0, 7.0] {
        for (diameter_m, bare_m) in [
            (0.016, 0.0002),
            (0.016, 0.001),
            (0.05, 0.0005),
            (0.2, 0.002),
        ] {
            for earth in [EarthState::Earthed, EarthState::Standing] {
                let mut spec = example();
                spec.winding.shape = Shape::Cylinder {
                    diameter_m,
                    length_m: turns * 1.1 * bare_m,
                };
                spec.winding.turns = turns;
                spec.winding.gauge = Gauge::Metric(bare_m);
                spec.winding.over_enamel = OverEnamel::measured(1.1 * bare_m);
                spec.tolerance.turns = 0.1;
                spec.tolerance.diameter_m = 1e-4;
                spec.primary.diameter_m = 1.5 * diameter_m;
                spec.primary.turns = 1;
                spec.surroundings.plane = Plane::None;
                spec.earth = earth;
                let found = predict(&spec).unwrap();
                let Resonance {
                    value_hz,
                    low_hz,
                    high_hz,
                    ..
                } = found.resonance;
                assert!(
                    low_hz < value_hz && value_hz < high_hz,
                    "{:?}",
                    found.resonance
                );
            }
        }
    }
}

#[test]
fn parts_in_each_other_are_named_with_their_keys() {
    // A hand that cuts through the primary's turns, the circuit floating.
    let mut spec = example();
    spec.earth = EarthState::Standing;
    spec.primary.position_m = 0.1;
    spec.surroundings.hand_m = Some(0.004);
    let error = predict(&spec).unwrap_err().to_string();
    insta::assert_snapshot!(error, @"ring model of the primary and the hand: found them in each other, expected them apart; in the sheet: primary.position, primary.former_diameter, usual.hand");
}

#[test]
fn close_turns_have_the_span_of_their_enamel_in_the_band() {
    // 0.2 mm, grade 1: 0.214 to 0.226 mm over its enamel, 2.7 % either way. The same with the turns counted: −0.60 and
    // +0.58 %; with the length measured and the turns taken from it, N −0.99 % for each per cent (another program of ours).
    let of = |close| {
        let mut spec = example();
        spec.winding.over_enamel = OverEnamel {
            low_m: 0.000214,
            high_m: 0.000226,
            ..OverEnamel::measured(0.00022)
        };
        spec.tolerance.close = close;
        part(&predict(&spec).unwrap(), Cause::Winding)
    };
    assert!(of(Close::Nothing).1.abs() < 1e-15);
    let (low, high) = of(Close::Length);
    assert!(
        (-0.0062..-0.0052).contains(&low) && (0.0052..0.0062).contains(&high),
        "{low} {high}"
    );
    let (low, high) = of(Close::Turns);
    assert!(
        (-0.028..-0.023).contains(&low) && (0.023..0.028).contains(&high),
        "{low} {high}"
    );
}

#[test]
fn callipers_err_at_both_ends_of_a_cone_and_a_spiral() {
    let mut spec = spiral();
    spec.tolerance.diameter_m = 1e-3;
    let (low, high) = part(&predict(&spec).unwrap(), Cause::Winding);
    assert!(low < -1e-3 && high > 1e-3, "{low} {high}");
}
