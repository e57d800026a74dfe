//! Units as instruments print them, and which cell of a line is the unit of which number.

use std::borrow::Cow;

use crate::instrument::number::unit::{BLANKS, PREFIXES, fits, split_symbol, unit_scale};
use crate::instrument::profile::ChannelRule;
use crate::instrument::profile::unit_cell::UnitAt;
use crate::instrument::refusal::Refusal;
use crate::units::{self, Scale, Unit};

/// A value's cell, and the cell of its unit as far as it is known; both counted from 0.
#[derive(Debug, Clone, Copy)]
pub(in crate::instrument) struct Placed<'r> {
    pub(in crate::instrument) index: usize,
    pub(in crate::instrument) unit: UnitAt,
    pub(in crate::instrument) rule: &'r ChannelRule,
}

/// The unit that the cells beside a number give it: its scale, nothing, or the reason why the number can't be taken.
pub(in crate::instrument) type Beside = Result<Option<Scale>, Refusal>;

/// Returns the unit of a cell that is nothing but a unit of this quantity; `None` for any other cell.
fn unit_in(text: &str, unit: Unit) -> Option<Result<Scale, Refusal>> {
    let is_word = text.starts_with(|c: char| c.is_alphabetic() || c == '°');
    if !is_word {
        return None;
    }
    if PREFIXES.contains(&text) && unit != Unit::Celsius {
        return Some(Err(Refusal::LonePrefix));
    }
    if let Some(scale) = unit_scale(text, unit) {
        return Some(Ok(scale));
    }
    is_of_another_kind(text, unit).then_some(Err(Refusal::TwoMeanings))
}

/// Whether it is a unit of the quantity that cannot be taken: `mHz`, `MV`, `VAC`, `mVpp`, a temperature in kelvins.
fn is_of_another_kind(text: &str, unit: Unit) -> bool {
    const KINDS: [&str; 6] = ["AC", "PP", "P-P", "RMS", "PK", "DC"];
    if unit == Unit::Celsius {
        return matches!(text, "F" | "°F" | "degF" | "K");
    }
    let plain = KINDS
        .iter()
        .find_map(|kind| split_symbol(text, kind))
        .map_or(text, |head| head.trim_end_matches(BLANKS));
    let prefix = split_symbol(plain, unit.symbol());
    prefix.is_some_and(|prefix| prefix.is_empty() || PREFIXES.contains(&prefix))
}

/// The units that stand in cells of their own beside some values of one line, in the order of the values.
///
/// A value in a cell whose unit is beside it, as in `62.3 kHz` cut at the blank, has that unit. It has it whatever the profile
/// says: an instrument that chooses its range itself changes it. The text behind the number is tried first, then the text before
/// it, if that is not the unit of the number before.
pub(in crate::instrument) fn units_beside<T: AsRef<str>>(
    cells: &[T],
    values: &[Placed<'_>],
) -> Vec<Beside> {
    let mut found = vec![Ok(None); values.len()];
    let mut order: Vec<(usize, &Placed<'_>)> = values.iter().enumerate().collect();
    order.sort_by_key(|(_, value)| value.index);
    let mut row = Cells {
        texts: cells,
        values,
        used: Vec::new(),
    };
    for (place, value) in order {
        if let Some(found) = found.get_mut(place) {
            *found = row.unit_of(value);
        }
    }
    found
}

/// A line's cells, and which of them are known to be units of which value.
struct Cells<'c, T> {
    texts: &'c [T],
    values: &'c [Placed<'c>],
    /// Cells of units, each with the cell of its value.
    used: Vec<(usize, usize)>,
}

impl<T: AsRef<str>> Cells<'_, T> {
    fn text(&self, index: Option<usize>) -> &str {
        let cell = index.and_then(|index| self.texts.get(index));
        cell.map_or("", |cell| cell.as_ref().trim_matches(BLANKS))
    }

    fn unit_of(&mut self, value: &Placed<'_>) -> Beside {
        let unit = value.rule.number.unit;
        let at = match value.unit {
            UnitAt::Nowhere => return Ok(None),
            UnitAt::Cell(at) => {
                let scale = unit_scale(self.text(Some(at)), unit).ok_or(Refusal::NoUnitInCell)?;
                self.used.push((at, value.index));
                return fitting(scale, value);
            }
            UnitAt::Beside => self.beside(value)?,
        };
        let Some(at) = at else {
            return if self.is_of_another(value) {
                Err(Refusal::OtherQuantity)
            } else {
                Ok(None)
            };
        };
        self.used.push((at, value.index));
        match unit_in(self.text(Some(at)), unit) {
            Some(Ok(scale)) => fitting(scale, value),
            Some(Err(why)) => Err(why),
            None => Ok(None),
        }
    }

    /// Whether the cell behind a value is a unit of another quantity, as in `22.6 C` where volts are expected.
    fn is_of_another(&self, value: &Placed<'_>) -> bool {
        let at = value.index + 1;
        let is_value = self.values.iter().any(|other| other.index == at);
        let is_used = self.used.iter().any(|(used, _)| *used == at);
        let kinds = [
            Unit::Hertz,
            Unit::Volt,
            Unit::Ampere,
            Unit::Celsius,
            Unit::Second,
        ];
        let mut others = kinds
            .into_iter()
            .filter(|unit| *unit != value.rule.number.unit);
        !is_value
            && !is_used
            && others.any(|unit| matches!(unit_in(self.text(Some(at)), unit), Some(Ok(_))))
    }

    /// Which cell beside a value is its unit.
    fn beside(&self, value: &Placed<'_>) -> Result<Option<usize>, Refusal> {
        let unit = value.rule.number.unit;
        let is_free = |at: &usize| {
            let is_used = self.used.iter().any(|(used, _)| used == at);
            !is_used && self.values.iter().all(|other| other.index != *at)
        };
        let said = |at: Option<usize>| unit_in(self.text(at.filter(is_free)), unit);
        let (behind, before) = (Some(value.index + 1), value.index.checked_sub(1));
        // A lone letter before a number is no prefix of it.
        let is_before = said(before).is_some_and(|said| said != Err(Refusal::LonePrefix));
        let is_behind = said(behind).is_some();
        if !is_before {
            return Ok(behind.filter(|_| is_behind));
        }
        let number = before.and_then(|before| before.checked_sub(1));
        let is_number = units::split_number(self.text(number)).is_some();
        let has_own = number.is_some_and(|at| self.used.iter().any(|(_, of)| *of == at));
        match (is_number && !has_own, is_behind) {
            // Units first, `kHz,62.3`.
            (false, _) => Ok(before),
            (true, true) => Ok(behind),
            // The unit of the number before it, most likely; if both have the same, it does not matter.
            (true, false) if said(before).and_then(Result::ok) == value.rule.number.scale => {
                Ok(None)
            }
            (true, false) => Err(Refusal::WhoseUnit),
        }
    }
}

fn fitting(scale: Scale, value: &Placed<'_>) -> Beside {
    fits(scale, value.rule.channel)?;
    Ok(Some(scale))
}

/// A rule with the unit that stands beside its value, and why a number without a unit of its own can't be taken.
pub(in crate::instrument) fn with_unit_beside(
    rule: &ChannelRule,
    beside: Beside,
) -> (Cow<'_, ChannelRule>, Option<Refusal>) {
    let (scale, refusal) = match beside {
        Ok(None) => return (Cow::Borrowed(rule), None),
        Ok(scale) => (scale, None),
        Err(why) => (None, Some(why)),
    };
    let mut rule = rule.clone();
    rule.number.scale = scale;
    (Cow::Owned(rule), refusal)
}

#[cfg(test)]
mod tests;
