//! The values that a sheet leaves open, as the comments of a written one.

use crate::coil::film::Film;
use crate::sheet::{Assumption, Sheet};

use super::fill::{Filled, State};
use super::millimetres;

/// Returns a comment for each key that the sheet's reader assumes.
pub(super) fn filled(sheet: &Sheet) -> impl Iterator<Item = Filled> + '_ {
    sheet.assumptions.iter().map(|assumption| {
        let value = value(sheet, assumption.key);
        let note = match value {
            Some(_) => "assumed".to_owned(),
            None => in_words(assumption),
        };
        Filled {
            key: assumption.key,
            value,
            state: State::Assumed,
            note,
        }
    })
}

fn in_words(assumption: &Assumption) -> String {
    let words = assumption.taken.trim_end_matches(" assumed");
    format!("assumed: {words}")
}

/// The value that is assumed, as TOML; `None` where it is not one value.
fn value(sheet: &Sheet, key: &str) -> Option<String> {
    let length = |metres| format!("\"{}\"", millimetres(metres));
    let winding = &sheet.winding;
    let pitch_m = sheet.winding_length_m() / sheet.turns();
    let value = match key {
        "coil.film" => format!("\"{}\"", Film::usual(winding.gauge).name()),
        "coil.over_enamel" => length(winding.over_enamel.middle_m()),
        "coil.turns" => format!("{:.0}", sheet.turns()),
        "coil.turn_pitch" => length(pitch_m),
        "coil.diameter_tolerance" => length(sheet.tolerance.diameter_m),
        "coil.length_tolerance" => length(sheet.tolerance.length_m),
        "coil.turns_tolerance" => sheet.tolerance.turns.to_string(),
        "primary.over_insulation" => length(sheet.primary.gauge.bare_m()),
        "primary.turn_pitch" => length(sheet.primary.pitch_m),
        "primary.position" => "\"0 mm\"".to_owned(),
        "primary.collector_end" => "\"top-side\"".to_owned(),
        "primary.sense" => "\"right\"".to_owned(),
        "circuit.base_diode" => "\"led\"".to_owned(),
        "battery.series" => "1".to_owned(),
        "usual.plane" => "\"none\"".to_owned(),
        "usual.circuit_below" => length(sheet.surroundings.circuit_depth_m()),
        _ => return None,
    };
    Some(value)
}
