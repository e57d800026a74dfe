//! Reads `[usual]`, where the build stands, and `[measured]`, what is known of it.

use crate::coil::predict::Measured;
use crate::coil::surroundings::{EarthState, Plane};
use crate::faults::Table;
use crate::units::Unit;

use super::{Assumed, optional};

#[derive(Debug, Clone, Copy)]
enum PlaneWord {
    None,
    Table,
    Metal,
}

const PLANES: [(&str, PlaneWord); 3] = [
    ("none", PlaneWord::None),
    ("table", PlaneWord::Table),
    ("metal", PlaneWord::Metal),
];

pub(super) fn usual(table: &Table<'_>, assumed: &mut Assumed) -> Option<(EarthState, Plane)> {
    let earth = table
        .need("earth", "standing, held, clipped or earthed is wanted")
        .and_then(|entry| entry.choice(&EarthState::WORDS));
    let word = optional(table.entry("plane"), |entry| entry.choice(&PLANES));
    let needs_distance = matches!(word, Some(Some(PlaneWord::Table | PlaneWord::Metal)));
    let entry = if needs_distance {
        table.need(
            "plane_distance",
            "from the winding's lower edge to the plane is wanted, like \"5 mm\"",
        )
    } else {
        table.entry("plane_distance")
    };
    if let (Some(Some(PlaneWord::None) | None), Some(entry)) = (&word, &entry) {
        entry.fault("usual.plane = \"table\" or \"metal\" is wanted beside it");
    }
    let distance_m = optional(entry, |entry| entry.quantity(Unit::Metre, 1e-4..=10.0));
    table.close();
    let (word, distance_m) = (word?, distance_m?);
    if word.is_none() {
        assumed.note("usual.plane", "nothing near assumed");
    }
    let plane = match (word, distance_m) {
        (Some(PlaneWord::Table), Some(distance_m)) => Plane::Table { distance_m },
        (Some(PlaneWord::Metal), Some(distance_m)) => Plane::Metal { distance_m },
        _ => Plane::None,
    };
    Some((earth?, plane))
}

pub(super) fn measured(table: &Table<'_>) -> Option<Measured> {
    let quantity =
        |key, unit, range| optional(table.entry(key), |entry| entry.quantity(unit, range));
    let inductance_h = quantity("inductance", Unit::Henry, 1e-7..=1.0);
    let resonance_capacitance_f = quantity("resonance_capacitance", Unit::Farad, 1e-14..=1e-6);
    let q = optional(table.entry("q"), |entry| entry.number(1.0..=10_000.0));
    let coupling = optional(table.entry("coupling"), |entry| entry.number(1e-4..=0.99));
    let primary_inductance_h = quantity("primary_inductance", Unit::Henry, 1e-9..=1e-3);
    let lead_inductance_h = quantity("lead_inductance", Unit::Henry, 1e-9..=1e-4);
    let frequency_hz = quantity("frequency", Unit::Hertz, 1e3..=1e9);
    let entry = table.entry("frequency_tolerance");
    if let (Some(None), Some(entry)) = (&frequency_hz, &entry) {
        entry.fault("measured.frequency is wanted beside it");
    }
    let frequency_ratio = optional(entry, |entry| entry.quantity(Unit::Percent, 0.0..=0.5));
    table.close();
    Some(Measured {
        inductance_h: inductance_h?,
        resonance_capacitance_f: resonance_capacitance_f?,
        q: q?,
        coupling: coupling?,
        primary_inductance_h: primary_inductance_h?,
        lead_inductance_h: lead_inductance_h?,
        frequency_hz: frequency_hz?,
        frequency_ratio: frequency_ratio?.unwrap_or(0.0),
    })
}
