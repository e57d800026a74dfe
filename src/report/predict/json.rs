//! A prediction for other programs.

use crate::coil::band::{Part, Sensitivity};
use crate::coil::field::Around;
use crate::coil::pickup::Signal;
use crate::coil::prediction::{AtFoot, CapacitanceKind, Prediction, Terminal, Valued};
use crate::sheet::Sheet;

use super::assumption::AssumptionPart;
use super::field::FieldPart;
use super::pickup::PickUpPart;
use super::start::{Start, StartPart};
use super::text::origin;
use crate::report::form::{Form, part};

/// The parts of a prediction that are computed if they are asked for, or if they can be.
#[derive(Debug, Clone, Copy, Default)]
pub struct Asked<'a> {
    /// Whether the build starts and how it runs.
    pub start: Option<&'a Start<'a>>,
    /// The field around the coil.
    pub around: Option<&'a Around>,
    /// The signal of a pick-up.
    pub signal: Option<&'a Signal>,
}

fn value(valued: Option<Valued>) -> Option<f64> {
    valued.map(|valued| valued.value)
}

fn from(valued: Option<Valued>) -> Option<&'static str> {
    valued.map(|valued| origin(valued.origin))
}

part! {
    /// A prediction: SI numbers under keys that name their unit, null for what is not known.
    ///
    /// `start` is null where the circuit was not computed, `field` and `pickup` where they were not asked for.
    pub struct Json<'a>(sheet: &'a Sheet, found: &'a Prediction, asked: Asked<'a>) with {
        let model = found.modelled.as_ref();
    } {
        build: &'a str = &sheet.name,
        note: Option<&'a str> = sheet.note.as_deref(),
        earth: &'static str = sheet.earth.name(),
        resonance: ResonancePart<'a> = ResonancePart::new(found),
        next_hz: Option<f64> = model.map(|model| model.next_hz),
        third_hz: Option<f64> = model.map(|model| model.third_hz),
        handbook_hz: Option<f64> =
            model.and_then(|model| model.handbook.as_ref()).map(|handbook| handbook.resonance.value_hz),
        coil_alone: Vec<TerminalPart> = list(model.map(|model| &model.terminals), TerminalPart::new),
        inductance_h: Option<f64> = value(found.inductance_h),
        inductance_origin: Option<&'static str> = from(found.inductance_h),
        capacitance_f: Option<f64> = found.capacitance_f,
        capacitance_kind: Option<&'static str> = found.capacitance_kind.map(|kind| match kind {
            CapacitanceKind::Resonance => "resonance-capacitance",
            CapacitanceKind::MeasuredResonance => "measured-resonance-capacitance",
            CapacitanceKind::FromFrequency => "from-measured-frequency",
        }),
        linear_voltage_capacitance_f: Option<f64> = model.map(|model| model.linear_f),
        one_potential_capacitance_f: Option<f64> = model.map(|model| model.one_potential_f),
        at_foot: Option<FootPart> = found.at_foot.as_ref().map(FootPart::new),
        wire_length_m: f64 = found.wire_length_m,
        copper_mass_kg: f64 = found.copper_mass_kg,
        resistance_dc_20c_ohm: f64 = found.resistance_dc_ohm,
        turns_by_measured_ohms: Option<f64> = found.turns_by_ohms.map(|by_ohms| by_ohms.turns),
        resistance_at_resonance_ohm: Option<f64> = value(found.resistance_ohm),
        resistance_at_resonance_origin: Option<&'static str> = from(found.resistance_ohm),
        resistance_at_resonance_by_layer_ohm: Option<f64> = found.layer_ohm,
        q: Option<f64> = value(found.q),
        q_below: Option<f64> = found.q_most,
        q_origin: Option<&'static str> = from(found.q),
        primary_inductance_h: Option<f64> = value(found.primary_inductance_h),
        primary_inductance_origin: Option<&'static str> = from(found.primary_inductance_h),
        coupling: Option<f64> = value(found.coupling),
        coupling_origin: Option<&'static str> = from(found.coupling),
        lead_inductance_h: Option<f64> = sheet.measured.lead_inductance_h,
        start: Option<StartPart<'a>> = asked.start.map(StartPart::new),
        field: Option<FieldPart> = asked.around.map(FieldPart::new),
        pickup: Option<PickUpPart> = asked.signal.map(PickUpPart::new),
        sensitivities: Vec<SensitivityPart> = list(model.map(|model| &model.sensitivities), SensitivityPart::new),
        assumptions: Vec<AssumptionPart<'a>> = sheet.assumptions.iter().map(AssumptionPart::new).collect(),
        notes: Vec<String> = found.notes.iter().map(ToString::to_string).collect(),
    }
}

impl Form for Json<'_> {}

part! {
    struct ResonancePart<'a>(prediction: &'a Prediction) with {
        let found = &prediction.resonance;
    } {
        value_hz: f64 = found.value_hz,
        low_hz: f64 = found.low_hz,
        high_hz: f64 = found.high_hz,
        route: String = found.route.to_string(),
        band_rests_on: String = prediction.band.to_string(),
        parts: Vec<BandPart<'a>> = list(prediction.modelled.as_ref().map(|model| &model.parts), BandPart::new),
    }
}

/// The form of each item of a list that may be missing.
fn list<'i, T, F>(items: Option<&'i Vec<T>>, form: impl Fn(&'i T) -> F) -> Vec<F> {
    items.into_iter().flatten().map(form).collect()
}

/// A share to a millionth: finer digits are the last bit of a difference.
fn six_decimals(share: f64) -> f64 {
    (share * 1e6).round() / 1e6
}

part! {
    struct BandPart<'a>(part: &'a Part) {
        cause: &'static str = part.cause.name(),
        low_ratio: f64 = six_decimals(part.low),
        high_ratio: f64 = six_decimals(part.high),
        varied: &'a str = &part.words,
    }
}

part! {
    struct TerminalPart(terminal: &Terminal) {
        measured_with: &'static str = terminal.how.words(),
        frequency_hz: f64 = terminal.frequency_hz,
        with_1pf_on_open_end_hz: Option<f64> = terminal.clipped_hz,
    }
}

part! {
    struct FootPart(foot: &AtFoot) {
        inductance_h: f64 = foot.inductance_h,
        capacitance_f: f64 = foot.capacitance_f,
        mutual_h: f64 = foot.mutual_h,
        coupling: f64 = foot.coupling,
        top_factor: f64 = foot.top_factor,
        top_v_per_a: f64 = foot.top_v_per_a,
        foot_over_top: f64 = six_decimals(foot.foot_share),
    }
}

part! {
    struct SensitivityPart(row: &Sensitivity) {
        measure: &'static str = row.measure.name(),
        resonance_ratio_per_percent: f64 = six_decimals(row.per_cent),
    }
}
