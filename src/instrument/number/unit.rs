//! Units as instruments print them.

use crate::instrument::refusal::Refusal;
use crate::reading::Channel;
use crate::units::{self, Scale, Unit};

/// The scale of a unit's text as instruments print it; `None` if it is another unit or could be two.
///
/// Beside the SI spellings, it accepts those of IEEE 488.2 in capitals (`KHZ`, `MHZ`: from memory) and small letters (`khz`,
/// `mv`). It also accepts a direct voltage or current (`VDC`, `mA DC`). `MV` is a millivolt in IEEE 488.2 and a megavolt in the
/// SI; `mHz` from a board is as likely meant as megahertz. A factor of 1e9 is not guessed: both are refused, and so is `mhz`.
pub(in crate::instrument) fn unit_scale(text: &str, unit: Unit) -> Option<Scale> {
    let symbol = match unit {
        Unit::Hertz | Unit::Volt | Unit::Ampere => unit.symbol(),
        Unit::Second => return second_scale(text),
        _ => return units::scale_of(text, unit),
    };
    let text = without_dc(text, unit);
    let prefix = split_symbol(text, symbol);
    match (unit, prefix.unwrap_or(text)) {
        (Unit::Hertz, "m") | (Unit::Volt | Unit::Ampere, "M") => None,
        // Without its unit, a prefix alone.
        _ if prefix.is_none() => units::scale_of(text, unit),
        (_, "") => Some(Scale::Exponent(0)),
        // The library reads a bare prefix as one of the unit; `V` is a unit itself, and `VV` none.
        (_, prefix) if PREFIXES.contains(&prefix) => units::scale_of(prefix, unit),
        _ => None,
    }
}

/// The scale of a time; of capitals only those that no other unit has (`S` is siemens too, `MS` could be megaseconds).
fn second_scale(text: &str) -> Option<Scale> {
    match text {
        "US" => Some(Scale::Exponent(-6)),
        "NS" => Some(Scale::Exponent(-9)),
        _ => units::scale_of(text, Unit::Second),
    }
}

/// The prefixes of units, in the spellings that instruments print.
pub(in crate::instrument) const PREFIXES: [&str; 10] =
    ["p", "n", "u", "\u{b5}", "\u{3bc}", "m", "k", "K", "M", "G"];

/// The letters before a unit's symbol, which is read in capitals and in small letters.
pub(in crate::instrument) fn split_symbol<'t>(text: &'t str, symbol: &str) -> Option<&'t str> {
    let at = text.len().checked_sub(symbol.len())?;
    let (prefix, name) = text.split_at_checked(at)?;
    name.eq_ignore_ascii_case(symbol).then_some(prefix)
}

/// Drops the mark of a direct voltage or current, which is meant anyway: `VDC`, `mV DC`.
fn without_dc(text: &str, unit: Unit) -> &str {
    let is_volt = matches!(unit, Unit::Volt | Unit::Ampere);
    let shorter = split_symbol(text, "DC").map(|head| head.trim_end_matches(BLANKS));
    shorter
        .filter(|head| is_volt && split_symbol(head, unit.symbol()).is_some())
        .unwrap_or(text)
}

/// Blanks between the parts of a line; a vertical tab or a form feed is damage.
pub(in crate::instrument) const BLANKS: [char; 2] = [' ', '\t'];

/// Whether a unit of the right quantity is one of this channel's.
///
/// # Errors
/// [`Refusal::NoBatteryUnit`].
pub(in crate::instrument) const fn fits(scale: Scale, channel: Channel) -> Result<(), Refusal> {
    Err(Refusal::NoBatteryUnit(match (channel, scale) {
        (Channel::BatteryV, Scale::Exponent(-12)) => "pV",
        (Channel::BatteryV, Scale::Exponent(-9)) => "nV",
        (Channel::BatteryV, Scale::Exponent(3)) => "kV",
        (Channel::BatteryV, Scale::Exponent(9)) => "GV",
        _ => return Ok(()),
    }))
}
