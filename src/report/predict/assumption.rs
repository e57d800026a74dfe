//! Assumptions, for other programs.

use crate::report::form::part;
use crate::sheet::Assumption;

part! {
    pub(in crate::report) struct AssumptionPart<'a>(one: &'a Assumption) {
        key: &'a str = one.key,
        taken: &'a str = &one.taken,
    }
}
