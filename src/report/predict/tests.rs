use super::text;
use crate::coil::predict::predict;
use crate::report::form::Form as _;
use crate::report::predict::json::{Asked, Json};
use crate::sheet;

const PILLAR: &str = include_str!("../../../sample-data/glow-pillar.toml");
const MEASURED: &str = include_str!("../../../sample-data/glow-pillar-measured.toml");

fn shown(toml: &str) -> String {
    let sheet = sheet::parse(toml).unwrap();
    text(&sheet, &predict(&sheet.coil_spec()).unwrap())
}

#[test]
fn a_computed_build_is_told_with_its_band_and_what_it_rests_on() {
    insta::assert_snapshot!(shown(PILLAR), @"
    glow pillar
    an invented build of a science club: a lamp that lights beside a pillar of fine wire

    resonance     6.217 MHz, between 5.81 MHz and 6.73 MHz
                  by: ring model: turns as rings of charge and current
                  the band rests on the parts below
                  foot: earthed
    the band      winding       -1.3 % to  +1.3 %
                  tolerances of the winding's measures, 95 % of 300 seeded draws
                  model         -2.0 % to  +2.0 %
                  against coils measured over a known ground
                  former        -2.4 % to       0
                  what it is wound on is not given: air to a solid rod
                  earth              0 to  +1.2 %
                  the transistor's base between foot and earth, 100 pF or more
                  surroundings  -1.9 % to  +4.5 %
                  a hand 50 mm above, a table so dry that it is none
    next modes    15.4 MHz, 22.4 MHz
    coil alone    9.218 MHz: both ends open, loose coupling loop
                  6.230 MHz: foot on the instrument's earth, top open: impedance peak; 4.76 MHz with a
                  clip of 1 pF on it
                  5.165 MHz: top on the instrument's earth, foot open: impedance peak; 4.22 MHz with a
                  clip of 1 pF on it
                  13.05 MHz: both ends on the instrument: impedance dip
    handbook      5.849 MHz, -5.9 % from the resonance above
                  its table has 1.51 pF, measured on coils on rods with their leads; in these
                  surroundings the rings find 1.33 pF
    inductance    491.2 µH, computed, at high frequency
    capacitance   1.33 pF, resonates with that inductance, in these surroundings
                  1.19 pF for a voltage that rises evenly to the top: what slow measurements show
                  4.85 pF for all turns at one potential
    wire          22.9 m, 6.40 g of copper
    resistance    12.6 Ω for direct current at 20 °C
                  80 Ω at resonance: skin effect, and close turns partly by Medhurst's table
                  76 Ω, -5.4 %, by Dowell's layer: a foil in an even field along the axis, without the
                  field at the ends and between spaced turns, which Medhurst measured; for long close
                  coils
    Q             240, computed, unloaded
    primary       263 nH, computed
    coupling      0.203, computed
    at the foot   the circuit sees 283 µH and 2.32 pF
                  coupled 0.262 with the primary, 2.26 µH between them
                  foot to top 1.25 times the voltage across these two, 140 V for 10 mA

    if this were 1 % larger, the resonance would move by
      diameter                       -1.23 %
      length of the winding          +0.22 %
      turns, in the same length      -1.00 %
      turns, at the same pitch       -0.78 %
      bare wire                      +0.00 %
      distance to the plane below    +0.00 %

    assumed
      coil.over_enamel: 220 µm, from a table quoted from memory
      circuit.gain: from the worst to the best of the transistor's class assumed
      circuit.transition_frequency: from the worst to the best of the transistor's class assumed

    to know
      Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it
      coupling: for the same current in every turn; the mode's own is listed with what the circuit
      sees
      primary: its leads are not counted
    ");
}

#[test]
fn a_measured_build_says_measured_at_every_value() {
    insta::assert_snapshot!(shown(MEASURED), @"
    glow pillar, measured
    an invented build of a science club, with invented measurements in place of computed values

    resonance     3.473 MHz, no band
                  by: measured inductance and resonance capacitance
                  it rests on the measured values alone, for which no tolerance was given
                  foot: earthed
    inductance    300.0 µH, measured
    capacitance   7.00 pF, measured, with the inductance it resonates
    wire          22.9 m, 6.40 g of copper
    resistance    12.6 Ω for direct current at 20 °C
                  65 Ω at resonance: from the measured Q
    Q             100, measured
    primary       600 nH, measured
    coupling      0.200, measured
    leads         200 nH, measured
    at the foot   the circuit sees 300 µH and 7.00 pF
                  coupled 0.200 with the primary, 2.68 µH between them
                  foot to top 1.00 times the voltage across these two, 65 V for 10 mA

    assumed
      coil.over_enamel: 220 µm, from a table quoted from memory
      circuit.gain: from the worst to the best of the transistor's class assumed
      circuit.transition_frequency: from the worst to the best of the transistor's class assumed
    ");
}

#[test]
fn a_floating_build_with_little_said_lists_what_was_taken_for_granted() {
    insta::assert_snapshot!(shown(SHORT), @"
    short

    resonance     17.19 MHz, between 15.3 MHz and 19.4 MHz
                  by: ring model: turns as rings of charge and current
                  the band rests on the parts below
                  foot: held
    the band      winding       -3.8 % to  +3.8 %
                  tolerances of the winding's measures and of its enamel, 95 % of 300 seeded draws
                  model         -2.0 % to  +2.0 %
                  against computed helices; no coil of such turns was measured
                  former        -4.2 % to       0
                  what it is wound on is not given: air to a solid rod
                  earth         -0.9 % to  +7.8 %
                  from a firm hand to none, when the circuit floats
                  surroundings  -2.3 % to  +0.4 %
                  a hand 50 mm above, a table 20 mm below or twice as low as the circuit, eddy
                  currents in the circuit's metal
    next modes    40.6 MHz, 59.3 MHz
    coil alone    25.53 MHz: both ends open, loose coupling loop
                  17.76 MHz: foot on the instrument's earth, top open: impedance peak; 11.5 MHz with a
                  clip of 1 pF on it
                  17.76 MHz: top on the instrument's earth, foot open: impedance peak; 11.5 MHz with a
                  clip of 1 pF on it
                  38.22 MHz: both ends on the instrument: impedance dip
    handbook      16.72 MHz, -2.7 % from the resonance above
                  its table has 0.803 pF, measured on coils on rods with their leads; in these
                  surroundings the rings find 0.760 pF
    inductance    112.8 µH, computed, at high frequency
    capacitance   0.760 pF, resonates with that inductance, in these surroundings
                  0.694 pF for a voltage that rises evenly to the top: what slow measurements show
                  2.59 pF for all turns at one potential
    wire          7.23 m, 2.08 g of copper
    resistance    3.84 Ω for direct current at 20 °C
                  43 Ω at resonance: skin effect, and close turns by Medhurst's table
                  39 Ω, -8.9 %, by Dowell's layer: a foil in an even field along the axis, without the
                  field at the ends and between spaced turns, which Medhurst measured; for long close
                  coils
    Q             286, computed, unloaded
    primary       241 nH, computed
    coupling      0.248, computed
    at the foot   the circuit sees 73.0 µH and 1.17 pF
                  coupled 0.303 with the primary, 1.27 µH between them
                  foot to top 1.19 times the voltage across these two, 94 V for 10 mA

    if this were 1 % larger, the resonance would move by
      diameter                       -1.25 %
      length of the winding          +0.27 %
      turns, in the same length      -1.00 %
      turns, at the same pitch       -0.73 %
      bare wire                      +0.00 %
      size of the circuit            -0.02 %

    assumed
      coil.film: single assumed
      coil.turn_pitch: close wound assumed, 225 µm a turn
      coil.turns: 178 from winding_length and the wire over its enamel
      coil.diameter_tolerance: 100 µm assumed
      coil.length_tolerance: 1.0 mm assumed
      coil.turns_tolerance: 2 assumed
      primary.over_insulation: bare wire assumed
      primary.turn_pitch: close wound assumed, 1.00 mm a turn
      primary.position: flush with the secondary's foot assumed
      primary.collector_end: top-side assumed
      primary.sense: the same way round as the secondary assumed
      circuit.gain: from the worst to the best of the transistor's class assumed
      circuit.transition_frequency: from the worst to the best of the transistor's class assumed
      circuit.base_diode: led assumed
      battery.series: one battery assumed
      usual.plane: nothing near assumed
      usual.circuit_below: 10 mm assumed

    to know
      foot: the circuit floats and usual.circuit_size is not given; a disc of 60 mm is taken for it
      resonance: checked against full-wave runs and closed forms, not against a measured coil of this
      shape
      Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it
      coupling: for the same current in every turn; the mode's own is listed with what the circuit
      sees
      primary: its leads are not counted
    ");
}

const SHORT: &str = r#"
schema = 1
name = "short"
coil = { shape = "cylinder", former_diameter = "0.5 in", wire = "32 AWG", winding_length = "40 mm" }
primary = { turns = 3, former_diameter = "17 mm", wire = "1 mm" }
circuit = { transistor = "medium", bias_resistor = "22k" }
battery = { kind = "nimh-7" }
usual = { earth = "held" }
"#;

#[test]
fn the_json_has_its_schema_units_and_nulls() {
    let sheet = sheet::parse(PILLAR).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    insta::with_settings!({ snapshot_path => "../../../tests/snapshots", prepend_module_to_snapshot => false }, {
        insta::assert_snapshot!("predict_json", Json::new(&sheet, &prediction, Asked::default()).json().unwrap());
    });
}

#[test]
fn a_value_that_is_not_known_is_null() {
    let mut sheet = sheet::parse(PILLAR).unwrap();
    sheet.winding.turns = 40.0;
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let document = Json::new(&sheet, &prediction, Asked::default())
        .json()
        .unwrap();
    let value: serde_json::Value = serde_json::from_str(&document).unwrap();
    assert!(value["q"].is_null() && value["q_origin"].is_null());
    assert!(value["resonance"]["value_hz"].is_number());
}
