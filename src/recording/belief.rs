//! What is believed of a reading.

use super::flag_rule::flag_rule;
use crate::analysis::flags::Rule;
use crate::instrument::ChannelRule;

/// Whether a value lies within what the profile believes of it.
pub(super) fn is_possible(rule: &ChannelRule, value_si: f64) -> bool {
    let Rule {
        at_least, at_most, ..
    } = flag_rule(rule);
    (at_least..=at_most).contains(&value_si)
}
