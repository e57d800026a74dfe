//! Reference levels for the electric field, general public, by frequency.

use crate::limits::{local_field, nerves_v_per_m, whole_body_v_per_m};

/// The purpose of a level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelKind {
    /// The strongest field at any one place, averaged over 6 minutes: heating of a part of the body.
    Local,
    /// The field averaged over the body and 30 minutes: heating of the whole of it.
    WholeBody,
    /// The field at any moment: nerves.
    Nerves,
}

/// A reference level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Its purpose.
    pub kind: LevelKind,
    /// The field, rms, where nobody stands in it, in volts per metre.
    pub rms_v_per_m: f64,
}

impl LevelKind {
    /// Returns it in words fit for a table.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Local => "public, local, 6 min",
            Self::WholeBody => "public, whole body, 30 min",
            Self::Nerves => "public, nerves, at any moment",
        }
    }

    /// Returns where the number comes from.
    pub const fn source(self) -> &'static str {
        match self {
            Self::Local => "ICNIRP 2020, Health Phys. 118:483, as a textbook's table has it",
            Self::WholeBody => "ICNIRP 2020, from memory",
            Self::Nerves => "ICNIRP 2010, from memory",
        }
    }
}

/// Returns the levels that hold at a frequency, the local one first; none where none is known here.
///
/// The local one was read in a textbook that reproduces the table, the other two are from memory. Local codes may ask for less.
pub fn levels(frequency_hz: f64) -> Vec<Level> {
    let found = [
        (
            LevelKind::Local,
            local_field(frequency_hz).map(|field| field.electric_v_per_m),
        ),
        (LevelKind::WholeBody, whole_body_v_per_m(frequency_hz)),
        (LevelKind::Nerves, nerves_v_per_m(frequency_hz)),
    ];
    found
        .into_iter()
        .filter_map(|(kind, rms_v_per_m)| {
            Some(Level {
                kind,
                rms_v_per_m: rms_v_per_m?,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_hold_in_their_range_of_frequencies_alone() {
        let kinds = |hertz| {
            levels(hertz)
                .iter()
                .map(|level| level.kind)
                .collect::<Vec<_>>()
        };
        assert_eq!(
            kinds(6e6),
            [LevelKind::Local, LevelKind::WholeBody, LevelKind::Nerves]
        );
        assert_eq!(kinds(20e6), [LevelKind::Local, LevelKind::WholeBody]);
        for outside in [0.0, 50e3, 40e6, f64::NAN, f64::INFINITY] {
            assert_eq!(kinds(outside), [], "{outside}");
        }
    }
}
