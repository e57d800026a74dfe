//! The keys of a waveform's scale: each a position in the preamble, a constant, or a question of its own.

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{byte_codes, usual, whole};
use crate::instrument::number::value::Multiplier;
use crate::instrument::waveform::codes::Codes;
use crate::instrument::waveform::rule::{Origin, ScaleRule, ScaleValue};
use crate::units::{self, Unit};

const EXPECTED: &str =
    "expected its position in the preamble, a constant in quotes or { ask = \"...\" }";

/// Reads the keys of the scale; `preamble` are its questions.
pub(in crate::instrument) fn scale(
    table: &Table<'_>,
    preamble: Option<Vec<String>>,
    codes: Option<Codes>,
) -> Option<ScaleRule> {
    let mut keys = Keys {
        has_preamble: preamble.as_ref().is_none_or(|asked| !asked.is_empty()),
        is_preamble_used: false,
        questions: Vec::new(),
    };
    let points = match table.entry("points") {
        Some(entry) => keys.value(&entry, None).map(Some),
        None => Some(None),
    };
    let interval = table
        .need("interval", EXPECTED)
        .and_then(|entry| keys.value(&entry, Some(Unit::Second)));
    // Numbers that are no converter's codes are volts, unless the profile says otherwise.
    let are_volts = codes.is_some_and(|codes| codes.range().is_none());
    let volts_per_code = if are_volts {
        table.entry("volts_per_code").map_or_else(
            || Some(ScaleValue::constant(1.0)),
            |entry| keys.value(&entry, Some(Unit::Volt)),
        )
    } else {
        table
            .need("volts_per_code", EXPECTED)
            .and_then(|entry| keys.value(&entry, Some(Unit::Volt)))
    };
    let zero_code = keys.sum(table.entry("zero_code"), None);
    let added_volts = keys.sum(table.entry("added_volts"), Some(Unit::Volt));
    let preamble = preamble?;
    if !preamble.is_empty() && !keys.is_preamble_used {
        table.fault(
            "no value is taken from the preamble",
            "leave preamble out, or say where a value stands in it",
        );
    }
    Some(ScaleRule {
        preamble,
        questions: keys.questions,
        points: points?,
        interval: interval?,
        volts_per_code: volts_per_code?,
        zero_code: zero_code?,
        added_volts: added_volts?,
    })
}

/// The values of the keys read so far.
struct Keys {
    has_preamble: bool,
    is_preamble_used: bool,
    /// Questions beside the preamble, each once.
    questions: Vec<String>,
}

impl Keys {
    /// A number that may be the sum of several.
    fn sum(&mut self, entry: Option<Entry<'_>>, unit: Option<Unit>) -> Option<Vec<ScaleValue>> {
        let entries = entry.map(Entry::each).unwrap_or_default();
        let values: Vec<Option<ScaleValue>> = entries
            .iter()
            .map(|entry| self.value(entry, unit))
            .collect();
        values.into_iter().collect()
    }

    fn value(&mut self, entry: &Entry<'_>, unit: Option<Unit>) -> Option<ScaleValue> {
        if entry.is_text() {
            constant(entry, unit).map(ScaleValue::constant)
        } else if entry.is_table() {
            self.taken(entry)
        } else {
            self.is_preamble_used = true;
            let position = whole(entry, 1, 1000)?;
            self.in_preamble(entry, position).map(ScaleValue::at)
        }
    }

    fn in_preamble(&mut self, entry: &Entry<'_>, position: usize) -> Option<Origin> {
        if !self.has_preamble {
            entry.fault("expected a constant in quotes or { ask = \"...\" }: there is no preamble to count in");
            return None;
        }
        self.is_preamble_used = true;
        Some(Origin::Preamble(position))
    }

    /// `{ ask = "TDIV?", position = 1, factor = 0.02, reciprocal = false }`, or `offset` and `form` instead of `ask`.
    fn taken(&mut self, entry: &Entry<'_>) -> Option<ScaleValue> {
        let table = entry.table()?;
        let ask = table.entry("ask").map(|entry| entry.text());
        let position = table
            .entry("position")
            .map(|entry| whole::<usize>(&entry, 1, 1000));
        let offset = table
            .entry("offset")
            .map(|entry| whole::<usize>(&entry, 0, 1_000_000));
        let form = table.entry("form").map(|entry| byte_codes(&entry));
        let factor = usual(Some(&table), "factor", 1.0, |entry| {
            let factor = entry.number(-1e12..=1e12)?;
            if factor.abs() < f64::MIN_POSITIVE {
                entry.fault("expected a number other than 0");
                return None;
            }
            Some(factor)
        });
        let is_rate = usual(Some(&table), "reciprocal", false, Entry::flag);
        table.close();
        let origin = match (ask, position, offset, form) {
            (Some(ask), position, None, None) => {
                let ask = ask?;
                let position = position.unwrap_or(Some(1))?;
                let known = self.questions.iter().position(|known| known == ask);
                let question = known.unwrap_or_else(|| {
                    self.questions.push(ask.to_owned());
                    self.questions.len() - 1
                });
                Origin::Answer { question, position }
            }
            (None, Some(position), None, None) => self.in_preamble(entry, position?)?,
            (None, None, Some(offset), Some(codes)) => Origin::Block {
                offset: offset?,
                codes: codes?,
            },
            _ => {
                table.fault(
                    "it is not clear where the number stands",
                    "ask (and position), or position in the preamble, or offset and form in the block",
                );
                return None;
            }
        };
        Some(ScaleValue {
            origin,
            is_rate: is_rate?,
            multiplier: Multiplier::new(factor?),
        })
    }
}

/// A number in quotes, with its unit where it has one.
fn constant(entry: &Entry<'_>, unit: Option<Unit>) -> Option<f64> {
    if let Some(unit) = unit {
        return entry.quantity(unit, -1e12..=1e12);
    }
    let (mantissa, exponent, rest) = units::split_number(entry.text()?.trim()).or_else(|| {
        entry.fault("expected a number in quotes, such as \"128\"");
        None
    })?;
    let value = units::with_exponent(mantissa, exponent);
    if !rest.is_empty() || !value.is_finite() {
        entry.fault("expected a number in quotes and nothing else, such as \"128\"");
        return None;
    }
    Some(value)
}
