//! Reads how far a winding's measures may be off, and the tolerance assumed where a sheet gives none.

use crate::coil::spec::{Close, Tolerance};
use crate::coil::winding::{Shape, Winding};
use crate::faults::Table;
use crate::units::{Unit, rounded};

use super::assumed::{Assumed, optional};

/// Tolerances as far as a sheet gives them.
#[derive(Debug)]
pub(super) struct Told {
    diameter_m: Option<f64>,
    length_m: Option<f64>,
    turns: Option<f64>,
}

/// How far a diameter measured with callipers may be off, in metres; common practice, no source.
const USUAL_DIAMETER_TOLERANCE_M: f64 = 1e-4;

/// How far a length measured with a ruler may be off, in metres; common practice, no source.
const USUAL_LENGTH_TOLERANCE_M: f64 = 1e-3;

/// How far a count of turns may be off, as a share; common practice, no source.
const USUAL_TURNS_TOLERANCE: f64 = 0.01;

impl Told {
    pub(super) fn or_usual(
        self,
        winding: &Winding,
        close: Close,
        assumed: &mut Assumed,
    ) -> Tolerance {
        let mut length = |key, told: Option<f64>, usual_m| {
            told.unwrap_or_else(|| {
                assumed.note(key, format!("{} assumed", rounded(usual_m, Unit::Metre, 2)));
                usual_m
            })
        };
        let diameter_m = length(
            "coil.diameter_tolerance",
            self.diameter_m,
            USUAL_DIAMETER_TOLERANCE_M,
        );
        let length_m = match winding.shape {
            Shape::FlatSpiral { .. } => 0.0,
            Shape::Cylinder { .. } | Shape::Cone { .. } => length(
                "coil.length_tolerance",
                self.length_m,
                USUAL_LENGTH_TOLERANCE_M,
            ),
        };
        let turns = self.turns.unwrap_or_else(|| {
            let usual = (winding.turns * USUAL_TURNS_TOLERANCE).ceil();
            assumed.note("coil.turns_tolerance", format!("{usual} assumed"));
            usual
        });
        Tolerance {
            diameter_m,
            length_m,
            turns,
            close,
        }
    }
}

pub(super) fn tolerances(table: &Table<'_>) -> Option<Told> {
    let length = |key| {
        optional(table.entry(key), |entry| {
            entry.quantity(Unit::Metre, 0.0..=0.1)
        })
    };
    let diameter_m = length("diameter_tolerance");
    let length_m = length("length_tolerance");
    let turns = optional(table.entry("turns_tolerance"), |entry| {
        entry.number(0.0..=1000.0)
    });
    Some(Told {
        diameter_m: diameter_m?,
        length_m: length_m?,
        turns: turns?,
    })
}
