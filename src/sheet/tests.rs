use super::*;
use crate::coil::predict::predict;
use crate::coil::surroundings::Plane;
use crate::coil::winding::{CollectorEnd, Lay, Shape};

pub(super) const PILLAR: &str = include_str!("../../sample-data/glow-pillar.toml");
const MEASURED: &str = include_str!("../../sample-data/glow-pillar-measured.toml");

/// The sample sheet with one line in place of another.
pub(super) fn pillar_with(line: &str, instead: &str) -> String {
    assert!(PILLAR.contains(line), "{line} is not in the sheet");
    PILLAR.replacen(line, instead, 1)
}

pub(super) fn faults_of(text: &str) -> String {
    parse(text).unwrap_err().to_string()
}

#[test]
fn the_sample_build_is_read_as_it_is_written() {
    let sheet = parse(PILLAR).unwrap();
    assert!((sheet.mean_diameter_m() - 0.01622).abs() < 1e-9);
    assert!((sheet.winding_length_m() - 0.099).abs() < 1e-9);
    assert!((sheet.turns() - 450.0).abs() < 1e-12);
    assert!((sheet.primary.diameter_m - 0.022).abs() < 1e-9);
    assert_eq!(sheet.primary.collector_end, CollectorEnd::TopSide);
    assert_eq!(sheet.surroundings.plane, Plane::Table { distance_m: 0.005 });
    assert_eq!(sheet.earth, EarthState::Earthed);
    assert!((sheet.tolerance.diameter_m - 1e-4).abs() < 1e-12);
    let said: Vec<_> = sheet.assumptions.iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        [
            "coil.over_enamel: 220 µm, from a table quoted from memory",
            "circuit.gain: from the worst to the best of the transistor's class assumed",
            "circuit.transition_frequency: from the worst to the best of the transistor's class assumed"
        ]
    );
}

#[test]
fn the_measured_sample_is_the_simulated_circuit() {
    // The circuit's own numbers: 300 µH, 7 pF, Q 100, k 0.2, 0.6 µH, 22 kΩ, 9 V behind 3 Ω, 0.2 µH; 3.47305 MHz.
    let sheet = parse(MEASURED).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let near = |got: f64, want: f64, relative: f64| {
        assert!((got / want - 1.0).abs() < relative, "{got} is not {want}");
    };
    near(prediction.resonance.value_hz, 3.47305e6, 2e-6);
    near(prediction.inductance_h.unwrap().value, 300e-6, 1e-12);
    near(prediction.resistance_ohm.unwrap().value, 65.4654, 2e-6);
    near(prediction.q.unwrap().value, 100.0, 1e-12);
    near(prediction.coupling.unwrap().value, 0.2, 1e-12);
    near(
        prediction.primary_inductance_h.unwrap().value,
        0.6e-6,
        1e-12,
    );
    near(sheet.measured.lead_inductance_h.unwrap(), 0.2e-6, 1e-12);
    near(sheet.circuit.bias_resistor_ohm, 22e3, 1e-12);
    near(sheet.battery.nominal_v(), 9.0, 1e-12);
    near(sheet.battery.resistance_ohm.unwrap(), 3.0, 1e-12);
}

#[test]
fn the_template_names_every_kind_of_battery() {
    for (word, _) in crate::battery::kind::Kind::WORDS {
        let names = template().split([' ', ',', '\n']).any(|one| one == word);
        assert!(names, "{word}");
    }
}

#[test]
fn the_template_is_itself_a_sheet_and_so_is_each_line_it_offers() {
    assert!(parse(template()).is_ok());
    // Every offered key, uncommented, is one that is read.
    let offered: String = template()
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(key) if key.contains(" = ") || key.starts_with('[') => key,
            _ => line,
        })
        .flat_map(|line| [line, "\n"])
        .collect();
    assert!(offered.contains("\nfrequency_tolerance"));
    let sheet = parse(&offered).unwrap();
    assert_eq!(sheet.assumptions, []);
    assert!((sheet.measured.frequency_ratio - 0.01).abs() < 1e-15);
}

#[test]
fn all_faults_of_a_sheet_are_told_at_once() {
    let text = r#"
schema = 2
name = " "
[coil]
shape = "tube"
former_diameter = "16"
wire = "thin"
[primary]
turns = 0
former_diameter = "20 mm"
mean_diameter = "20 mm"
wire = "1 mm"
[circuit]
transistor = "large"
[battery]
kind = "alkaline"
charge = "5 Ah"
[usual]
plane = "table"
[measured]
coupling = 1.5
frequency_tolerance = "1 %"
"#;
    insta::assert_snapshot!(faults_of(text), @r#"
    line 2: schema: found 2: expected 1
    line 3: name: found " ": expected a name of one line
    line 5: coil.shape: found "tube": expected one of "cylinder", "cone", "flat-spiral"
    line 7: coil.wire: found "thin": expected a wire size, such as "0.2 mm" or "32 AWG"
    line 9: primary.turns: found 0: expected a whole number from 1 to 100
    line 10: primary.former_diameter: found "20 mm": expected either this or mean_diameter, not both
    line 13: circuit.bias_resistor: missing: expected the resistor from plus to base, such as "22 kohm"
    line 14: circuit.transistor: found "large": expected one of "small-signal", "medium", "power-to220", "power-to3"
    line 17: battery.charge: unknown key: expected one of kind, series, capacity, resistance
    line 18: usual.earth: missing: expected standing, held, clipped or earthed
    line 18: usual.plane_distance: missing: expected the distance from the winding's lower edge to the plane, such as "5 mm"
    line 21: measured.coupling: found 1.5: expected a number from 0.0001 to 0.99
    line 22: measured.frequency_tolerance: found "1 %": expected measured.frequency beside it
    "#);
}

#[test]
fn a_winding_that_cannot_be_is_refused_by_its_keys() {
    insta::assert_snapshot!(
        faults_of(&pillar_with("turn_pitch = \"0.22 mm\"", "winding_length = \"50 mm\"")), @r#"line 12: coil.winding_length: found "50 mm": expected room of 96.3 mm or more for coil.turns = 450, each 214 µm or more over its enamel"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("turn_pitch = \"0.22 mm\"", "turn_pitch = \"0.2 mm\"")), @r#"line 12: coil.turn_pitch: found "0.2 mm": expected room of 96.3 mm or more for coil.turns = 450, each 214 µm or more over its enamel"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("turns = 450", "turns = 450\nwinding_length = \"120 mm\"")), @r#"line 12: coil.winding_length: found "120 mm": expected 99.0 mm, coil.turns × coil.turn_pitch"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("former_diameter = \"20 mm\"", "former_diameter = \"15 mm\"")), @r#"line 20: primary.former_diameter: found "15 mm": expected 18.43 mm or more through the wire's centre; the primary would cut through the secondary"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("film = \"grade-1\"", "film = \"heavy\"")), @r#"line 10: coil.film: found "heavy": expected grade-1, grade-2 or grade-3"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("film = \"grade-1\"", "over_enamel = \"0.19 mm\"")), @r#"line 10: coil.over_enamel: found "0.19 mm": expected more than the bare wire's 200 µm, coil.wire"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("plane = \"table\"", "plane = \"none\"")), @r#"line 41: usual.plane_distance: found "5 mm": expected usual.plane = "table" or "metal" beside it"#);
    insta::assert_snapshot!(
        faults_of(&pillar_with("turns = 450\nturn_pitch = \"0.22 mm\"", "")), @"line 6: coil.turns: missing: expected turns or winding_length");
}

#[test]
fn turns_length_and_pitch_give_each_other() {
    let wound = |lines: &str| {
        let text = pillar_with("turns = 450\nturn_pitch = \"0.22 mm\"", lines);
        let sheet = parse(&text).unwrap();
        (sheet.turns(), sheet.winding_length_m(), sheet.assumptions)
    };
    let (turns, length_m, assumed) = wound("turns = 450");
    assert!((turns - 450.0).abs() < 1e-9 && (length_m - 0.099).abs() < 1e-9);
    assert!(
        assumed
            .iter()
            .any(|said| said.to_string() == "coil.turn_pitch: close wound assumed, 220 µm a turn"),
        "{assumed:?}"
    );
    let (turns, length_m, assumed) = wound("winding_length = \"120 mm\"");
    assert!((turns - 545.45).abs() < 0.01 && (length_m - 0.12).abs() < 1e-9);
    assert!(assumed.iter().any(|said| said.key == "coil.turns"));
    let (turns, length_m, _) = wound("winding_length = \"120 mm\"\nturn_pitch = \"0.3 mm\"");
    assert!((turns - 400.0).abs() < 1e-9 && (length_m - 0.12).abs() < 1e-9);
    let (turns, length_m, _) = wound("turns = 400\nwinding_length = \"120 mm\"");
    assert!((turns - 400.0).abs() < 1e-9 && (length_m - 0.12).abs() < 1e-9);
}

#[test]
fn a_cone_and_a_flat_spiral_are_sheets_that_are_predicted() {
    let cylinder = "shape = \"cylinder\"\nformer_diameter = \"16 mm\"";
    let cone = "shape = \"cone\"\nfoot_diameter = \"19 mm\"\ntop_diameter = \"12 mm\"\nwinding_length = \"100 mm\"";
    let spiral = "shape = \"flat-spiral\"\ninner_diameter = \"30 mm\"\nouter_diameter = \"240 mm\"";
    let at = "turns = 450\nturn_pitch = \"0.22 mm\"\nlength_tolerance = \"1 mm\"";
    let primary = "former_diameter = \"20 mm\"";
    for (shape, name, turns, wide) in [
        (
            cone,
            "cone",
            "turns = 450\nlength_tolerance = \"1 mm\"",
            "former_diameter = \"20 mm\"",
        ),
        (
            spiral,
            "flat-spiral",
            "turns = 450",
            "former_diameter = \"250 mm\"",
        ),
    ] {
        let text = pillar_with(cylinder, shape)
            .replacen(at, turns, 1)
            .replacen(primary, wide, 1);
        let sheet = parse(&text).unwrap();
        assert_eq!(sheet.winding.shape.name(), name);
        let found = predict(&sheet.coil_spec()).unwrap().resonance;
        assert!(
            found.low_hz < found.value_hz && found.value_hz < found.high_hz,
            "{found:?}"
        );
    }
    let tight = pillar_with(cylinder, spiral).replacen(at, "turns = 600", 1);
    insta::assert_snapshot!(faults_of(&tight), @"line 12: coil.turns: found 600: expected room of 128 mm or more for coil.turns = 600, each 214 µm or more over its enamel");
    let inside_out = tight.replacen(
        "outer_diameter = \"240 mm\"",
        "outer_diameter = \"24 mm\"",
        1,
    );
    insta::assert_snapshot!(faults_of(&inside_out), @"line 12: coil.turns: found 600: expected an outer_diameter above inner_diameter and two turns or more");
}

#[test]
fn a_flat_spiral_s_diameters_go_through_its_turns() {
    // 60 turns 0.6 mm apart with centres from 15.3 to 50.7 mm: a sheet from 15 to 51 mm.
    let text = r#"
schema = 1
name = "plate"
coil = { shape = "flat-spiral", inner_diameter = "30.6 mm", outer_diameter = "101.4 mm", wire = "0.4 mm", turns = 60, board_thickness = "2 mm", board_permittivity = 3 }
primary = { turns = 2, mean_diameter = "112 mm", wire = "1 mm", turn_pitch = "2 mm" }
circuit = { transistor = "power-to220", bias_resistor = "22k" }
battery = { kind = "alkaline", series = 3 }
usual = { earth = "standing", circuit_size = "80 mm", hand = "10 cm", ceiling = "1.5 m" }
top = { shape = "toroid", diameter = "40 mm", tube_diameter = "10 mm", gap = "2 mm" }
"#;
    let sheet = parse(text).unwrap();
    let Shape::FlatSpiral {
        inner_diameter_m,
        outer_diameter_m,
    } = sheet.winding.shape
    else {
        panic!("{:?}", sheet.winding.shape);
    };
    assert!((inner_diameter_m - 0.030).abs() < 1e-9 && (outer_diameter_m - 0.102).abs() < 1e-9);
    assert_eq!(sheet.primary.lay, Lay::Flat);
    let (thickness_m, permittivity) = (0.002, 3.0);
    assert_eq!(
        sheet.former,
        Former::Board {
            thickness_m,
            permittivity
        }
    );
    let near = sheet.surroundings;
    assert_eq!(
        (near.circuit_m, near.hand_m, near.ceiling_m),
        (Some(0.08), Some(0.1), Some(1.5))
    );
    assert!(near.top_load.is_some());
    let half = text.replacen(", board_permittivity = 3", "", 1);
    insta::assert_snapshot!(faults_of(&half), @r#"line 4: coil.board_thickness: found "2 mm": expected coil.board_permittivity beside it, such as 3"#);
    let solid = text.replacen("tube_diameter = \"10 mm\"", "tube_diameter = \"30 mm\"", 1);
    insta::assert_snapshot!(faults_of(&solid), @r#"line 9: top.tube_diameter: found "30 mm": expected less than half of top.diameter"#);
}

#[test]
fn the_sample_plate_is_the_example_spiral() {
    // Another program of ours: 231.52 µH; alone in air 7.267 MHz with its outer end at earth; a board of 2 mm −8 %.
    let sheet = parse(include_str!("../../sample-data/glow-plate.toml")).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    assert!((prediction.inductance_h.unwrap().value / 231.52e-6 - 1.0).abs() < 3e-5);
    let model = prediction.modelled.unwrap();
    assert!((model.terminals[1].frequency_hz / 7.267e6 - 1.0).abs() < 2e-4);
    // 7.025 MHz with the primary at earth, then board and enamel.
    let want_hz = 7.025e6 * (1.0 - 0.080 - 0.006);
    assert!((prediction.resonance.value_hz / want_hz - 1.0).abs() < 4e-3);
}

#[test]
fn figures_of_the_transistor_are_taken_as_told() {
    let text = pillar_with(
        "base_diode = \"led\"\n",
        "base_diode = \"led\"\ngain = 120\ntransition_frequency = \"13 MHz\"\n",
    );
    let sheet = parse(&text).unwrap();
    assert_eq!(
        (sheet.circuit.gain, sheet.circuit.transition_hz),
        (Some(120.0), Some(13e6))
    );
    assert_eq!(sheet.assumptions.len(), 1);
}

#[test]
fn what_a_sheet_does_not_say_of_its_tolerances_is_assumed_and_told() {
    let text = pillar_with("turns_tolerance = 5\n", "");
    let text = text.replacen("diameter_tolerance = \"0.1 mm\"\n", "", 1);
    let sheet = parse(&text).unwrap();
    let said: Vec<_> = sheet.assumptions.iter().map(ToString::to_string).collect();
    assert_eq!(
        said[1..3],
        [
            "coil.diameter_tolerance: 100 µm assumed",
            "coil.turns_tolerance: 5 assumed"
        ]
    );
    assert!((sheet.tolerance.turns - 5.0).abs() < 1e-12);
}

#[test]
fn a_thick_secondary_needs_callipers_where_no_table_reaches() {
    let text = pillar_with(
        "wire = \"0.20 mm\"\nfilm = \"grade-1\"\nturns = 450\nturn_pitch = \"0.22 mm\"",
        "wire = \"1 mm\"\nturns = 50",
    );
    insta::assert_snapshot!(faults_of(&text), @r#"line 9: coil.wire: found "1 mm": film of 1 mm: "grade-1" is not listed for it, 0.1 mm to 0.813 mm is; coil.over_enamel may say what callipers show"#);
    let text = text.replacen("turns = 50", "turns = 50\nover_enamel = \"1.06 mm\"", 1);
    assert!((parse(&text).unwrap().winding_length_m() - 0.053).abs() < 1e-9);
}

proptest::proptest! {
    #[test]
    fn a_sheet_with_any_line_broken_is_read_or_refused_without_panic(at in 0_usize..30, line in "[a-z_]{0,8} ?=? ?.{0,12}") {
        let text: String = PILLAR
            .lines()
            .enumerate()
            .flat_map(|(index, old)| [if index == at { line.as_str() } else { old }, "\n"])
            .collect();
        if let Err(faults) = parse(&text) {
            proptest::prop_assert!(!faults.first.is_empty());
        }
    }
}

#[test]
fn a_wire_by_gauge_may_be_written_small_and_what_is_no_wire_is_told_once() {
    let text = pillar_with("wire = \"0.20 mm\"", "wire = \"32 awg\"")
        .replacen("film = \"grade-1\"", "film = \"single\"", 1)
        .replacen("turn_pitch = \"0.22 mm\"", "turn_pitch = \"0.25 mm\"", 1);
    let sheet = parse(&text).unwrap();
    assert!((sheet.winding.gauge.bare_m() - 8.0 * 25.4e-6).abs() < 1e-12);
    insta::assert_snapshot!(faults_of(&pillar_with("wire = \"0.20 mm\"", "wire = \"thin\"")), @r#"line 9: coil.wire: found "thin": expected a wire size, such as "0.2 mm" or "32 AWG""#);
}

#[test]
fn five_turns_are_enough_and_four_are_told_once() {
    let of = |turns: &str| {
        let text = pillar_with("turns = 450", &format!("turns = {turns}"))
            .replacen("turns_tolerance = 5", "turns_tolerance = 0.1", 1)
            .replacen("plane = \"table\"", "plane = \"none\"", 1)
            .replacen("plane_distance = \"5 mm\"", "", 1)
            .replacen("position = \"0 mm\"", "position = \"-10 mm\"", 1)
            .replacen("turn_pitch = \"0.22 mm\"", "turn_pitch = \"2 mm\"", 1);
        predict(&parse(&text).unwrap().coil_spec())
    };
    let found = of("5").unwrap().resonance;
    assert!(found.low_hz < found.value_hz && found.value_hz < found.high_hz);
    insta::assert_snapshot!(of("4").unwrap_err(), @"ring model of the winding: found 4 turns: expected at least 5; in the sheet: coil.turns");
}

#[test]
fn what_cannot_stand_above_or_in_the_coil_is_told_at_its_line() {
    let loaded = |usual: &str| {
        let usual = format!("earth = \"earthed\"\n{usual}");
        pillar_with("earth = \"earthed\"", &usual)
            + "\n[top]\nshape = \"sphere\"\ndiameter = \"20 mm\"\ngap = \"2 mm\"\n"
    };
    insta::assert_snapshot!(faults_of(&loaded("hand = \"10 mm\"")), @r#"line 40: usual.hand: found "10 mm": expected more than 22.0 mm, the height of the top load above the winding"#);
    assert!(parse(&loaded("hand = \"30 mm\"")).is_ok());
    insta::assert_snapshot!(faults_of(&loaded("hand = \"30 cm\"\nceiling = \"20 cm\"")), @"line 38: usual: a hand above the ceiling: expected usual.hand below usual.ceiling = 200 mm");
    let inside = pillar_with("former_diameter = \"20 mm\"", "former_diameter = \"10 mm\"");
    let rod = inside.replacen("turns = 450", "turns = 450\nformer = \"rod\"", 1);
    insta::assert_snapshot!(faults_of(&rod), @r#"line 21: primary.former_diameter: found "10 mm": expected it outside the secondary, whose coil.former is a rod, or a tube as former"#);
    // In a tube it can be, with a note.
    let notes = predict(&parse(&inside).unwrap().coil_spec()).unwrap().notes;
    assert!(
        notes
            .iter()
            .any(|note| note.to_string().starts_with("primary: inside"))
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(48))]

    #[test]
    fn no_sheet_of_numbers_makes_the_prediction_panic(
        turns in 1.0_f64..400.0,
        former_mm in 1.0_f64..300.0,
        pitch_mm in 0.05_f64..20.0,
        primary_mm in 1.0_f64..300.0,
        position_mm in -400.0_f64..400.0,
        plane_mm in 0.1_f64..100.0,
        hand_mm in 1.0_f64..200.0,
        earth in 0_usize..4,
        measured_khz in proptest::option::of(1.0_f64..1e6),
    ) {
        let mut text = pillar_with("turns = 450", &format!("turns = {turns}"))
            .replacen("former_diameter = \"16 mm\"", &format!("former_diameter = \"{former_mm} mm\""), 1)
            .replacen("turn_pitch = \"0.22 mm\"", &format!("turn_pitch = \"{pitch_mm} mm\""), 1)
            .replacen("former_diameter = \"20 mm\"", &format!("former_diameter = \"{primary_mm} mm\""), 1)
            .replacen("position = \"0 mm\"", &format!("position = \"{position_mm} mm\""), 1)
            .replacen("plane_distance = \"5 mm\"", &format!("plane_distance = \"{plane_mm} mm\"\nhand = \"{hand_mm} mm\""), 1)
            .replacen("earth = \"earthed\"", &format!("earth = \"{}\"", EarthState::WORDS[earth].0), 1)
            // Without draws: they would take most of the time and vary nothing more than this does.
            .replacen("turns_tolerance = 5", "turns_tolerance = 0", 1)
            .replacen("length_tolerance = \"1 mm\"", "length_tolerance = \"0 mm\"", 1)
            .replacen("diameter_tolerance = \"0.1 mm\"", "diameter_tolerance = \"0 mm\"", 1);
        if let Some(kilohertz) = measured_khz {
            text = [text, format!("\n[measured]\nfrequency = \"{kilohertz} kHz\"\n")].concat();
        }
        // Refused with words or predicted with numbers.
        match parse(&text) {
            Err(faults) => proptest::prop_assert!(!faults.to_string().is_empty()),
            Ok(sheet) => match predict(&sheet.coil_spec()) {
                Err(error) => proptest::prop_assert!(!error.to_string().is_empty()),
                Ok(found) => {
                    let band = found.resonance;
                    proptest::prop_assert!(band.low_hz > 0.0 && band.low_hz <= band.value_hz);
                    proptest::prop_assert!(band.value_hz <= band.high_hz && band.high_hz.is_finite());
                }
            },
        }
    }
}
