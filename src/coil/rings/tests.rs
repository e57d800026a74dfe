use super::conductor::{Conductor, Joint, Thing};
use super::kernel::{Pair, Ring};
use super::*;
use crate::coil::inductance::{Current, circle_h};
use proptest::prelude::*;
use std::f64::consts::PI;

fn ring(radius_m: f64, height_m: f64) -> Ring {
    Ring { radius_m, height_m }
}

/// 450 turns of 0.2 mm on 16 mm.
fn pillar() -> Meridian {
    Meridian {
        foot: ring(0.00811, 0.0),
        top: ring(0.00811, 0.099),
        turns: 450.0,
        bare_m: 0.0002,
    }
}

/// 60 turns of 0.4 mm between 15 and 51 mm, foot outside.
fn spiral() -> Meridian {
    Meridian {
        foot: ring(0.051, 0.0),
        top: ring(0.015, 0.0),
        turns: 60.0,
        bare_m: 0.0004,
    }
}

/// 60 turns on the spiral's slope of 36 mm, raised by an angle.
fn cone(degrees: f64) -> Meridian {
    let (sin, cos) = degrees.to_radians().sin_cos();
    Meridian {
        top: ring(0.051 - 0.036 * cos, 0.036 * sin),
        ..spiral()
    }
}

fn over(plane: Plane) -> Scene {
    Scene {
        plane,
        ..Scene::bare(pillar())
    }
}

fn found_hz(scene: &Scene) -> f64 {
    frequency_hz(scene, Fineness::for_turns(scene.meridian.turns)).unwrap()
}

fn floating(radius_m: f64) -> Scene {
    let mut scene = Scene::bare(pillar());
    scene.foot = End::Joined;
    let disc = Conductor::disc(Thing::Circuit, Joint::Foot, ring(radius_m, -0.01), 0.01);
    scene.conductors.push(disc);
    scene
}

fn loaded(radius_m: f64) -> Scene {
    let mut scene = over(Plane::Table { distance_m: 0.005 });
    scene.top = End::Joined;
    let at_m = 0.099 + 0.002 + radius_m;
    scene.conductors.push(Conductor::sphere(
        Thing::TopLoad,
        Joint::Top,
        radius_m,
        at_m,
    ));
    scene
}

#[test]
fn a_nearer_plane_lowers_the_resonance_and_metal_lowers_it_less() {
    let mut before_hz = found_hz(&Scene::bare(pillar()));
    for distance_m in [0.5, 0.1, 0.02, 0.005, 0.001] {
        let table_hz = found_hz(&over(Plane::Table { distance_m }));
        let metal_hz = found_hz(&over(Plane::Metal { distance_m }));
        assert!(table_hz < before_hz, "{distance_m}");
        assert!(metal_hz > table_hz, "{distance_m}");
        before_hz = table_hz;
    }
}

#[test]
fn a_larger_circuit_or_top_load_lowers_the_resonance() {
    let floating_hz = [0.015, 0.03, 0.05, 0.1].map(|radius_m| found_hz(&floating(radius_m)));
    assert!(
        floating_hz.is_sorted_by(|one, next| one > next),
        "{floating_hz:?}"
    );
    let loaded_hz = [0.002, 0.005, 0.01, 0.015].map(|radius_m| found_hz(&loaded(radius_m)));
    assert!(
        loaded_hz.is_sorted_by(|one, next| one > next),
        "{loaded_hz:?}"
    );
}

#[test]
fn a_vanishing_top_load_is_none_and_a_wide_circuit_nearly_a_plane() {
    let bare_hz = found_hz(&over(Plane::Table { distance_m: 0.005 }));
    assert!((found_hz(&loaded(1e-5)) / bare_hz - 1.0).abs() < 1e-3);
    let plane_hz = found_hz(&over(Plane::Table { distance_m: 0.01 }));
    let wide = found_hz(&floating(0.15)) / plane_hz;
    assert!((1.0..1.015).contains(&wide), "{wide}");
}

#[test]
fn the_mode_of_two_open_ends_has_no_foot() {
    let free = |meridian| Scene {
        foot: End::Open,
        ..Scene::bare(meridian)
    };
    let (one_hz, other_hz) = (
        found_hz(&free(spiral())),
        found_hz(&free(spiral().turned())),
    );
    assert!((one_hz / other_hz - 1.0).abs() < 1e-9);
}

/// Both ends at earth.
fn shorted(meridian: Meridian) -> Scene {
    Scene {
        top: End::Earthed,
        ..Scene::bare(meridian)
    }
}

#[test]
fn two_earthed_ends_resonate_as_a_top_that_a_large_capacitor_holds() {
    // A second way to the same mode: a microfarad at the top holds it at earth for all but the slowest mode.
    for meridian in [pillar(), spiral()] {
        let dip_hz = frequency_hz(&shorted(meridian), Fineness::EachTurn(60)).unwrap();
        let mut held = Scene::bare(meridian);
        held.top_f = 1e-6;
        let next_hz = solve(&held, Fineness::EachTurn(60)).unwrap().next_hz;
        // There the last element's middle is held, here the end half an element beyond.
        assert!((next_hz / dip_hz - 1.0).abs() < 0.02, "{next_hz} {dip_hz}");
        let turned_hz = frequency_hz(&shorted(meridian.turned()), Fineness::EachTurn(60)).unwrap();
        assert!((turned_hz / dip_hz - 1.0).abs() < 1e-9);
        let peak_hz = frequency_hz(&Scene::bare(meridian), Fineness::EachTurn(60)).unwrap();
        assert!((1.3..3.0).contains(&(dip_hz / peak_hz)));
    }
}

#[test]
fn with_both_ends_earthed_the_current_turns_round_in_the_middle() {
    let found = profile(&shorted(pillar()), 80).unwrap();
    let (foot, top) = (found.current[0].1, found.current[80].1);
    assert!((foot + top).abs() < 1e-9 && found.current[40].1.abs() < 1e-9);
    assert!(found.voltage[39].1 / found.voltage[0].1 > 5.0);
}

#[test]
fn a_spiral_resonates_higher_with_its_outer_end_earthed() {
    let outer_hz = found_hz(&Scene::bare(spiral()));
    let inner_hz = found_hz(&Scene::bare(spiral().turned()));
    assert!(outer_hz > 1.1 * inner_hz, "{outer_hz} {inner_hz}");
}

#[test]
fn a_cone_joins_the_spiral_to_the_cylinder_without_a_step() {
    // Computed before by another program of ours: 7.267, 7.096, 6.624, 5.955, 5.223, 3.956 MHz.
    for (degrees, want_hz) in [
        (0.0, 7.267e6),
        (15.0, 7.096e6),
        (30.0, 6.624e6),
        (45.0, 5.955e6),
        (60.0, 5.223e6),
        (90.0, 3.956e6),
    ] {
        let got_hz = found_hz(&Scene::bare(cone(degrees)));
        assert!((got_hz / want_hz - 1.0).abs() < 4e-4, "{degrees}: {got_hz}");
    }
}

#[test]
fn inductance_from_strips_meets_the_sum_over_every_turn() {
    for meridian in [spiral(), cone(45.0)] {
        let turns: Vec<Ring> = (0..60)
            .map(|turn| meridian.at((f64::from(turn) + 0.5) / 60.0))
            .collect();
        let mut sum_h = 0.0;
        for (index, one) in turns.iter().enumerate() {
            sum_h += circle_h(one.radius_m, meridian.bare_m, Current::Surface);
            for other in turns.iter().skip(index + 1) {
                sum_h += 2.0 * Pair::of(*one, *other).mutual_h;
            }
        }
        let got_h = meridian.inductance_h(Current::Surface);
        assert!((got_h / sum_h - 1.0).abs() < 2e-5, "{got_h} {sum_h}");
    }
}

#[test]
fn half_the_rings_extrapolated_are_as_good_as_four_times_as_many() {
    // With a pitch of π wires the turns are a sheet, which any number of rings may stand for.
    let mut scene = over(Plane::Table { distance_m: 0.005 });
    scene.meridian.bare_m = 0.00022 / PI;
    let of = |count| frequency_hz(&scene, Fineness::Extrapolated(count)).unwrap();
    assert!((of(160) / of(640) - 1.0).abs() < 1e-4);
    // And they converge as the open edge makes them: to first order, upwards in the rings alone.
    let plain = |count| frequency_hz(&scene, Fineness::EachTurn(count)).unwrap();
    let (coarse, middle, fine) = (plain(40), plain(80), plain(160));
    assert!(((coarse - middle) / (middle - fine) - 2.0).abs() < 0.15);
    assert!(middle > fine);
}

#[test]
fn coefficients_of_charge_and_current_are_positive_for_every_scene() {
    for scene in [
        floating(0.03),
        loaded(0.01),
        over(Plane::Metal { distance_m: 1e-3 }),
    ] {
        let network = network::Network::new(&scene, 80).unwrap();
        assert!(nalgebra::Cholesky::new(network.node_v_per_c.clone()).is_some());
        assert!(nalgebra::Cholesky::new(network.inductance_h()).is_some());
        let asymmetry = &network.node_v_per_c - network.node_v_per_c.transpose();
        assert!(asymmetry.amax() < 1e-9 * network.node_v_per_c.amax());
    }
}

#[test]
fn the_mode_is_the_ring_computation_that_went_with_the_simulated_circuits() {
    // That computation, a sheet without the real wire: 6.241 MHz, 0.571 L, vt 1.252; afloat 7.859 MHz, 0.718 L, 1.133.
    let primary: Vec<Ring> = [0.001, 0.003, 0.005]
        .map(|height_m| ring(0.011, height_m))
        .into();
    let with_primary = |mut scene: Scene, joint| {
        let turns = Conductor::turns(Thing::Primary, joint, primary.clone(), 0.0005);
        scene.conductors.push(turns);
        scene.primary.clone_from(&primary);
        solve(&scene, Fineness::for_turns(450.0)).unwrap()
    };
    let earthed = with_primary(over(Plane::Table { distance_m: 0.005 }), Joint::Earth);
    let afloat = with_primary(floating(0.03), Joint::Foot);
    for (found, hz, ratio, factor) in [
        (earthed, 6.241e6, 0.571, 1.252),
        (afloat, 7.859e6, 0.718, 1.133),
    ] {
        assert!((found.frequency_hz / hz - 1.0).abs() < 5e-3, "{found:?}");
        let got = found.mode_inductance_h / found.inductance_h;
        assert!((got / ratio - 1.0).abs() < 0.03, "{got} {ratio}");
        assert!((found.top_factor / factor - 1.0).abs() < 0.03, "{found:?}");
    }
    // The foot of the floating circuit swings against the top: -0.56 of it.
    assert!((afloat.foot_share + 0.56).abs() < 0.01, "{afloat:?}");
    assert!(earthed.foot_share.abs() < 1e-12);
    // 2.26 µH to the mode, 2.31 µH to the same current everywhere.
    assert!((earthed.mode_mutual_h / 2.26e-6 - 1.0).abs() < 5e-3);
}

#[test]
fn the_current_is_greatest_above_the_foot_and_the_voltage_at_the_top() {
    let found = profile(&over(Plane::Table { distance_m: 0.005 }), 160).unwrap();
    let most = found
        .current
        .iter()
        .max_by(|one, other| one.1.total_cmp(&other.1))
        .unwrap();
    // Computed before by another program of ours: about 10 mm up of 99.
    assert!((most.0 - 0.1).abs() < 0.05, "{most:?}");
    assert!(found.voltage.is_sorted_by(|one, next| one.1 < next.1));
    assert!((found.current[0].0).abs() < 1e-12 && found.current[159].1 < 0.1);
}

#[test]
fn the_current_at_the_foot_carries_the_charge_of_the_winding() {
    // Another program of ours, for the spiral alone: the current at the foot is ω·1.349 pF times the voltage at the top.
    let found = solve(&Scene::bare(spiral()), Fineness::EachTurn(60)).unwrap();
    let charge_f = found.mode_f() / found.top_factor;
    assert!((charge_f / 1.349e-12 - 1.0).abs() < 1e-3, "{charge_f}");
}

#[test]
fn what_cannot_stand_on_a_bench_is_named() {
    let refused = |scene: &Scene| {
        solve(scene, Fineness::EachTurn(40))
            .unwrap_err()
            .to_string()
    };
    let mut few = Scene::bare(pillar());
    few.meridian.turns = 0.0;
    insta::assert_snapshot!(refused(&few), @"ring model of the winding: found 0 turns: expected at least 5");
    let mut thick = Scene::bare(pillar());
    thick.meridian.bare_m = 0.0003;
    insta::assert_snapshot!(refused(&thick), @"ring model of the winding: found a pitch of 0.733 bare wires: expected at least 1");
    let mut full = Scene::bare(spiral());
    full.meridian.top.radius_m = 0.0;
    insta::assert_snapshot!(refused(&full), @"ring model of the winding: found a turn of 0.0000 m radius: expected more than the pitch");
    let mut hand = Scene::bare(pillar());
    let at_m = 0.05;
    hand.conductors.push(Conductor::disc(
        Thing::Hand,
        Joint::Earth,
        ring(0.04, at_m),
        0.02,
    ));
    hand.conductors[0].rings[2].ring.radius_m = 0.00811;
    insta::assert_snapshot!(refused(&hand), @"ring model of the hand: found it in the winding: expected it clear of the wire");
    let mut low = over(Plane::Table { distance_m: 0.005 });
    low.conductors.push(Conductor::disc(
        Thing::Circuit,
        Joint::Foot,
        ring(0.03, -0.01),
        0.02,
    ));
    insta::assert_snapshot!(refused(&low), @"ring model of the circuit: found it in the plane below: expected it above that");
    let mut twice = Scene::bare(pillar());
    let disc = Conductor::disc(Thing::Hand, Joint::Earth, ring(0.04, 0.2), 0.02);
    twice.conductors = vec![disc.clone(), disc];
    insta::assert_snapshot!(refused(&twice), @"ring model of the hand and the hand: found them in each other, expected them apart");
}

#[test]
fn bodies_that_touch_are_solved_and_those_in_each_other_are_named() {
    // A ball that rests on a disc, both the top's; and the same ball a hair above it.
    let with = |gap_m: f64, joint| {
        let mut scene = Scene::bare(pillar());
        scene.top = End::Joined;
        scene.conductors = vec![
            Conductor::disc(Thing::Hand, joint, ring(0.02, 0.11), 0.002),
            Conductor::sphere(Thing::TopLoad, Joint::Top, 0.015, 0.125 + gap_m),
        ];
        frequency_hz(&scene, Fineness::EachTurn(40))
    };
    let (touching, near) = (with(0.0, Joint::Top), with(1e-4, Joint::Top));
    assert!((touching.unwrap() / near.unwrap() - 1.0).abs() < 2e-3);
    // Sunk into it they are refused where the rings give no answer, and never reported as a number that jumps.
    for depth_m in [0.0005, 0.001, 0.002] {
        match with(-depth_m, Joint::Top) {
            Ok(found_hz) => assert!((found_hz / with(0.0, Joint::Top).unwrap() - 1.0).abs() < 0.05),
            Err(error) => assert_eq!(
                error,
                RingError::Overlap {
                    one: Thing::Hand,
                    other: Thing::TopLoad
                }
            ),
        }
    }
    // The same metal twice is named.
    let mut scene = Scene::bare(pillar());
    let ball = Conductor::sphere(Thing::TopLoad, Joint::Top, 0.015, 0.125);
    scene.top = End::Joined;
    scene.conductors = vec![
        ball.clone(),
        Conductor {
            joint: Joint::Earth,
            thing: Thing::Hand,
            ..ball
        },
    ];
    let found = frequency_hz(&scene, Fineness::EachTurn(40)).unwrap_err();
    assert_eq!(
        found,
        RingError::Overlap {
            one: Thing::TopLoad,
            other: Thing::Hand
        }
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn all_lengths_times_s_give_the_resonance_over_s(s in 0.2_f64..20.0, degrees in 0.0_f64..90.0) {
        let scene = |s: f64| {
            let scaled = |one: Ring| ring(one.radius_m * s, one.height_m * s);
            let cone = cone(degrees);
            let meridian = Meridian {
                foot: scaled(cone.foot),
                top: scaled(cone.top),
                bare_m: cone.bare_m * s,
                ..cone
            };
            let mut scene = Scene::bare(meridian);
            scene.plane = Plane::Metal { distance_m: 0.02 * s };
            scene.conductors.push(Conductor::disc(Thing::Hand, Joint::Earth, ring(0.04 * s, 0.1 * s), 0.1 * s));
            scene
        };
        let of = |s| frequency_hz(&scene(s), Fineness::EachTurn(60)).unwrap();
        prop_assert!((of(s) * s / of(1.0) - 1.0).abs() < 1e-9);
    }
}

/// The circuit's disc under the spiral, its metal with eddy currents.
fn over_metal_disc(radius_m: f64, depth_m: f64) -> Scene {
    let disc = Conductor::disc(
        Thing::Circuit,
        Joint::Foot,
        ring(radius_m, -depth_m),
        depth_m,
    );
    Scene {
        eddies: disc.rings,
        ..Scene::bare(spiral())
    }
}

#[test]
fn eddy_currents_in_a_wide_disc_are_the_image_of_a_plane_of_metal() {
    for depth_m in [0.010, 0.020, 0.050] {
        let fineness = Fineness::coarse(60.0);
        let of = |scene: &Scene| solve(scene, fineness).unwrap().inductance_h;
        let wide_h = of(&over_metal_disc(0.4, depth_m));
        let plane_h = of(&Scene {
            plane: Plane::Metal {
                distance_m: depth_m,
            },
            ..Scene::bare(spiral())
        });
        assert!(
            (wide_h / plane_h - 1.0).abs() < 5e-3,
            "{depth_m}: {wide_h} {plane_h}"
        );
        let free_h = of(&Scene::bare(spiral()));
        let small_h = of(&over_metal_disc(0.003, depth_m));
        assert!((small_h / free_h - 1.0).abs() < 1e-3, "{small_h}");
    }
}

#[test]
fn a_disc_close_over_a_plane_is_a_plate_capacitor_at_any_gap() {
    // Kirchhoff 1877 (from memory) for two thin discs a apart: eps0*pi*R^2/a*(1 + a/(pi*R)*(ln(16*pi*R/a) - 1)). A disc and
    // its image are a = 2g apart at twice the voltage, so the disc over the plane holds twice that.
    let radius_m: f64 = 0.03;
    for gap_m in [1e-3_f64, 5e-4, 2e-4, 1e-4, 6e-5] {
        let disc = Conductor::disc(Thing::Circuit, Joint::Foot, ring(radius_m, 0.0), gap_m);
        let rings = disc.above_plane(gap_m).rings;
        let held = charge::potentials(&rings, Some(-gap_m));
        let charges = nalgebra::Cholesky::new(held)
            .unwrap()
            .solve(&nalgebra::DVector::from_element(rings.len(), 1.0));
        let apart_m = 2.0 * gap_m;
        let edge = 1.0 + apart_m / (PI * radius_m) * ((16.0 * PI * radius_m / apart_m).ln() - 1.0);
        let two_discs_f = kernel::EPSILON0_F_PER_M * PI * radius_m.powi(2) / apart_m * edge;
        let off = charges.sum() / (2.0 * two_discs_f) - 1.0;
        assert!(off.abs() < 0.01, "{gap_m}: {off}");
    }
}
