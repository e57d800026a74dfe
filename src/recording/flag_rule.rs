//! The rule by which the readings of a channel are doubted.

use crate::analysis::flags::{Rule, StaleRule};
use crate::instrument::ChannelRule;

/// Returns the rule for a channel: the usual one, and what the profile says over it.
pub fn flag_rule(rule: &ChannelRule) -> Rule {
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
