//! The current that a build takes, in words.

use crate::circuit::hazards::Standing;
use crate::circuit::supply::SupplyCurrent;
use crate::units::{Unit, rounded};

/// Returns the setting of a current-limited supply for the standing measurements, in amperes: the next of 1, 2, 5 above half as
/// much again.
pub(in crate::report) fn limit_a(standing: &Standing) -> f64 {
    next_round(1.5 * standing.supply_a.high)
}

/// The next of 1, 2, 5 above a value.
fn next_round(value: f64) -> f64 {
    let decade = 10_f64.powf(value.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|&round| round >= value)
        .unwrap_or(value)
}

/// Two figures as a range, or one where they read alike.
pub(in crate::report) fn between(low: f64, high: f64, unit: Unit) -> String {
    let (low, high) = (rounded(low, unit, 2), rounded(high, unit, 2));
    if low == high {
        low
    } else {
        format!("{low} to {high}")
    }
}

/// The supply current over a build's parts: the same words in every report.
pub(in crate::report) fn supply_words(supply: &SupplyCurrent) -> String {
    let range = between(supply.low_a, supply.high_a, Unit::Ampere);
    let typical = supply.typical_a.map_or_else(
        || "typical parts do not oscillate".to_owned(),
        |typical_a| format!("typical parts {}", rounded(typical_a, Unit::Ampere, 2)),
    );
    let weak = match supply.weak {
        0 => String::new(),
        weak if weak == supply.oscillate => "; switched on it runs weakly".to_owned(),
        weak => format!(
            "; switched on, {weak} of {} sets run weakly",
            supply.oscillate
        ),
    };
    format!("{range} over its parts, {typical}{weak}")
}
