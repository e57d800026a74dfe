//! A build's start, and the words for its parts that text and JSON share.

use crate::circuit::damage::{GivesWay, gives_way};
use crate::circuit::hazards::Hazards;
use crate::circuit::outlook::Outlook;
use crate::circuit::parts::TransistorClass;
use crate::circuit::practice::Spread;
use crate::circuit::shown::LeastSpeed;
use crate::circuit::verdict::{Deciding, Judged};
use crate::sheet::{Assumption, Sheet};

/// A build's start, as text and JSON describe it.
#[derive(Debug, Clone, Copy)]
pub struct Start<'a> {
    /// The transistor's class.
    pub class: TransistorClass,
    /// The build's sheet.
    pub sheet: &'a Sheet,
    /// The results computed for the circuit.
    pub outlook: &'a Outlook,
    /// The assumptions about it.
    pub assumptions: &'a [Assumption],
    /// How fast the transistor is at least, as the build has shown.
    pub shown: Option<&'a LeastSpeed>,
}

impl Start<'_> {
    /// Returns the hazards by the build's figures.
    pub fn hazards(&self) -> Hazards {
        let sink_k_per_w = self.sheet.known.heat_sink_k_per_w;
        Hazards::of(&self.outlook.verdict.sets, self.class, sink_k_per_w)
    }
}

/// A set of parts in a word.
pub const fn spread_word(spread: Spread) -> &'static str {
    match spread {
        Spread::Worst => "worst",
        Spread::Typical => "typical",
        Spread::Best => "best",
    }
}

pub(super) const fn deciding_word(deciding: Deciding) -> &'static str {
    match deciding {
        Deciding::Speed => "the transistor's speed",
        Deciding::Gain => "the transistor's gain",
        Deciding::Q => "the coil's Q",
        Deciding::Coupling => "the coupling",
    }
}

/// The junctions that give way in a set's best state; `None` where none does.
pub(super) fn beyond(set: &Judged) -> Option<Vec<GivesWay>> {
    let found = gives_way(set.running()?, &set.spec.transistor);
    (!found.is_empty()).then_some(found)
}
