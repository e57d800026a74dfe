use std::f64::consts::TAU;

use super::*;
use crate::coil::predict::predict;
use crate::coil::predict::tests::example;
use crate::coil::rings::conductor::sphere;
use crate::coil::rings::{Charges, RingCharge, isolated_shares_f};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::{Body, Plane, TopLoad};

fn around(spec: &CoilSpec, top: TopVoltage) -> Around {
    Around::of(spec, 6.3e6, top).unwrap()
}

#[test]
fn the_field_is_the_slope_of_the_potential_everywhere() {
    let found = around(&example(), TopVoltage::amplitude(500.0));
    let step_m = 1e-6;
    for (radius_m, height_m) in [
        (0.05, 0.1),
        (0.3, 0.02),
        (0.002, 0.05),
        (0.02, 0.0995),
        (1.0, 1.0),
    ] {
        let at = |r: f64, z: f64| found.field.at(r, z, 500.0);
        let here = at(radius_m, height_m);
        let slope = |dr: f64, dz: f64| {
            let (on, back) = (
                at(radius_m + dr, height_m + dz),
                at(radius_m - dr, height_m - dz),
            );
            (back.potential_v - on.potential_v) / (2.0 * step_m)
        };
        let size = here.strength_v_per_m();
        let (outward, upward) = (slope(step_m, 0.0), slope(0.0, step_m));
        assert!(
            (here.outward_v_per_m - outward).abs() < 1e-6 * size,
            "{here:?} {outward}"
        );
        assert!(
            (here.upward_v_per_m - upward).abs() < 1e-6 * size,
            "{here:?} {upward}"
        );
    }
}

#[test]
fn twice_the_voltage_is_twice_the_field_and_sides_are_alike() {
    let field = around(&example(), TopVoltage::amplitude(1.0)).field;
    let (one, two) = (field.at(0.1, 0.1, 500.0), field.at(0.1, 0.1, 1000.0));
    assert!((two.strength_v_per_m() / one.strength_v_per_m() - 2.0).abs() < 1e-12);
    let left = field.at(-0.1, 0.1, 500.0);
    assert_eq!(left.potential_v.to_bits(), one.potential_v.to_bits());
    assert_eq!(
        (-left.outward_v_per_m).to_bits(),
        one.outward_v_per_m.to_bits()
    );
}

#[test]
fn a_point_in_a_wire_on_the_axis_or_below_the_plane_has_a_finite_field() {
    let mut spec = example();
    spec.surroundings.plane = Plane::Metal { distance_m: 0.02 };
    let found = around(&spec, TopVoltage::rms(500.0));
    let rings = &found.field.rings;
    for one in rings {
        let here = found.field.at(one.ring.radius_m, one.ring.height_m, 500.0);
        assert!(here.potential_v.is_finite() && here.strength_v_per_m().is_finite());
    }
    for (radius_m, height_m) in [(0.0, 0.0), (0.0, 0.05), (0.0, 1e9), (1e-300, 0.1)] {
        assert!(
            found
                .field
                .at(radius_m, height_m, 500.0)
                .strength_v_per_m()
                .is_finite()
        );
    }
    assert_eq!(
        found
            .field
            .at(0.1, -0.021, 500.0)
            .strength_v_per_m()
            .to_bits(),
        0.0_f64.to_bits()
    );
}

#[test]
fn a_level_is_met_where_the_field_has_its_strength_and_rms_is_not_amplitude() {
    let amplitude = around(&example(), TopVoltage::amplitude(500.0));
    let rms = around(&example(), TopVoltage::rms(500.0));
    for (found, top_v) in [(&amplitude, 500.0 / 2.0_f64.sqrt()), (&rms, 500.0)] {
        for met in &found.met {
            let (Some(Reach::At(distance_m)), Some(line)) = (met.beside, found.lines.first())
            else {
                panic!("{met:?}");
            };
            let (radius_m, height_m) = line.at_m(distance_m);
            let here = found.field.at(radius_m, height_m, top_v).strength_v_per_m();
            assert!(
                (here / met.level.rms_v_per_m - 1.0).abs() < 1e-3,
                "{here} {met:?}"
            );
        }
    }
    let Reach::At(near_m) = amplitude.met[0].beside.unwrap() else {
        panic!()
    };
    let Reach::At(far_m) = rms.met[0].beside.unwrap() else {
        panic!()
    };
    assert!(
        far_m > 1.1 * near_m && far_m < 1.25 * near_m,
        "{near_m} {far_m}"
    );
}

#[test]
fn a_faint_and_a_huge_voltage_are_told_as_nearer_and_farther() {
    let faint = around(&example(), TopVoltage::rms(0.01));
    assert!(
        faint
            .met
            .iter()
            .all(|met| met.beside == Some(Reach::Nearer))
    );
    let huge = around(&example(), TopVoltage::rms(1e9));
    assert!(
        huge.met
            .iter()
            .all(|met| matches!(met.above, Some(Reach::Farther(_))))
    );
}

#[test]
fn a_circuit_s_voltage_is_shared_between_top_and_foot() {
    let spec = example();
    let foot_share = predict(&spec).unwrap().at_foot.unwrap().foot_share;
    let top = TopVoltage::of_circuit(1000.0, foot_share);
    assert!((top.amplitude_v * (1.0 - foot_share) - 1000.0).abs() < 1e-9);
    assert!(TopVoltage::of_circuit(1000.0, -0.56).amplitude_v < 642.0);
}

#[test]
fn what_cannot_be_is_named() {
    let refused = |spec: &CoilSpec, hertz, volts| {
        Around::of(spec, hertz, TopVoltage::amplitude(volts))
            .unwrap_err()
            .to_string()
    };
    let good = example();
    assert_eq!(
        refused(&good, 6e6, 0.0),
        "electric field: found 0 V at the top: expected a voltage above 0 V"
    );
    assert_eq!(
        refused(&good, f64::NAN, 500.0),
        "electric field: found a resonance of NaN Hz: expected a frequency above 0 Hz"
    );
    let mut none = good;
    none.winding.turns = 0.0;
    assert!(refused(&none, 6e6, 500.0).contains("found 0 turns"));
    let mut sunk = good;
    sunk.surroundings.top_load = Some(TopLoad {
        body: Body::Disc {
            diameter_m: 0.01622,
        },
        gap_m: 0.0,
    });
    assert!(refused(&sunk, 6e6, 500.0).starts_with("electric field: ring model of the top load"));
}

#[test]
fn a_hand_in_the_coil_is_left_out_and_told_so_and_a_low_ceiling_ends_the_way_up() {
    let mut spec = example();
    spec.surroundings.hand_m = Some(-0.01);
    spec.surroundings.ceiling_m = Some(0.4);
    let found = around(&spec, TopVoltage::rms(500.0));
    assert!(found.is_without_hand);
    let above: Vec<bool> = found
        .stations
        .iter()
        .map(|one| one.above.is_some())
        .collect();
    assert_eq!(above, [true, true, true, true, false, false]);
    spec.surroundings.ceiling_m = Some(0.005);
    let found = around(&spec, TopVoltage::rms(500.0));
    assert!(
        found
            .met
            .iter()
            .all(|met| met.above.is_none() && met.beside.is_some())
    );
}

#[test]
fn a_sphere_on_the_top_widens_the_ways_out() {
    let mut spec = example();
    let body = Body::Sphere { diameter_m: 0.04 };
    spec.surroundings.top_load = Some(TopLoad { body, gap_m: 0.002 });
    let found = around(&spec, TopVoltage::rms(500.0));
    let [beside, above] = found.lines.as_slice() else {
        panic!("{:?}", found.lines);
    };
    let top_m = found.scene.meridian.top.height_m;
    assert!((beside.from_m.0 - 0.02).abs() < 1e-12);
    assert!((beside.from_m.1 - top_m - 0.022).abs() < 1e-12);
    assert!((above.from_m.1 - top_m - 0.042).abs() < 1e-12);
    // On the sphere itself the potential is the top's.
    let on = found.field.at(0.0, above.from_m.1, 500.0).potential_v;
    assert!((on / 500.0 - 1.0).abs() < 0.03, "{on}");
}

#[test]
fn a_charged_sphere_has_the_field_of_its_charge_in_the_middle() {
    let rings = sphere(0.05, 0.0, 100);
    let shares = isolated_shares_f(&rings).unwrap();
    let charges = Charges {
        rings: rings
            .iter()
            .zip(shares)
            .map(|(one, charge_f)| RingCharge {
                ring: one.ring,
                wire_radius_m: one.wire_radius_m,
                charge_f,
            })
            .collect(),
        plane_m: None,
    };
    let field = Field::of(&charges);
    // V·a/d² in any direction.
    for turn in 0..8 {
        let (sin, cos) = (TAU / 16.0 * f64::from(turn)).sin_cos();
        let here = field.at(0.15 * sin, 0.15 * cos, 500.0).strength_v_per_m();
        assert!(
            (here / (500.0 * 0.05 / 0.0225) - 1.0).abs() < 1e-4,
            "{here}"
        );
    }
    let far = field.at(0.0, 100.0, 500.0);
    assert!((far.potential_v / (500.0 * 0.05 / 100.0) - 1.0).abs() < 1e-4);
}
