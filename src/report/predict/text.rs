//! A prediction as text.

use std::fmt::Write as _;

use crate::coil::band::{Part, Sensitivity};
use crate::coil::loss::LAYER_WORDS;
use crate::coil::prediction::{
    BandBasis, CLIP_F, CapacitanceKind, Handbook, Modelled, Origin, Prediction,
};
use crate::sheet::Sheet;
use crate::units::{Unit, rounded};

use crate::report::layout::{line, list, told, under, wrapped};

/// Returns a prediction as it is read at a bench. It lists every value with its origin, the resonance with its band and its
/// basis, then all that was assumed.
pub fn text(sheet: &Sheet, prediction: &Prediction) -> String {
    let mut out = format!("{}\n", sheet.name);
    if let Some(note) = &sheet.note {
        wrapped(&mut out, 0, note);
    }
    out.push('\n');
    resonance(&mut out, sheet, prediction);
    if let Some(model) = &prediction.modelled {
        band(&mut out, &model.parts);
        others(&mut out, model, prediction);
    }
    coil(&mut out, prediction);
    primary(&mut out, sheet, prediction);
    at_foot(&mut out, prediction);
    if let Some(model) = &prediction.modelled {
        sensitivities(&mut out, &model.sensitivities);
    }
    list(&mut out, "assumed", &sheet.assumptions);
    list(&mut out, "to know", &prediction.notes);
    out
}

pub(super) fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Computed => "computed",
        Origin::Measured => "measured",
    }
}

fn hertz(value_hz: f64, digits: usize) -> String {
    rounded(value_hz, Unit::Hertz, digits)
}

/// A share as `-1.3 %`, or `0` where that is all of it.
fn per_cent(share: f64) -> String {
    let text = format!("{:+.1} %", share * 100.0);
    if matches!(text.as_str(), "+0.0 %" | "-0.0 %") {
        "0".to_owned()
    } else {
        text
    }
}

fn resonance(out: &mut String, sheet: &Sheet, prediction: &Prediction) {
    let found = &prediction.resonance;
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

/// The parts of the band, each as if the others were none.
fn band(out: &mut String, parts: &[Part]) {
    for (index, part) in parts.iter().enumerate() {
        let name = if index == 0 { "the band" } else { "" };
        let (low, high) = (per_cent(part.low), per_cent(part.high));
        line(
            out,
            name,
            &format!("{:12} {low:>7} to {high:>7}", part.cause.name()),
        );
        under(out, &format!("  {}", part.words));
    }
}

/// The next resonance, the bare coil's own, and the handbook's value.
fn others(out: &mut String, model: &Modelled, prediction: &Prediction) {
    let next = format!("{}, {}", hertz(model.next_hz, 3), hertz(model.third_hz, 3));
    line(out, "next modes", &next);
    for (index, terminal) in model.terminals.iter().enumerate() {
        let name = if index == 0 { "coil alone" } else { "" };
        let value = hertz(terminal.frequency_hz, 4);
        let clipped = terminal.clipped_hz.map_or_else(String::new, |clipped_hz| {
            let clip = rounded(CLIP_F, Unit::Farad, 1);
            format!("; {} with a clip of {clip} on it", hertz(clipped_hz, 3))
        });
        told(
            out,
            name,
            &format!("{value}: {}{clipped}", terminal.how.words()),
        );
    }
    if let Some(found) = &model.handbook {
        handbook(out, found, prediction);
    }
}

fn handbook(out: &mut String, handbook: &Handbook, prediction: &Prediction) {
    let found = &handbook.resonance;
    let off = per_cent(found.value_hz / prediction.resonance.value_hz - 1.0);
    let value = hertz(found.value_hz, 4);
    line(
        out,
        "handbook",
        &format!("{value}, {off} from the resonance above"),
    );
    if let (Some(found_f), Some(CapacitanceKind::Resonance)) =
        (prediction.capacitance_f, prediction.capacitance_kind)
    {
        let table = rounded(handbook.capacitance_f, Unit::Farad, 3);
        let rings = rounded(found_f, Unit::Farad, 3);
        under(
            out,
            &format!(
                "its table has {table}, measured on coils on rods with their leads; in these surroundings the \
                 rings find {rings}"
            ),
        );
    }
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
    if let Some(model) = &prediction.modelled {
        for (value_f, words) in [
            (
                model.linear_f,
                "for a voltage that rises evenly to the top: what slow measurements show",
            ),
            (model.one_potential_f, "for all turns at one potential"),
        ] {
            under(
                out,
                &format!("{} {words}", rounded(value_f, Unit::Farad, 3)),
            );
        }
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
    if let Some(found) = prediction.turns_by_ohms {
        under(
            out,
            &format!(
                "the measured ohms ask for {:.0} turns, {:.0} to {:.0} as the wire may vary",
                found.turns, found.low, found.high
            ),
        );
    }
    if let Some(resistance) = prediction.resistance_ohm {
        let value = rounded(resistance.value, Unit::Ohm, 2);
        let how = match resistance.origin {
            Origin::Computed => prediction.crowding.words(),
            Origin::Measured => "from the measured Q",
        };
        under(out, &format!("{value} at resonance: {how}"));
        if let Some(layer_ohm) = prediction.layer_ohm {
            let layer = rounded(layer_ohm, Unit::Ohm, 2);
            let off = per_cent(layer_ohm / resistance.value - 1.0);
            under(out, &format!("{layer}, {off}, by {LAYER_WORDS}"));
        }
    }
    if let Some(q) = prediction.q {
        let how = match q.origin {
            Origin::Computed => "computed, unloaded",
            Origin::Measured => "measured",
        };
        line(out, "Q", &format!("{:.0}, {how}", q.value));
    } else if let Some(most) = prediction.q_most {
        let words = "unloaded: skin effect alone, and close turns lower it";
        line(out, "Q", &format!("below {most:.0}, {words}"));
    }
}

fn capacitance(kind: CapacitanceKind) -> &'static str {
    match kind {
        CapacitanceKind::Resonance => "resonates with that inductance, in these surroundings",
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

/// The coil as the circuit sees it.
fn at_foot(out: &mut String, prediction: &Prediction) {
    let Some(foot) = prediction.at_foot else {
        return;
    };
    let inductance = rounded(foot.inductance_h, Unit::Henry, 3);
    let capacitance = rounded(foot.capacitance_f, Unit::Farad, 3);
    line(
        out,
        "at the foot",
        &format!("the circuit sees {inductance} and {capacitance}"),
    );
    let mutual = rounded(foot.mutual_h, Unit::Henry, 3);
    under(
        out,
        &format!(
            "coupled {:.3} with the primary, {mutual} between them",
            foot.coupling
        ),
    );
    under(
        out,
        &format!(
            "foot to top {:.2} times the voltage across these two, {} for 10 mA",
            foot.top_factor,
            rounded(foot.top_v_per_a * 0.01, Unit::Volt, 2)
        ),
    );
    if foot.foot_share < 0.0 {
        under(
            out,
            &format!(
                "the foot swings against the top, {:.2} of its voltage",
                foot.foot_share
            ),
        );
    }
}

/// Writes by how much the resonance moves if a measure is off.
fn sensitivities(out: &mut String, rows: &[Sensitivity]) {
    // Writing to a String cannot fail, here and below.
    writeln!(
        out,
        "\nif this were 1 % larger, the resonance would move by"
    )
    .ok();
    for row in rows {
        // Adding zero makes a rounded -0 a plain one.
        let moved = (row.per_cent * 1e4).round() / 100.0 + 0.0;
        writeln!(out, "  {:30} {moved:+.2} %", row.measure.name()).ok();
    }
}
