use std::f64::consts::PI;

use super::signal::{flux_vs_per_v, short_monopole_f};
use super::wires::{Wires, even};
use super::*;
use crate::coil::field::{Field, TopVoltage};
use crate::coil::inductance::MU0_H_PER_M;
use crate::coil::predict::tests::example;
use crate::coil::rings::conductor::{Conductor, Joint, Thing};
use crate::coil::rings::kernel::{EPSILON0_F_PER_M, Ring};
use crate::coil::rings::{Currents, Fineness, RingCurrent, Scene, charges, currents, frequency_hz};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::Plane;
use crate::units::Span;

fn near(found: f64, want: f64, share: f64) {
    assert!(
        (found / want - 1.0).abs() < share,
        "{found} is not {want} within {share}"
    );
}

/// The example coil with nothing near but its primary.
fn lone() -> CoilSpec {
    let mut spec = example();
    spec.surroundings.plane = Plane::None;
    spec
}

fn bare_scene() -> Scene {
    scene(&lone(), Footing::Wired)
}

fn example_currents() -> Currents {
    currents(&bare_scene(), 160).unwrap()
}

/// The magnetic moment of currents for a top at 1 V, in amperes square metre.
fn moment(found: &Currents) -> f64 {
    let of = |one: &RingCurrent| one.turns_a_per_v * PI * one.ring.radius_m.powi(2);
    found.rings.iter().map(of).sum()
}

fn typed(amplitude_v: f64) -> Top {
    Top {
        typical: TopVoltage::amplitude(amplitude_v),
        amplitude_v: Span::of(amplitude_v),
    }
}

fn seen(spec: &CoilSpec, words: &str) -> Signal {
    let (what, into) = PickUp::parse(words).unwrap();
    let input = into.unwrap_or(Input::USUAL);
    pick_up(spec, 6.2e6, typed(1000.0), what, input).unwrap()
}

#[test]
fn the_flux_far_away_is_that_of_a_magnetic_dipole() {
    // B = μ₀m/(4πr³) beside a dipole, m the sum of the currents' areas (textbook). A metre is ten coil lengths.
    let found = example_currents();
    let middle = Ring {
        radius_m: 1.0,
        height_m: 0.03,
    };
    let flux = flux_vs_per_v(&found, middle, 0.02);
    let dipole = MU0_H_PER_M * moment(&found) / (4.0 * PI) * PI * 0.02_f64.powi(2);
    near(-flux, dipole, 0.01);
}

#[test]
fn the_flux_nearby_is_that_of_biot_and_savart_summed_over_pieces_of_wire() {
    // dB = μ₀ i dl × r/(4πr³) (textbook), each ring in 90 pieces, over the loop's area in 16 × 24 places.
    let found = example_currents();
    let middle = Ring {
        radius_m: 0.05,
        height_m: 0.05,
    };
    let radius_m = 0.02;
    let mut flux = 0.0;
    for ring in 0..16 {
        let out_m = radius_m * (f64::from(ring) + 0.5) / 16.0;
        for turn in 0..24 {
            let (sin, cos) = (TAU * f64::from(turn) / 24.0).sin_cos();
            let (x, y) = (middle.radius_m + out_m * cos, out_m * sin);
            let area_m2 = radius_m / 16.0 * out_m * TAU / 24.0;
            for one in &found.rings {
                let z = middle.height_m - one.ring.height_m;
                let a = one.ring.radius_m;
                let mut upward = 0.0;
                for piece in 0..90 {
                    let (sin, cos) = (TAU * (f64::from(piece) + 0.5) / 90.0).sin_cos();
                    let (rx, ry) = (x - a * cos, y - a * sin);
                    let distance_m = (rx * rx + ry * ry + z * z).sqrt();
                    // The piece points along (−sin, cos): the upright part of its product with r.
                    upward += (-sin * ry - cos * rx) * a * TAU / 90.0 / distance_m.powi(3);
                }
                flux += MU0_H_PER_M / (4.0 * PI) * one.turns_a_per_v * upward * area_m2;
            }
        }
    }
    near(flux_vs_per_v(&found, middle, radius_m), flux, 3e-3);
}

#[test]
fn a_metal_sheet_below_takes_the_flux_of_the_opposite_dipole_behind_it_and_a_table_nothing() {
    let of_moment = |plane: Plane| {
        let scene = Scene {
            plane,
            ..bare_scene()
        };
        let found = currents(&scene, 80).unwrap();
        let at_height = |one: &RingCurrent| one.turns_a_per_v * one.ring.height_m;
        let all = |one: &RingCurrent| one.turns_a_per_v;
        let middle_m = found.rings.iter().map(at_height).sum::<f64>()
            / found.rings.iter().map(all).sum::<f64>();
        let middle = Ring {
            radius_m: 0.3,
            height_m: middle_m,
        };
        (
            flux_vs_per_v(&found, middle, 0.02) / moment(&found),
            middle_m,
        )
    };
    let (none, _) = of_moment(Plane::None);
    near(of_moment(Plane::Table { distance_m: 0.01 }).0, none, 0.01);
    // A dipole turned round as far below the sheet: (3cos² − 1)/r³ against the coil's own −1/r³ (textbook).
    let (metal, middle_m) = of_moment(Plane::Metal { distance_m: 0.01 });
    let (apart_m, beside_m) = (2.0 * (middle_m + 0.01), 0.3_f64);
    let reach2 = beside_m.powi(2) + apart_m.powi(2);
    let image = (1.0 - 3.0 * apart_m.powi(2) / reach2) * (beside_m.powi(2) / reach2).powf(1.5);
    near(metal, none * (1.0 - image), 0.05);
}

#[test]
fn a_loop_gives_a_millivolt_a_turn_where_a_moment_of_six_milliampere_square_metres_is_30_cm_away() {
    // The closed form with m = 5.9·10⁻³ A·m² at 6.2 MHz: ω·μ₀m/(4πr³)·πb² is 1.07 mV for a loop of 4 cm.
    let found = example_currents();
    let middle = Ring {
        radius_m: 0.3,
        height_m: 0.04,
    };
    let volts = TAU * 6.2e6 * flux_vs_per_v(&found, middle, 0.02).abs() * 5.9e-3 / moment(&found);
    near(volts, 1.07e-3, 0.05);
}

#[test]
fn a_stub_on_a_case_gets_half_its_length_of_the_field_that_coulomb_s_law_sums_to() {
    let spec = lone();
    let found = seen(&spec, "stub 1cm at 30cm");
    let scene = scene(&spec, Footing::of(spec.earth));
    let charges = charges(&scene, 160).unwrap();
    let height_m = scene.meridian.top.height_m;
    let x = scene.meridian.top.radius_m + 0.305;
    let mut outward = 0.0;
    for one in &charges.rings {
        for piece in 0..180 {
            let (sin, cos) = (TAU * (f64::from(piece) + 0.5) / 180.0).sin_cos();
            let (rx, ry) = (x - one.ring.radius_m * cos, -one.ring.radius_m * sin);
            let z = height_m - one.ring.height_m;
            let distance_m = (rx * rx + ry * ry + z * z).sqrt();
            outward +=
                one.charge_f / 180.0 * rx / (4.0 * PI * EPSILON0_F_PER_M * distance_m.powi(3));
        }
    }
    // The middle of a stub of 1 cm stands for all of it within (1/60)².
    near(found.open_v.low, 1000.0 * outward.abs() * 0.005, 0.02);
}

#[test]
fn a_short_dipole_gets_half_its_length_of_an_even_field_and_has_the_textbook_s_capacitance() {
    // Effective length half of the whole, reactance 120·[ln(l/a) − 1]/(2πl/λ) (a textbook of aerials, from memory). Both are
    // for an endlessly thin wire: the charge of a real one crowds at its ends.
    let (arm_m, gap_m, radius_m) = (0.25, 1e-3, 0.5e-3);
    let arm = |sign: f64| {
        let from = [sign * gap_m / 2.0, 0.0, 0.0];
        even(from, [sign * (arm_m + gap_m / 2.0), 0.0, 0.0], radius_m, 80)
    };
    let mut pieces = arm(1.0);
    pieces.extend(arm(-1.0));
    let wires = Wires::new(pieces, None);
    let (_, floating) = wires
        .terminals(80, &wires.potentials_v(|[x, ..]| -3.0 * x))
        .unwrap();
    near(floating.open_v.abs(), 3.0 * arm_m, 0.06);
    // Two monopoles in series.
    near(
        floating.source_f,
        short_monopole_f(arm_m, radius_m) / 2.0,
        0.12,
    );
}

#[test]
fn a_lone_wire_has_the_capacitance_of_howe_s_mean_potential() {
    // 2πε₀l/(ln(2l/a) − 1), a lower bound by an even charge (Howe's method, textbook); the exact value is up to 3 % higher.
    let wires = Wires::new(even([0.0; 3], [0.05, 0.0, 0.0], 0.5e-3, 40), None);
    let held_j = wires.drawn_j(&wires.potentials_v(|_| 1.0)).unwrap();
    let howe_f = TAU * EPSILON0_F_PER_M * 0.05 / ((0.1_f64 / 0.5e-3).ln() - 1.0);
    assert!(
        (1.0..1.03).contains(&(held_j / howe_f)),
        "{held_j} {howe_f}"
    );
}

#[test]
fn the_resonance_moves_as_the_full_solution_says_for_an_earthed_rod_on_the_axis() {
    // Two methods: the first-order shift by the wires' charges, and the mode solved anew with the rod among the conductors.
    let (rod_m, radius_m, above_m, count) = (0.05, 1e-3, 0.08, 60);
    let without = bare_scene();
    let from_m = without.meridian.top.height_m + above_m;
    let step_m = 1e-3;
    let rings = (0..50).map(|index| Ring {
        radius_m,
        height_m: from_m + (f64::from(index) + 0.5) * step_m,
    });
    let mut with = without.clone();
    let rod = Conductor::turns(Thing::Hand, Joint::Earth, rings, step_m / TAU);
    with.conductors.push(rod);
    let at = |scene: &Scene| frequency_hz(scene, Fineness::EachTurn(count)).unwrap();
    let solved = at(&with) / at(&without) - 1.0;
    let field = Field::of(&charges(&without, count).unwrap());
    let stored_f = currents(&without, count).unwrap().stored_f;
    let ends = ([0.0, 0.0, from_m], [0.0, 0.0, from_m + rod_m]);
    let wires = Wires::new(even(ends.0, ends.1, radius_m, 20), None);
    let outer_v = wires.potentials_v(|[_, _, height_m]| field.at(0.0, height_m, 1.0).potential_v);
    let first = -wires.drawn_j(&outer_v).unwrap() / (2.0 * stored_f);
    assert!(solved < -1e-5, "{solved}");
    near(first, solved, 0.04);
}

#[test]
fn an_input_divides_as_its_elements_do() {
    // 1 MΩ is no load at 4 MHz: C/(C + C'). 50 Ω is nearly a short: ωRC.
    let usual = Input::USUAL.behind_farad(0.5e-12, 4e6);
    near(usual, 0.5 / 15.5, 1e-4);
    let low = Input {
        ohm: 50.0,
        farad: 0.0,
    };
    near(
        low.behind_farad(0.5e-12, 4e6),
        TAU * 4e6 * 50.0 * 0.5e-12,
        1e-6,
    );
    // 50 Ω behind 2 µH, 50.3 Ω at 4 MHz, and a loop that resonates with its input: R/(ωL).
    near(
        low.behind_henry(2e-6, 4e6),
        50.0 / 50.0_f64.hypot(TAU * 4e6 * 2e-6),
        1e-9,
    );
    let tuned_h = 1.0 / ((TAU * 4e6).powi(2) * Input::USUAL.farad);
    near(
        Input::USUAL.behind_henry(tuned_h, 4e6),
        1e6 / (TAU * 4e6 * tuned_h),
        1e-6,
    );
}

#[test]
fn nearer_longer_and_more_turns_give_more_and_the_earthed_lead_gives_the_most() {
    let spec = example();
    let far = seen(&spec, "stub 5cm at 30cm");
    let close = seen(&spec, "stub 5cm at 10cm");
    let long = seen(&spec, "stub 10cm at 30cm");
    assert!(close.input_v.low > 3.0 * far.input_v.low);
    assert!(close.moved_ratio < 3.0 * far.moved_ratio && far.moved_ratio < 0.0);
    assert!(long.input_v.low > 1.5 * far.input_v.low);
    assert!(far.open_v.high > 2.0 * far.open_v.low);
    let (one, three) = (
        seen(&spec, "loop 4cm at 10cm into 50 ohm"),
        seen(&spec, "loop 4cm 3 turns at 10cm into 50 ohm"),
    );
    assert!((2.0..3.0).contains(&(three.input_v.high / one.input_v.high)));
    // A closed loop is nearly deaf where a stub is not.
    let loop_v = seen(&spec, "loop 4cm at 30cm").input_v.high;
    assert!(loop_v < far.input_v.low / 20.0, "{loop_v}");
}

#[test]
fn a_pick_up_beyond_the_near_field_is_refused_with_the_farthest_place() {
    let what = PickUp::parse("stub 50cm at 2.9 m").unwrap().0;
    let refused = pick_up(&example(), 6.2e6, typed(1.0), what, Input::USUAL).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "pick-up: found it 2.9 m away, expected up to 1.8 m at 6.2 MHz"
    );
}

#[test]
fn what_is_written_of_a_pick_up_is_read_and_all_its_faults_are_named() {
    let (what, into) = PickUp::parse("loop 4 cm 3 turns at 10 cm into 50 ohm, 120pF").unwrap();
    assert_eq!(
        (what.kind, what.distance_m),
        (
            Kind::Loop {
                diameter_m: 0.04,
                turns: 3
            },
            0.1
        )
    );
    let want = Input {
        ohm: 50.0,
        farad: 120e-12,
    };
    assert_eq!(into, Some(want));
    assert_eq!(Input::parse("1Mohm").unwrap(), Input::USUAL);
    let (stub, into) = PickUp::parse(" stub 5cm at 30cm ").unwrap();
    assert_eq!((stub.kind, into), (Kind::Stub { length_m: 0.05 }, None));
    let faults = [
        ("stub 5 at 30cm", "\"5\" has no unit"),
        ("stub 5cm", "expected \"at\" and a distance"),
        ("aerial 5cm at 3cm", "expected \"stub\" or \"loop\""),
        (
            "stub 5cm at 1mm",
            "distance: found \"1mm\", expected 5 mm to 3 m",
        ),
        (
            "loop 4cm 0 turns at 10cm",
            "expected a whole number from 1 to 20",
        ),
        ("loop 2 m at 10cm", "diameter of the loop: found \"2 m\""),
        ("stub 5cm at 30cm into 3 V", "resistance of the input"),
        ("stub 5cm at 30cm into 1 ohm 2 ohm", "found it twice"),
        ("", "expected \"stub\" or \"loop\""),
    ];
    for (text, words) in faults {
        let said = PickUp::parse(text).unwrap_err().to_string();
        assert!(
            said.contains(words) && said.contains("such as") | said.contains("like \"stub"),
            "{said}"
        );
    }
    let both = PickUp::parse("stub 5 at 9 km into nothing")
        .unwrap_err()
        .to_string();
    for words in ["length of the stub", "distance", "resistance"] {
        assert!(both.contains(words), "{both}");
    }
    assert!(
        Input::parse(" ")
            .unwrap_err()
            .to_string()
            .contains("write it like \"1 Mohm 15 pF\"")
    );
}

proptest::proptest! {
    #[test]
    fn any_text_is_read_or_refused_without_a_panic(text in "(stub|loop)? ?[0-9a-z. ]{0,12}( at )?.{0,12}( into )?\\PC{0,12}") {
        match PickUp::parse(&text) {
            Ok((what, _)) => proptest::prop_assert!(PickUp::DISTANCES_M.contains(&what.distance_m)),
            Err(said) => proptest::prop_assert!(said.to_string().contains("write it like")),
        }
    }
}
