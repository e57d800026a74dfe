//! The keys of a profile on how its numbers are written: their unit, and the sign between thousands.
//!
//! A file with any fault gives no profile, so the stand-in for a faulty value here is never used.

use crate::faults::Table;
use crate::instrument::file::keys::whole;
use crate::instrument::number::unit::{fits, unit_scale};
use crate::instrument::profile::Form;
use crate::instrument::profile::layout::ColumnLayout;
use crate::instrument::profile::unit_cell::UnitCell;
use crate::reading::Channel;
use crate::units::{Scale, Unit};

/// The sign between thousands, which can be no other sign of the line.
pub(in crate::instrument) fn thousands(
    top: &Table<'_>,
    decimal_sign: Option<char>,
    form: Option<&Form>,
) -> Option<char> {
    let entry = top.entry("thousands")?;
    let sign = entry.choice(&[(",", ','), (".", '.'), ("'", '\''), (" ", ' ')])?;
    let is_taken = match form {
        Some(Form::Columns(layout)) => layout.delimiter == sign,
        Some(Form::Answers) => sign == ',',
        _ => false,
    };
    if decimal_sign == Some(sign) || is_taken {
        entry.fault("expected another sign than the decimal sign and the one between values");
        return None;
    }
    Some(sign)
}

/// The scale of numbers without a unit of their own; `None` where they have it elsewhere, or after a fault.
pub(in crate::instrument) fn scale(
    table: &Table<'_>,
    channel: Option<Channel>,
    unit: Option<Unit>,
    has_unit: bool,
) -> Option<Scale> {
    let entry = table.entry("unit");
    let (channel, unit) = (channel?, unit?);
    let (example, of) = match unit {
        Unit::Second => ("ns", "a period"),
        unit => (unit.symbol(), channel.column()),
    };
    let Some(entry) = entry else {
        if !has_unit {
            table.fault(
                "no unit",
                &format!("expected the unit of the number, such as \"{example}\""),
            );
        }
        return None;
    };
    let scale = unit_scale(entry.text()?, unit);
    let scale = scale.filter(|scale| fits(*scale, channel).is_ok());
    if scale.is_none() {
        entry.fault(&format!("expected a unit of {of}, such as \"{example}\""));
    }
    scale
}

/// The cell of the unit, by its number or the name of its column; number 0 for none.
pub(in crate::instrument) fn unit_cell(table: &Table<'_>, form: Option<&Form>) -> Option<UnitCell> {
    let position = table
        .entry("unit_position")
        .map(|entry| whole::<usize>(&entry, 0, 1000));
    let name = table.entry("unit_name").map(|entry| entry.text());
    match (form?, position, name) {
        (_, None, None) => Some(UnitCell::Beside),
        (Form::Columns(_) | Form::Answers, Some(position), None) => match position? {
            0 => Some(UnitCell::Nowhere),
            position => Some(UnitCell::At(position)),
        },
        (Form::Columns(ColumnLayout { header: true, .. }), None, Some(name)) => {
            Some(UnitCell::Named(name?.to_owned()))
        }
        _ => {
            table.fault(
                "the place of its unit is not clear",
                "unit_position in columns and answers, or unit_name where a line of names comes first",
            );
            None
        }
    }
}

/// Whether the number is the period of the frequency that is meant.
pub(in crate::instrument) fn is_period(
    table: &Table<'_>,
    channel: Option<Channel>,
) -> Option<bool> {
    let Some(entry) = table.entry("quantity") else {
        return Some(false);
    };
    let is_period = entry.choice(&[("period", true), ("frequency", false)])?;
    if channel.is_some_and(|channel| channel != Channel::FrequencyHz) {
        entry.fault("only a frequency_hz has a quantity");
        return None;
    }
    Some(is_period)
}
