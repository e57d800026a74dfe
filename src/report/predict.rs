//! A prediction as text and as JSON (schema 1).

use serde::Serialize;

use crate::coil::prediction::{BandBasis, CapacitanceKind, Origin, Prediction, Valued};
use crate::sheet::{Assumption, Sheet};
use crate::units::{Unit, rounded};

use super::digits::nine_digits;
use super::layout::{line, list, under, wrapped};

/// The form of the JSON.
const SCHEMA: u32 = 1;

/// A prediction as it is read at a bench: every value with its origin, the resonance with its band and what the band
/// rests on, then all that was taken for granted.
pub fn text(sheet: &Sheet, prediction: &Prediction) -> String {
    let mut out = format!("{}\n", sheet.name);
    if let Some(note) = &sheet.note {
        wrapped(&mut out, 0, note);
    }
    out.push('\n');
    resonance(&mut out, sheet, prediction);
    coil(&mut out, prediction);
    primary(&mut out, sheet, prediction);
    list(&mut out, "taken for granted", &sheet.assumptions);
    list(&mut out, "to know", &prediction.notes);
    out
}

fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Computed => "computed",
        Origin::Measured => "measured",
    }
}

fn resonance(out: &mut String, sheet: &Sheet, prediction: &Prediction) {
    let found = &prediction.resonance;
    let hertz = |value_hz, digits| rounded(value_hz, Unit::Hertz, digits);
    let value = hertz(found.value_hz, 4);
    if prediction.band == BandBasis::NoneGiven {
        line(out, "resonance", &format!("{value}, no band"));
    } else {
        let (low, high) = (hertz(found.low_hz, 3), hertz(found.high_hz, 3));
        line(
            out,
            "resonance",
            &format!("{value}, between {low} and {high}"),
        );
    }
    under(out, &format!("by: {}", found.route));
    let rests = if prediction.band == BandBasis::NoneGiven {
        "it rests on"
    } else {
        "the band rests on"
    };
    under(out, &format!("{rests} {}", prediction.band));
    under(out, &format!("foot: {}", sheet.earth.name()));
}

fn coil(out: &mut String, prediction: &Prediction) {
    if let Some(inductance) = prediction.inductance_h {
        let value = rounded(inductance.value, Unit::Henry, 4);
        let how = match inductance.origin {
            Origin::Computed => "computed, at high frequency",
            Origin::Measured => "measured",
        };
        line(out, "inductance", &format!("{value}, {how}"));
    }
    if let (Some(value_f), Some(kind)) = (prediction.capacitance_f, prediction.capacitance_kind) {
        let value = rounded(value_f, Unit::Farad, 3);
        line(
            out,
            "capacitance",
            &format!("{value}, {}", capacitance(kind)),
        );
    }
    let length = rounded(prediction.wire_length_m, Unit::Metre, 3);
    let mass = rounded(prediction.copper_mass_kg, Unit::Gram, 3);
    line(out, "wire", &format!("{length}, {mass} of copper"));
    let dc = rounded(prediction.resistance_dc_ohm, Unit::Ohm, 3);
    line(
        out,
        "resistance",
        &format!("{dc} for direct current at 20 °C"),
    );
    if let Some(resistance) = prediction.resistance_ohm {
        let value = rounded(resistance.value, Unit::Ohm, 2);
        let how = match resistance.origin {
            Origin::Computed => "skin effect and close turns",
            Origin::Measured => "from the measured Q",
        };
        under(out, &format!("{value} at resonance: {how}"));
    }
    if let Some(q) = prediction.q {
        let how = match q.origin {
            Origin::Computed => "computed, unloaded",
            Origin::Measured => "measured",
        };
        line(out, "Q", &format!("{:.0}, {how}", q.value));
    }
}

fn capacitance(kind: CapacitanceKind) -> &'static str {
    match kind {
        CapacitanceKind::Tabulated => "tabulated self-capacitance, one end earthed",
        CapacitanceKind::MeasuredResonance => "measured, with the inductance it resonates",
        CapacitanceKind::FromFrequency => "from the measured frequency and the inductance",
    }
}

fn primary(out: &mut String, sheet: &Sheet, prediction: &Prediction) {
    if let Some(inductance) = prediction.primary_inductance_h {
        let value = rounded(inductance.value, Unit::Henry, 3);
        line(
            out,
            "primary",
            &format!("{value}, {}", origin(inductance.origin)),
        );
    }
    if let Some(coupling) = prediction.coupling {
        let words = format!("{:.3}, {}", coupling.value, origin(coupling.origin));
        line(out, "coupling", &words);
    }
    if let Some(value_h) = sheet.measured.lead_inductance_h {
        let value = rounded(value_h, Unit::Henry, 3);
        line(out, "leads", &format!("{value}, measured"));
    }
}

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    build: &'a str,
    note: Option<&'a str>,
    earth: &'static str,
    resonance: ResonancePart<'a>,
    inductance_h: Option<f64>,
    inductance_origin: Option<&'static str>,
    capacitance_f: Option<f64>,
    capacitance_kind: Option<&'static str>,
    wire_length_m: f64,
    copper_mass_kg: f64,
    resistance_dc_20c_ohm: f64,
    resistance_at_resonance_ohm: Option<f64>,
    resistance_at_resonance_origin: Option<&'static str>,
    q: Option<f64>,
    q_origin: Option<&'static str>,
    primary_inductance_h: Option<f64>,
    primary_inductance_origin: Option<&'static str>,
    coupling: Option<f64>,
    coupling_origin: Option<&'static str>,
    lead_inductance_h: Option<f64>,
    assumptions: Vec<AssumptionPart<'a>>,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct ResonancePart<'a> {
    value_hz: f64,
    low_hz: f64,
    high_hz: f64,
    route: &'a str,
    band_rests_on: String,
}

#[derive(Serialize)]
struct AssumptionPart<'a> {
    key: &'a str,
    taken: &'a str,
}

/// A prediction as JSON: SI numbers under keys that name their unit, null for what is not known.
///
/// Numbers carry nine digits.
///
/// # Errors
/// That of the JSON writer, which these values give no cause for.
pub fn json(sheet: &Sheet, prediction: &Prediction) -> Result<String, serde_json::Error> {
    let found = &prediction.resonance;
    let value = |valued: Option<Valued>| valued.map(|valued| nine_digits(valued.value));
    let from = |valued: Option<Valued>| valued.map(|valued| origin(valued.origin));
    serde_json::to_string_pretty(&Document {
        schema: SCHEMA,
        build: &sheet.name,
        note: sheet.note.as_deref(),
        earth: sheet.earth.name(),
        resonance: ResonancePart {
            value_hz: nine_digits(found.value_hz),
            low_hz: nine_digits(found.low_hz),
            high_hz: nine_digits(found.high_hz),
            route: &found.route,
            band_rests_on: prediction.band.to_string(),
        },
        inductance_h: value(prediction.inductance_h),
        inductance_origin: from(prediction.inductance_h),
        capacitance_f: prediction.capacitance_f.map(nine_digits),
        capacitance_kind: prediction.capacitance_kind.map(|kind| match kind {
            CapacitanceKind::Tabulated => "tabulated-self-capacitance",
            CapacitanceKind::MeasuredResonance => "measured-resonance-capacitance",
            CapacitanceKind::FromFrequency => "from-measured-frequency",
        }),
        wire_length_m: nine_digits(prediction.wire_length_m),
        copper_mass_kg: nine_digits(prediction.copper_mass_kg),
        resistance_dc_20c_ohm: nine_digits(prediction.resistance_dc_ohm),
        resistance_at_resonance_ohm: value(prediction.resistance_ohm),
        resistance_at_resonance_origin: from(prediction.resistance_ohm),
        q: value(prediction.q),
        q_origin: from(prediction.q),
        primary_inductance_h: value(prediction.primary_inductance_h),
        primary_inductance_origin: from(prediction.primary_inductance_h),
        coupling: value(prediction.coupling),
        coupling_origin: from(prediction.coupling),
        lead_inductance_h: sheet.measured.lead_inductance_h.map(nine_digits),
        assumptions: sheet.assumptions.iter().map(part).collect(),
        notes: prediction.notes.iter().map(ToString::to_string).collect(),
    })
}

fn part(assumption: &Assumption) -> AssumptionPart<'_> {
    AssumptionPart {
        key: assumption.key,
        taken: &assumption.taken,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::predict::predict;
    use crate::sheet;

    const PILLAR: &str = include_str!("../../sample-data/glow-pillar.toml");
    const MEASURED: &str = include_str!("../../sample-data/glow-pillar-measured.toml");

    fn shown(toml: &str) -> String {
        let sheet = sheet::parse(toml).unwrap();
        text(&sheet, &predict(&sheet.coil_spec()).unwrap())
    }

    #[test]
    fn a_computed_build_is_told_with_its_band_and_what_it_rests_on() {
        insta::assert_snapshot!(shown(PILLAR), @r#"
        glow pillar
        an invented build of a science club: a lamp that lights beside a pillar of fine wire

        resonance     5.849 MHz, between 5.66 MHz and 6.59 MHz
                      by: handbook route (current sheet with Rosa's corrections, tabulated
                      self-capacitance)
                      the band rests on how far this route was from published coils, measured with the
                      foot earthed; none of them was of battery size
                      foot: earthed
        inductance    491.2 µH, computed, at high frequency
        capacitance   1.51 pF, tabulated self-capacitance, one end earthed
        wire          22.9 m, 6.40 g of copper
        resistance    12.6 Ω for direct current at 20 °C
                      78 Ω at resonance: skin effect and close turns
        Q             230, computed, unloaded
        primary       263 nH, computed
        coupling      0.203, computed

        taken for granted
          coil.over_enamel: 220 µm, from a table quoted from memory

        to know
          self-capacitance: the coil is 6.10 diameters long; computed fields confirm the table from 0.8 to
          5 only
          Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it
          coupling: for the same current in every turn; at resonance it is higher
          primary: its leads are not counted
        "#);
    }

    #[test]
    fn a_measured_build_says_measured_at_every_value() {
        insta::assert_snapshot!(shown(MEASURED), @r#"
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

        taken for granted
          coil.over_enamel: 220 µm, from a table quoted from memory
        "#);
    }

    #[test]
    fn a_floating_build_with_little_said_lists_what_was_taken_for_granted() {
        insta::assert_snapshot!(shown(SHORT), @r#"
        short

        resonance     16.72 MHz, between 16.2 MHz and 25.4 MHz
                      by: handbook route (current sheet with Rosa's corrections, tabulated
                      self-capacitance)
                      the band rests on how far this route was from published coils, measured with the
                      foot earthed, and for its upper edge on what a circuit that floats does by our own
                      computation, not by measurement
                      foot: held
        inductance    112.8 µH, computed, at high frequency
        capacitance   0.803 pF, tabulated self-capacitance, one end earthed
        wire          7.23 m, 2.08 g of copper
        resistance    3.84 Ω for direct current at 20 °C
                      42 Ω at resonance: skin effect and close turns
        Q             281, computed, unloaded
        primary       241 nH, computed
        coupling      0.248, computed

        taken for granted
          coil.film: single assumed
          coil.turn_pitch: close wound assumed, 225 µm a turn
          coil.turns: 178 from winding_length and the wire over its enamel
          primary.over_insulation: bare wire assumed
          primary.turn_pitch: close wound assumed, 1.00 mm a turn
          primary.position: flush with the secondary's foot assumed
          primary.collector_end: top-side assumed
          primary.sense: the same way round as the secondary assumed
          circuit.base_diode: led assumed
          battery.series: one battery assumed
          usual.plane: nothing near assumed

        to know
          Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it
          coupling: for the same current in every turn; at resonance it is higher
          primary: its leads are not counted
        "#);
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
        insta::assert_snapshot!(json(&sheet, &prediction).unwrap(), @r#"
        {
          "schema": 1,
          "build": "glow pillar",
          "note": "an invented build of a science club: a lamp that lights beside a pillar of fine wire",
          "earth": "earthed",
          "resonance": {
            "value_hz": 5849225.08,
            "low_hz": 5656200.65,
            "high_hz": 6592076.66,
            "route": "handbook route (current sheet with Rosa's corrections, tabulated self-capacitance)",
            "band_rests_on": "how far this route was from published coils, measured with the foot earthed; none of them was of battery size"
          },
          "inductance_h": 0.000491164093,
          "inductance_origin": "computed",
          "capacitance_f": 1.50736e-12,
          "capacitance_kind": "tabulated-self-capacitance",
          "wire_length_m": 22.9304848,
          "copper_mass_kg": 0.00640419976,
          "resistance_dc_20c_ohm": 12.5842059,
          "resistance_at_resonance_ohm": 78.3315283,
          "resistance_at_resonance_origin": "computed",
          "q": 230.445489,
          "q_origin": "computed",
          "primary_inductance_h": 2.63347494e-7,
          "primary_inductance_origin": "computed",
          "coupling": 0.202741516,
          "coupling_origin": "computed",
          "lead_inductance_h": null,
          "assumptions": [
            {
              "key": "coil.over_enamel",
              "taken": "220 µm, from a table quoted from memory"
            }
          ],
          "notes": [
            "self-capacitance: the coil is 6.10 diameters long; computed fields confirm the table from 0.8 to 5 only",
            "Q: the copper alone at 20 °C; former, enamel, lamp and transistor lower it",
            "coupling: for the same current in every turn; at resonance it is higher",
            "primary: its leads are not counted"
          ]
        }
        "#);
    }

    #[test]
    fn a_value_that_is_not_known_is_null() {
        let mut sheet = sheet::parse(PILLAR).unwrap();
        sheet.winding.turns = 40.0;
        let prediction = predict(&sheet.coil_spec()).unwrap();
        let document = json(&sheet, &prediction).unwrap();
        let value: serde_json::Value = serde_json::from_str(&document).unwrap();
        assert!(value["q"].is_null() && value["q_origin"].is_null());
        assert!(value["resonance"]["value_hz"].is_number());
    }
}
