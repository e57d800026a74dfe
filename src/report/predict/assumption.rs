//! Assumptions, for other programs.

use serde::Serialize;

use crate::sheet::Assumption;

#[derive(Debug, Serialize)]
pub(in crate::report) struct AssumptionPart<'a> {
    key: &'a str,
    taken: &'a str,
}

pub(in crate::report) fn assumption(assumption: &Assumption) -> AssumptionPart<'_> {
    AssumptionPart {
        key: assumption.key,
        taken: &assumption.taken,
    }
}
