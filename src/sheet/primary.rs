//! Reads `[primary]`: the few turns at the secondary's foot.

use crate::coil::former::Former;
use crate::coil::winding::{CollectorEnd, Cylinder, Lay, Primary, Sense, Shape, Winding};
use crate::faults::{Entry, Table};
use crate::units::{Unit, rounded};

use super::assumed::{Assumed, optional};
use super::winding::{Diameter, SENSES, Wound, diameter, gauge};

const ENDS: [(&str, CollectorEnd); 2] = [
    ("foot-side", CollectorEnd::FootSide),
    ("top-side", CollectorEnd::TopSide),
];

pub(super) fn read(
    table: &Table<'_>,
    coil: Option<&Wound>,
    assumed: &mut Assumed,
) -> Option<Primary> {
    let secondary = coil.map(|coil| &coil.winding);
    let turns = table
        .need("turns", "expected the primary's number of turns")
        .and_then(|entry| entry.integer(1..=100))
        .and_then(|turns| u32::try_from(turns).ok());
    let diameter = diameter(table);
    let wire = table
        .need(
            "wire",
            "expected the bare wire, such as \"1 mm\" or \"18 AWG\"",
        )
        .and_then(|entry| gauge(&entry));
    let length =
        |key, range| optional(table.entry(key), |entry| entry.quantity(Unit::Metre, range));
    let insulation_m = length("over_insulation", 10e-6..=20e-3);
    let pitch_m = length("turn_pitch", 10e-6..=50e-3);
    let position_m = optional(table.entry("position"), |entry| {
        let position_m = entry.quantity(Unit::Metre, -0.5..=1.0)?;
        is_at_coil(entry, position_m, secondary).then_some(position_m)
    });
    let collector_end = optional(table.entry("collector_end"), |entry| entry.choice(&ENDS));
    let sense = optional(table.entry("sense"), |entry| entry.choice(&SENSES));
    table.close();

    let gauge = wire?;
    let diameter = diameter?;
    let outer_m = insulation_m?.unwrap_or_else(|| {
        assumed.note("primary.over_insulation", "bare wire assumed");
        gauge.bare_m()
    });
    let pitch_m = pitch_m?.unwrap_or_else(|| {
        let pitch = rounded(outer_m, Unit::Metre, 3);
        assumed.note(
            "primary.turn_pitch",
            format!("close wound assumed, {pitch} a turn"),
        );
        outer_m
    });
    let position_m = position_m?.unwrap_or_else(|| {
        assumed.note(
            "primary.position",
            "flush with the secondary's foot assumed",
        );
        0.0
    });
    let collector_end = collector_end?.unwrap_or_else(|| {
        assumed.note("primary.collector_end", "top-side assumed");
        CollectorEnd::TopSide
    });
    let sense = sense?.unwrap_or_else(|| {
        assumed.note(
            "primary.sense",
            "the same way round as the secondary assumed",
        );
        secondary.map_or(Sense::Right, |winding| winding.sense)
    });
    let primary = Primary {
        turns: turns?,
        diameter_m: diameter.mean_m(outer_m),
        // Beside a flat coil the primary is wound flat too, its turns outside each other.
        lay: match secondary.map(|winding| winding.shape) {
            Some(Shape::FlatSpiral { .. }) => Lay::Flat,
            _ => Lay::Stacked,
        },
        gauge,
        pitch_m,
        position_m,
        collector_end,
        sense,
    };
    is_clear_of(&primary, &diameter, outer_m, coil?).then_some(primary)
}

/// Whether the primary's foot lies below the winding's top; if not, that is reported at the position.
fn is_at_coil(entry: &Entry<'_>, position_m: f64, secondary: Option<&Winding>) -> bool {
    let Some(Cylinder { length_m, .. }) = secondary.and_then(Winding::cylinder) else {
        return true;
    };
    let is_beside = position_m < length_m;
    if !is_beside {
        entry.fault(&format!(
            "expected less than {}, the length of the winding above whose foot the primary begins",
            rounded(length_m, Unit::Metre, 3)
        ));
    }
    is_beside
}

/// Whether the primary's wire leaves the secondary's alone; if not, reports that at the diameter.
fn is_clear_of(primary: &Primary, diameter: &Diameter<'_>, outer_m: f64, coil: &Wound) -> bool {
    let secondary = &coil.winding;
    let Some(Cylinder {
        diameter_m,
        length_m,
        ..
    }) = secondary.cylinder()
    else {
        return true;
    };
    let top_m = primary.position_m + f64::from(primary.turns) * primary.pitch_m;
    let is_beside = top_m > 0.0 && primary.position_m < length_m;
    let gap_m = (primary.diameter_m - diameter_m).abs();
    let wanted_m = outer_m + secondary.over_enamel.low_m;
    let is_clear = !is_beside || gap_m >= wanted_m;
    if !is_clear {
        diameter.entry.fault(&format!(
            "expected {} or more through the wire's centre; the primary would cut through the secondary",
            rounded(diameter_m + wanted_m, Unit::Metre, 4)
        ));
        return false;
    }
    let is_in_rod = coil.former == Former::Rod && is_beside && primary.diameter_m < diameter_m;
    if is_in_rod {
        diameter.entry.fault(
            "expected it outside the secondary, whose coil.former is a rod, or a tube as former",
        );
    }
    !is_in_rod
}
