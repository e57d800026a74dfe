//! The diagnosis that text and JSON describe.

use crate::battery::Battery;
use crate::circuit::hazards::Hazards;
use crate::diagnosis::advice::{self, advice};
use crate::diagnosis::answer::{Answer, Cause};
use crate::diagnosis::build::Lack;
use crate::diagnosis::concern::{Concern, concerns};
use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::fault::Family;
use crate::diagnosis::session::{Finding, Thresholds};

/// A diagnosis with its subject.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// The build's name.
    pub build: &'a str,
    /// The readings.
    pub evidence: &'a Evidence,
    /// The answer.
    pub answer: &'a Answer,
    /// Whether the build's own sheet has the primary the wrong way round.
    pub is_reversed: bool,
    /// Whether the build as drawn starts with typical parts.
    pub starts: bool,
    /// The things it lacks for that, if it does not.
    pub lacks: Option<&'a [Lack]>,
    /// The findings in a recorded run, if one was given.
    pub run: Option<&'a (Vec<Finding>, Thresholds)>,
    /// The hazards by the build's own figures; `None` where they could not be computed.
    pub hazards: Option<&'a Hazards>,
    /// The sheet's battery, if it is known.
    pub battery: Option<&'a Battery>,
    /// Which battery a session was recorded with, in words, where it is not the sheet's.
    pub other_battery: Option<&'a str>,
}

impl Told<'_> {
    /// Returns the readings that call for a change at once.
    pub(super) fn concerns(&self) -> Vec<Concern> {
        concerns(self.evidence, self.hazards, self.battery)
    }

    /// A cause in words.
    pub(super) fn words(&self, cause: &Cause) -> &'static str {
        let is_of_concern = !self.concerns().is_empty();
        advice::words(cause.fault, self.answer.is_design_dead, is_of_concern)
    }

    /// Whether a build as drawn is one to be left alone.
    fn can_be_left(&self) -> bool {
        let beyond =
            |hazards: &Hazards| hazards.first_rating().is_some() || hazards.hottest.burns();
        self.concerns().is_empty() && !self.hazards.is_some_and(beyond)
    }

    /// Returns the advice about a cause.
    pub(super) fn advice(&self, cause: &Cause) -> String {
        match self.lacks {
            Some(lacks) if cause.fault.family == Family::Sound && self.answer.is_design_dead => {
                advice::design(lacks)
            }
            _ if cause.fault.family == Family::Sound && !self.can_be_left() => {
                advice::NOT_ALONE.to_owned()
            }
            _ => advice(cause.fault, self.evidence).to_owned(),
        }
    }
}
