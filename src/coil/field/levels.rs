//! Reference levels for the electric field, general public, by frequency.

/// What a level is for.
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
    /// What it is for.
    pub kind: LevelKind,
    /// The field, rms, where nobody stands in it, in volt per metre.
    pub rms_v_per_m: f64,
}

impl LevelKind {
    /// In words fit for a table.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Local => "public, local, 6 min",
            Self::WholeBody => "public, whole body, 30 min",
            Self::Nerves => "public, nerves, at any moment",
        }
    }

    /// Where the number comes from.
    pub const fn source(self) -> &'static str {
        match self {
            Self::Local => "ICNIRP 2020, Health Phys. 118:483, as a textbook's table has it",
            Self::WholeBody => "ICNIRP 2020, from memory",
            Self::Nerves => "ICNIRP 2010, from memory",
        }
    }
}

/// Frequencies of the two levels against heating, in hertz.
const HEATING_HZ: (f64, f64) = (0.1e6, 30e6);

/// Frequencies of the level for nerves that are asked for here, in hertz.
const NERVES_HZ: (f64, f64) = (0.1e6, 10e6);

/// The levels that hold at a frequency, the local one first; none where none is known here.
///
/// With f in MHz, rms: local 671/f^0.7 V/m and whole body 300/f^0.7 V/m from 0.1 to 30 MHz (ICNIRP 2020), nerves 83 V/m from
/// 0.1 to 10 MHz (ICNIRP 2010, which the guidelines of 2020 keep). The first was read in a textbook that reproduces the
/// table, the other two are from memory. Local codes may ask for less.
pub fn levels(frequency_hz: f64) -> Vec<Level> {
    let within = |(low, high): (f64, f64)| (low..=high).contains(&frequency_hz);
    let fall = (frequency_hz / 1e6).powf(-0.7);
    let mut found = Vec::new();
    if within(HEATING_HZ) {
        found.push((LevelKind::Local, 671.0 * fall));
        found.push((LevelKind::WholeBody, 300.0 * fall));
    }
    if within(NERVES_HZ) {
        found.push((LevelKind::Nerves, 83.0));
    }
    found
        .into_iter()
        .map(|(kind, rms_v_per_m)| Level { kind, rms_v_per_m })
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
