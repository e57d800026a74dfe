use super::*;
use crate::coil::band::Cause;
use crate::coil::film::OverEnamel;
use crate::coil::former::Former;
use crate::coil::spec::{Measure, Measured, Tolerance};
use crate::coil::surroundings::{Body, EarthState, Surroundings, TopLoad};
use crate::coil::winding::{CollectorEnd, Lay, Primary, Sense, SpiralEnd, Winding};
use crate::coil::wire::Gauge;

/// The example coil: 450 turns on 16 mm, foot earthed over a table 5 mm below.
pub(crate) fn example() -> CoilSpec {
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
pub(crate) fn spiral() -> CoilSpec {
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

pub(crate) fn near(got: f64, want: f64, relative: f64) {
    assert!((got / want - 1.0).abs() < relative, "{got} is not {want}");
}

pub(crate) fn part(prediction: &Prediction, cause: Cause) -> (f64, f64) {
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
    // Two deviations: 0.05 mm, 3 turns, 0.5 mm. Computed before by another program of ours: 0.78 % for one, with 1 mm of the
    // plane.
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
    // Its support is not given: down to −11 % for a board of 3 mm.
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
    assert_eq!(prediction.resonance.route, Route::Measured);
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
    assert_eq!(prediction.resonance.route, Route::MeasuredElements);
    assert_eq!(prediction.band, BandBasis::NoneGiven);
}

#[test]
fn one_measured_value_alone_keeps_the_part_of_the_band_it_does_not_settle() {
    let plain_hz = with(Measured::default()).resonance.value_hz;
    let inductance = with(Measured {
        inductance_h: Some(500e-6),
        ..Measured::default()
    });
    assert_eq!(inductance.resonance.route, Route::RingsAtInductance);
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
    insta::assert_snapshot!(predict(&spec).unwrap_err(), @"ring model of the winding: found 3 turns: expected at least 5; in the sheet: coil.turns");
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
            Err(error) => {
                let says = |word| error.to_string().contains(word);
                proptest::prop_assert!(says("wanted") || says("expected"), "{error}");
            }
        }
    }
}
