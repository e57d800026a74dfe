//! A prediction as JSON (schema 1).

use serde::Serialize;

use crate::coil::band::{Part, Sensitivity};
use crate::coil::field::Around;
use crate::coil::pickup::Signal;
use crate::coil::prediction::{AtFoot, CapacitanceKind, Prediction, Terminal, Valued};
use crate::sheet::Sheet;

use super::assumption::{AssumptionPart, assumption};
use super::field;
use super::pickup;
use super::start::{self, Start};
use super::text::origin;
use crate::report::digits::nine_digits;

/// The form of the JSON.
const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    build: &'a str,
    note: Option<&'a str>,
    earth: &'static str,
    resonance: ResonancePart<'a>,
    next_hz: Option<f64>,
    third_hz: Option<f64>,
    handbook_hz: Option<f64>,
    coil_alone: Vec<TerminalPart>,
    inductance_h: Option<f64>,
    inductance_origin: Option<&'static str>,
    capacitance_f: Option<f64>,
    capacitance_kind: Option<&'static str>,
    linear_voltage_capacitance_f: Option<f64>,
    one_potential_capacitance_f: Option<f64>,
    at_foot: Option<FootPart>,
    wire_length_m: f64,
    copper_mass_kg: f64,
    resistance_dc_20c_ohm: f64,
    turns_by_measured_ohms: Option<f64>,
    resistance_at_resonance_ohm: Option<f64>,
    resistance_at_resonance_origin: Option<&'static str>,
    resistance_at_resonance_by_layer_ohm: Option<f64>,
    q: Option<f64>,
    q_below: Option<f64>,
    q_origin: Option<&'static str>,
    primary_inductance_h: Option<f64>,
    primary_inductance_origin: Option<&'static str>,
    coupling: Option<f64>,
    coupling_origin: Option<&'static str>,
    lead_inductance_h: Option<f64>,
    start: Option<serde_json::Value>,
    field: Option<serde_json::Value>,
    pickup: Option<serde_json::Value>,
    sensitivities: Vec<SensitivityPart>,
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
    parts: Vec<BandPart<'a>>,
}

#[derive(Serialize)]
struct BandPart<'a> {
    cause: &'static str,
    low_ratio: f64,
    high_ratio: f64,
    varied: &'a str,
}

#[derive(Serialize)]
struct TerminalPart {
    measured_with: &'static str,
    frequency_hz: f64,
    with_1pf_on_open_end_hz: Option<f64>,
}

#[derive(Serialize)]
struct FootPart {
    inductance_h: f64,
    capacitance_f: f64,
    mutual_h: f64,
    coupling: f64,
    top_factor: f64,
    top_v_per_a: f64,
    foot_over_top: f64,
}

#[derive(Serialize)]
struct SensitivityPart {
    measure: &'static str,
    resonance_ratio_per_percent: f64,
}

/// The parts of a prediction that are computed if they are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Asked<'a> {
    /// The field around the coil.
    pub around: Option<&'a Around>,
    /// What a pick-up gives.
    pub signal: Option<&'a Signal>,
}

/// A prediction as JSON: SI numbers under keys that name their unit, null for what is not known.
///
/// Numbers carry nine digits. `start` is null where the circuit was not computed, `field` and `pickup` where they were not asked for.
///
/// # Errors
/// That of the JSON writer, which these values give no cause for.
pub fn json(
    sheet: &Sheet,
    prediction: &Prediction,
    start: Option<&Start<'_>>,
    asked: &Asked<'_>,
) -> Result<String, serde_json::Error> {
    let value = |valued: Option<Valued>| valued.map(|valued| nine_digits(valued.value));
    let from = |valued: Option<Valued>| valued.map(|valued| origin(valued.origin));
    let model = prediction.modelled.as_ref();
    let handbook = model.and_then(|model| model.handbook.as_ref());
    serde_json::to_string_pretty(&Document {
        schema: SCHEMA,
        build: &sheet.name,
        note: sheet.note.as_deref(),
        earth: sheet.earth.name(),
        resonance: resonance(prediction),
        next_hz: model.map(|model| nine_digits(model.next_hz)),
        third_hz: model.map(|model| nine_digits(model.third_hz)),
        handbook_hz: handbook.map(|found| nine_digits(found.resonance.value_hz)),
        coil_alone: list(model.map(|model| &model.terminals), terminal),
        inductance_h: value(prediction.inductance_h),
        inductance_origin: from(prediction.inductance_h),
        capacitance_f: prediction.capacitance_f.map(nine_digits),
        capacitance_kind: prediction.capacitance_kind.map(|kind| match kind {
            CapacitanceKind::Resonance => "resonance-capacitance",
            CapacitanceKind::MeasuredResonance => "measured-resonance-capacitance",
            CapacitanceKind::FromFrequency => "from-measured-frequency",
        }),
        linear_voltage_capacitance_f: model.map(|model| nine_digits(model.linear_f)),
        one_potential_capacitance_f: model.map(|model| nine_digits(model.one_potential_f)),
        at_foot: prediction.at_foot.map(|foot| foot_part(&foot)),
        wire_length_m: nine_digits(prediction.wire_length_m),
        copper_mass_kg: nine_digits(prediction.copper_mass_kg),
        resistance_dc_20c_ohm: nine_digits(prediction.resistance_dc_ohm),
        turns_by_measured_ohms: prediction
            .turns_by_ohms
            .map(|found| nine_digits(found.turns)),
        resistance_at_resonance_ohm: value(prediction.resistance_ohm),
        resistance_at_resonance_origin: from(prediction.resistance_ohm),
        resistance_at_resonance_by_layer_ohm: prediction.layer_ohm.map(nine_digits),
        q: value(prediction.q),
        q_below: prediction.q_most.map(nine_digits),
        q_origin: from(prediction.q),
        primary_inductance_h: value(prediction.primary_inductance_h),
        primary_inductance_origin: from(prediction.primary_inductance_h),
        coupling: value(prediction.coupling),
        coupling_origin: from(prediction.coupling),
        lead_inductance_h: sheet.measured.lead_inductance_h.map(nine_digits),
        start: start.map(start::json).transpose()?,
        field: asked.around.map(field::json),
        pickup: asked.signal.map(pickup::json),
        sensitivities: list(model.map(|model| &model.sensitivities), sensitivity),
        assumptions: sheet.assumptions.iter().map(assumption).collect(),
        notes: prediction.notes.iter().map(ToString::to_string).collect(),
    })
}

fn resonance(prediction: &Prediction) -> ResonancePart<'_> {
    let found = &prediction.resonance;
    ResonancePart {
        value_hz: nine_digits(found.value_hz),
        low_hz: nine_digits(found.low_hz),
        high_hz: nine_digits(found.high_hz),
        route: &found.route,
        band_rests_on: prediction.band.to_string(),
        parts: list(prediction.modelled.as_ref().map(|model| &model.parts), band),
    }
}

/// The form of each item of a list that may be missing.
fn list<'i, T, F>(items: Option<&'i Vec<T>>, form: impl Fn(&'i T) -> F) -> Vec<F> {
    items.into_iter().flatten().map(form).collect()
}

fn band(part: &Part) -> BandPart<'_> {
    BandPart {
        cause: part.cause.name(),
        low_ratio: six_decimals(part.low),
        high_ratio: six_decimals(part.high),
        varied: &part.words,
    }
}

/// A share to a millionth: what is finer is the last bit of a difference.
fn six_decimals(share: f64) -> f64 {
    // Adding zero makes a rounded -0 a plain one.
    (share * 1e6).round() / 1e6 + 0.0
}

fn terminal(terminal: &Terminal) -> TerminalPart {
    TerminalPart {
        measured_with: terminal.how.words(),
        frequency_hz: nine_digits(terminal.frequency_hz),
        with_1pf_on_open_end_hz: terminal.clipped_hz.map(nine_digits),
    }
}

fn foot_part(foot: &AtFoot) -> FootPart {
    FootPart {
        inductance_h: nine_digits(foot.inductance_h),
        capacitance_f: nine_digits(foot.capacitance_f),
        mutual_h: nine_digits(foot.mutual_h),
        coupling: nine_digits(foot.coupling),
        top_factor: nine_digits(foot.top_factor),
        top_v_per_a: nine_digits(foot.top_v_per_a),
        foot_over_top: six_decimals(foot.foot_share),
    }
}

fn sensitivity(row: &Sensitivity) -> SensitivityPart {
    SensitivityPart {
        measure: row.measure.name(),
        resonance_ratio_per_percent: six_decimals(row.per_cent),
    }
}
