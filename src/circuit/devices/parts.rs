//! The parts of the circuit by the classes a person can recognise from their cases.
//!
//! The currents beside the cases are common practice, no source; they serve to recognise a part, not to compute with.

/// A transistor by its class; figures for the class are where the circuit is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TransistorClass {
    /// A small switching type in a TO-92 or TO-18 case, up to about 0.8 A.
    SmallSignal,
    /// A medium type in a TO-126 case, about 1.5 A.
    Medium,
    /// A power type in a TO-220 case, 3 to 10 A.
    PowerTo220,
    /// A power type in a TO-3 metal case, about 15 A.
    PowerTo3,
}

impl TransistorClass {
    /// Each class by the word a sheet uses.
    pub const WORDS: [(&str, Self); 4] = [
        ("small-signal", Self::SmallSignal),
        ("medium", Self::Medium),
        ("power-to220", Self::PowerTo220),
        ("power-to3", Self::PowerTo3),
    ];

    /// How to find the class of a transistor that lies on the bench.
    pub const CASES: &str = "\"small-signal\" (a pea-sized plastic or metal can, TO-92 or TO-18), \"medium\" (flat, with a hole \
        through the plastic, TO-126), \"power-to220\" (a metal tab with a hole, TO-220), \"power-to3\" (a metal can with two \
        screw holes, TO-3)";
}

/// The part between the base and the battery's minus, to stop the base's negative swing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BaseDiode {
    /// A light-emitting diode, which also shows that the circuit runs.
    Led,
    /// A silicon switching diode.
    Silicon,
    /// Nothing.
    None,
}

impl BaseDiode {
    /// Each kind by the word a sheet uses.
    pub const WORDS: [(&str, Self); 3] = [
        ("led", Self::Led),
        ("silicon", Self::Silicon),
        ("none", Self::None),
    ];
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_names_one_part_and_every_part_has_one_word() {
        let mut words: Vec<_> = TransistorClass::WORDS
            .iter()
            .map(|(word, _)| *word)
            .collect();
        words.extend(BaseDiode::WORDS.iter().map(|(word, _)| *word));
        words.sort_unstable();
        words.dedup();
        assert_eq!(
            words.len(),
            TransistorClass::WORDS.len() + BaseDiode::WORDS.len()
        );
    }
}
