//! Reads `[circuit]` and `[battery]`.

use crate::battery::Battery;
use crate::battery::kind::Kind;
use crate::circuit::Circuit;
use crate::circuit::parts::{BaseDiode, TransistorClass};
use crate::faults::{Entry, Table};
use crate::units::Unit;

use super::assumed::{Assumed, optional};
use super::known::{self, Known};

pub(super) fn circuit(table: &Table<'_>, assumed: &mut Assumed) -> Option<(Circuit, Known)> {
    let transistor = table
        .need(
            "transistor",
            "expected the transistor's class, such as \"power-to220\"",
        )
        .and_then(|entry| class(&entry));
    let bias_resistor_ohm = table
        .need(
            "bias_resistor",
            "expected the resistor from plus to base, such as \"22 kohm\"",
        )
        .and_then(|entry| entry.quantity(Unit::Ohm, 10.0..=10e6));
    let base_diode = optional(table.entry("base_diode"), |entry| {
        entry.choice(&BaseDiode::WORDS)
    });
    let decoupling_f = optional(table.entry("decoupling"), |entry| {
        entry.quantity(Unit::Farad, 1e-12..=0.1)
    });
    let gain = optional(table.entry("gain"), |entry| entry.number(1.0..=10_000.0));
    let transition_hz = optional(table.entry("transition_frequency"), |entry| {
        entry.quantity(Unit::Hertz, 1e5..=1e11)
    });
    let known = known::read(table);
    table.close();
    let (gain, transition_hz) = (gain?, transition_hz?);
    if gain.is_none() {
        assumed.note(
            "circuit.gain",
            "from the worst to the best of the transistor's class assumed",
        );
    }
    if transition_hz.is_none() {
        assumed.note(
            "circuit.transition_frequency",
            "from the worst to the best of the transistor's class assumed",
        );
    }
    let base_diode = base_diode?.unwrap_or_else(|| {
        assumed.note("circuit.base_diode", "led assumed");
        BaseDiode::Led
    });
    let circuit = Circuit {
        transistor: transistor?,
        bias_resistor_ohm: bias_resistor_ohm?,
        base_diode,
        decoupling_f: decoupling_f?,
        gain,
        transition_hz,
    };
    Some((circuit, known?))
}

/// Reads a transistor's class; a type number is answered with how to find its class.
fn class(entry: &Entry<'_>) -> Option<TransistorClass> {
    if entry.is_text() && entry.text().is_some_and(is_type_number) {
        entry.fault(&format!(
            "expected the class of that type, by its case and size: {}",
            TransistorClass::CASES
        ));
        return None;
    }
    entry.choice(&TransistorClass::WORDS)
}

/// Whether a text is letters and digits as on a transistor's case, and none of the classes.
fn is_type_number(text: &str) -> bool {
    let has = |test: fn(&char) -> bool| text.chars().any(|sign| test(&sign));
    has(char::is_ascii_digit)
        && has(char::is_ascii_alphabetic)
        && text.chars().all(|sign| sign.is_ascii_alphanumeric())
}

pub(super) fn battery(table: &Table<'_>, assumed: &mut Assumed) -> Option<Battery> {
    let kind = table
        .need("kind", "expected the battery's kind, such as \"alkaline\"")
        .and_then(|entry| entry.choice(&Kind::WORDS));
    let series = optional(table.entry("series"), |entry| {
        let series = entry.integer(1..=4)?;
        u32::try_from(series).ok()
    });
    let capacity_ah = optional(table.entry("capacity"), |entry| {
        entry.quantity(Unit::AmpereHour, 1e-3..=100.0)
    });
    let resistance_ohm = optional(table.entry("resistance"), |entry| {
        entry.quantity(Unit::Ohm, 0.0..=1000.0)
    });
    table.close();
    let series = series?.unwrap_or_else(|| {
        assumed.note("battery.series", "one battery assumed");
        1
    });
    Some(Battery {
        kind: kind?,
        series,
        capacity_ah: capacity_ah?,
        resistance_ohm: resistance_ohm?,
    })
}
