//! Where the build stands: what its foot is joined to and what is near.

/// What the circuit, and with it the secondary's foot, is joined to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EarthState {
    /// It stands on an insulating table.
    Standing,
    /// A hand holds the battery or the circuit.
    Held,
    /// The ground clip of a mains-earthed instrument is on it.
    Clipped,
    /// A wire joins it to earth.
    Earthed,
}

impl EarthState {
    /// Each state by the word a sheet uses.
    pub const WORDS: [(&str, Self); 4] = [
        ("standing", Self::Standing),
        ("held", Self::Held),
        ("clipped", Self::Clipped),
        ("earthed", Self::Earthed),
    ];

    /// The word a sheet uses.
    pub fn name(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, state)| *state == self)
            .map_or("", |(word, _)| word)
    }

    /// Whether the foot has no firm earth. A hand counts as none: it may be anything from a few pF to nearly earth.
    pub fn is_floating(self) -> bool {
        matches!(self, Self::Standing | Self::Held)
    }
}

/// A plane below the foot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plane {
    /// Nothing within a few coil lengths.
    None,
    /// A table or floor: the electric field ends on it, the magnetic field passes.
    Table {
        /// From the winding's lower edge, in metre.
        distance_m: f64,
    },
    /// A metal sheet: neither field passes.
    Metal {
        /// From the winding's lower edge, in metre.
        distance_m: f64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_wire_to_earth_ends_the_floating() {
        let floating: Vec<_> = EarthState::WORDS
            .iter()
            .filter(|(_, state)| state.is_floating())
            .map(|(word, _)| *word)
            .collect();
        assert_eq!(floating, ["standing", "held"]);
        assert_eq!(EarthState::Clipped.name(), "clipped");
    }
}
