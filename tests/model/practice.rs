//! What practice says of these builds, and whether the program's draws do so: common practice, no source, as
//! `tests/references/practice.md` has it.

use sagtrace::circuit::running::SEEN_A;
use sagtrace::circuit::verdict::{Answer, State, Verdict};
use sagtrace::diagnosis::build::Build;
use sagtrace::diagnosis::case::Case;
use sagtrace::diagnosis::fault::fault;
use sagtrace::diagnosis::library::alone;
use sagtrace::diagnosis::quantity::Quantity;
use sagtrace::sheet;

use crate::build::build_of;

const HELD: &str = include_str!("../scenarios/practice-held.toml");
const PILLAR: &str = include_str!("../../sample-data/glow-pillar.toml");
const MEASURED: &str = include_str!("../../sample-data/glow-pillar-measured.toml");
const PLATE: &str = include_str!("../../sample-data/glow-plate.toml");

const DRAWS: u32 = 60;

fn build(text: &str) -> Build {
    build_of(&sheet::parse(text).unwrap())
}

/// What the draws of a build show with a fault: top in volts, supply and LED in amperes.
fn shown(text: &str, key: &str) -> Vec<[f64; 3]> {
    let build = build(text);
    let fault = fault(key).unwrap();
    (0..DRAWS)
        .map(|index| {
            let drawn = build.drawn(index);
            let case = match key {
                "sound" => Case::sound(drawn.sound),
                _ => fault.case(&drawn),
            };
            let row = alone(&case, &drawn);
            [Quantity::Lamp, Quantity::Current, Quantity::Led]
                .map(|quantity| f64::from(row[quantity.index()]))
        })
        .collect()
}

fn lit(shown: &[[f64; 3]]) -> f64 {
    let lit = shown.iter().filter(|one| one[2] > SEEN_A).count();
    lit as f64 / shown.len() as f64
}

/// The fifth and the ninety-fifth of a hundred.
fn band(shown: &[[f64; 3]], which: usize) -> (f64, f64) {
    let mut values: Vec<f64> = shown.iter().map(|one| one[which]).collect();
    values.sort_by(f64::total_cmp);
    let cut = values.len() / 20;
    (values[cut], values[values.len() - 1 - cut])
}

#[test]
fn sound_builds_of_the_class_light_their_led_and_take_what_practice_takes() {
    for (name, text) in [
        ("held", HELD),
        ("pillar", PILLAR),
        ("measured", MEASURED),
        ("plate", PLATE),
    ] {
        let shown = shown(text, "sound");
        let (low_a, high_a) = band(&shown, 1);
        let (low_v, high_v) = band(&shown, 0);
        println!(
            "{name}: lit {:.2}, {low_a:.3} to {high_a:.3} A, {low_v:.0} to {high_v:.0} V",
            lit(&shown)
        );
        assert!(lit(&shown) >= 0.85, "{name}: {}", lit(&shown));
        assert!(low_v > 500.0, "{name}: {low_v}");
        assert!(low_a < 0.6 && high_a > 0.2, "{name}: {low_a} {high_a}");
    }
}

#[test]
fn the_prediction_says_that_they_start() {
    for (name, text) in [
        ("held", HELD),
        ("pillar", PILLAR),
        ("measured", MEASURED),
        ("plate", PLATE),
    ] {
        let verdict = Verdict::of(&build(text).specs).unwrap();
        for set in &verdict.sets {
            let on = set
                .switched_on
                .map(|on| (on.supply_a, on.top_v, on.diode_a));
            println!(
                "{name} {:?} {on:?} q {:.0}",
                set.state, set.spec.resonator.q
            );
        }
        println!("{name} {:?} {:?}", verdict.answer, verdict.deciding);
        assert_eq!(verdict.answer, Answer::Starts, "{name}");
        assert!(
            verdict.sets.iter().all(|set| set.state == State::Full),
            "{name}"
        );
    }
}

/// A hand on the case or on the base's wire stops it; a primary the wrong way round never starts it.
#[test]
fn a_hand_on_the_case_or_the_wire_stops_the_held_build_and_so_does_a_reversed_primary() {
    for key in ["hand-on-case", "hand-on-base", "primary-reversed"] {
        let lit = lit(&shown(HELD, key));
        println!("{key}: lit {lit:.2}");
        assert!(lit < 0.15, "{key}: {lit}");
    }
}
