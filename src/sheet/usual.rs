//! Reads `[usual]`, where the build stands, `[top]`, the object on it, and `[measured]`, the values known of it.

use crate::coil::spec::Measured;
use crate::coil::surroundings::{
    Body, EarthState, Plane, Surroundings, TopLoad, USUAL_CIRCUIT_BELOW_M,
};
use crate::coil::winding::Shape;
use crate::faults::{Entry, Table};
use crate::units::{Unit, rounded};

use super::assumed::{Assumed, optional};
use super::winding::Wound;

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

/// `load_m` is how far the top load reaches above the winding's top; a hand and a ceiling must be above it. The part that `coil`
/// needs below it must be clear of the plane.
pub(super) fn usual(
    table: &Table<'_>,
    load_m: f64,
    coil: Option<&Wound>,
    assumed: &mut Assumed,
) -> Option<(EarthState, Surroundings)> {
    let earth = table
        .need("earth", "expected standing, held, clipped or earthed")
        .and_then(|entry| entry.choice(&EarthState::WORDS));
    let word = optional(table.entry("plane"), |entry| entry.choice(&PLANES));
    let needs_distance = matches!(word, Some(Some(PlaneWord::Table | PlaneWord::Metal)));
    let entry = if needs_distance {
        table.need(
            "plane_distance",
            "expected the distance from the winding's lower edge to the plane, such as \"5 mm\"",
        )
    } else {
        table.entry("plane_distance")
    };
    if let (Some(Some(PlaneWord::None) | None), Some(entry)) = (&word, &entry) {
        entry.fault("expected usual.plane = \"table\" or \"metal\" beside it");
    }
    let distance_m = optional(entry, |entry| {
        let distance_m = entry.quantity(Unit::Metre, 1e-4..=10.0)?;
        has_room(entry, distance_m, coil).then_some(distance_m)
    });
    let length =
        |key, range| optional(table.entry(key), |entry| entry.quantity(Unit::Metre, range));
    let circuit_m = length("circuit_size", 5e-3..=2.0);
    let circuit_below_m = optional(table.entry("circuit_below"), |entry| {
        let below_m = entry.quantity(Unit::Metre, 1e-3..=1.0)?;
        is_above(entry, below_m, distance_m.flatten()).then_some(below_m)
    });
    let above = |key, range| {
        optional(table.entry(key), |entry| {
            let above_m = entry.quantity(Unit::Metre, range)?;
            let is_clear = above_m > load_m;
            if !is_clear {
                entry.fault(&format!(
                    "expected more than {}, the height of the top load above the winding",
                    rounded(load_m, Unit::Metre, 3)
                ));
            }
            is_clear.then_some(above_m)
        })
    };
    let hand_m = above("hand", 1e-3..=3.0);
    let ceiling_m = above("ceiling", 0.01..=20.0);
    if let (Some(Some(hand_m)), Some(Some(ceiling_m))) = (hand_m, ceiling_m)
        && hand_m >= ceiling_m
    {
        let ceiling = rounded(ceiling_m, Unit::Metre, 3);
        table.fault(
            "a hand above the ceiling",
            &format!("expected usual.hand below usual.ceiling = {ceiling}"),
        );
        return None;
    }
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
    let earth = earth?;
    let surroundings = Surroundings {
        plane,
        circuit_m: circuit_m?,
        circuit_below_m: circuit_below_m?,
        hand_m: hand_m?,
        ceiling_m: ceiling_m?,
        ..Surroundings::EMPTY
    };
    note_circuit(earth, &surroundings, assumed);
    Some((earth, surroundings))
}

/// Lists the height of a floating circuit that the sheet does not say.
fn note_circuit(earth: EarthState, surroundings: &Surroundings, assumed: &mut Assumed) {
    if earth.is_floating() && surroundings.circuit_below_m.is_none() {
        let depth_m = surroundings.circuit_depth_m();
        let depth = rounded(depth_m, Unit::Metre, 2);
        assumed.note(
            "usual.circuit_below",
            if depth_m < USUAL_CIRCUIT_BELOW_M {
                format!("{depth} assumed, half way to the plane")
            } else {
                format!("{depth} assumed")
            },
        );
    }
}

/// Whether board and wire leave a plane its distance; if not, reports that at it.
fn has_room(entry: &Entry<'_>, distance_m: f64, coil: Option<&Wound>) -> bool {
    let Some(coil) = coil else {
        return true;
    };
    if let Some(board_m) = coil.board_m()
        && distance_m < board_m
    {
        let board = rounded(board_m, Unit::Metre, 4);
        entry.fault(&format!(
            "expected {board} or more, coil.board_thickness, which lies between winding and plane"
        ));
        return false;
    }
    let wire_m = coil.winding.gauge.bare_m() / 2.0;
    let is_in_wire = matches!(coil.winding.shape, Shape::FlatSpiral { .. }) && distance_m <= wire_m;
    if is_in_wire {
        entry.fault(&format!(
            "expected more than {}, which coil.wire reaches below its centre",
            rounded(wire_m, Unit::Metre, 3)
        ));
    }
    !is_in_wire
}

/// How near a circuit may be to the plane below it, in metres and as a share of the plane's distance. Chosen: nearer, the sheet's
/// own digits do not separate them.
const LEAST_GAP: (f64, f64) = (1e-4, 0.006);

/// Whether a circuit is above the plane; if not, reports that at it.
fn is_above(entry: &Entry<'_>, below_m: f64, plane_m: Option<f64>) -> bool {
    let Some(plane_m) = plane_m else {
        return true;
    };
    let most_m = plane_m - LEAST_GAP.0.max(LEAST_GAP.1 * plane_m);
    let is_clear = below_m <= most_m * (1.0 + 1e-9);
    if !is_clear {
        entry.fault(&format!(
            "expected {} or less, or none, with usual.plane_distance = {}: the circuit must be above the plane",
            rounded(most_m, Unit::Metre, 4),
            rounded(plane_m, Unit::Metre, 4)
        ));
    }
    is_clear
}

#[derive(Debug, Clone, Copy)]
enum BodyWord {
    Sphere,
    Disc,
    Toroid,
}

const BODIES: [(&str, BodyWord); 3] = [
    ("sphere", BodyWord::Sphere),
    ("disc", BodyWord::Disc),
    ("toroid", BodyWord::Toroid),
];

/// Reads the object on the coil's top.
pub(super) fn top_load(table: &Table<'_>) -> Option<TopLoad> {
    let word = table
        .need("shape", "expected sphere, disc or toroid")
        .and_then(|entry| entry.choice(&BODIES));
    let diameter_m = table
        .need(
            "diameter",
            "expected the diameter outside, such as \"20 mm\"",
        )
        .and_then(|entry| entry.quantity(Unit::Metre, 1e-3..=2.0));
    let gap_m = table
        .need(
            "gap",
            "expected the distance from the winding's top to its lowest point, such as \"2 mm\"",
        )
        .and_then(|entry| entry.quantity(Unit::Metre, 1e-4..=1.0));
    let tube_m = if matches!(word, Some(BodyWord::Toroid)) {
        table
            .need("tube_diameter", "expected the tube's own diameter")
            .and_then(|entry| {
                let tube_m = entry.quantity(Unit::Metre, 1e-3..=1.0)?;
                let fits = diameter_m.is_none_or(|diameter_m| 2.0 * tube_m < diameter_m);
                if !fits {
                    entry.fault("expected less than half of top.diameter");
                }
                fits.then_some(tube_m)
            })
    } else {
        Some(0.0)
    };
    table.close();
    let (diameter_m, tube_m) = (diameter_m?, tube_m?);
    let body = match word? {
        BodyWord::Sphere => Body::Sphere { diameter_m },
        BodyWord::Disc => Body::Disc { diameter_m },
        BodyWord::Toroid => Body::Toroid { diameter_m, tube_m },
    };
    Some(TopLoad {
        body,
        gap_m: gap_m?,
    })
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
    let resistance_ohm = quantity("resistance", Unit::Ohm, 1e-3..=1e5);
    let frequency_hz = quantity("frequency", Unit::Hertz, 1e3..=1e9);
    let entry = table.entry("frequency_tolerance");
    if let (Some(None), Some(entry)) = (&frequency_hz, &entry) {
        entry.fault("expected measured.frequency beside it");
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
        resistance_ohm: resistance_ohm?,
        frequency_hz: frequency_hz?,
        frequency_ratio: frequency_ratio?.unwrap_or(0.0),
    })
}
