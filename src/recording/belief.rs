//! The values that are believed of a channel: the usual rule, and the profile's own over it.

use crate::analysis::flags::{Rule, StaleRule};
use crate::instrument::ChannelRule;

/// Returns the rule for a channel: the usual one, and the profile's own over it.
pub(super) fn flag_rule(rule: &ChannelRule) -> Rule {
    let usual = Rule::usual(rule.channel);
    Rule {
        at_least: rule.belief.at_least.unwrap_or(usual.at_least),
        at_most: rule.belief.at_most.unwrap_or(usual.at_most),
        stale: match rule.belief.stale_after {
            None => usual.stale,
            Some(0) => StaleRule::Never,
            Some(count) => StaleRule::After(count),
        },
        ..usual
    }
}

/// Whether a value lies within the limits that the profile believes.
pub(super) fn is_possible(rule: &ChannelRule, value_si: f64) -> bool {
    let Rule {
        at_least, at_most, ..
    } = flag_rule(rule);
    (at_least..=at_most).contains(&value_si)
}
