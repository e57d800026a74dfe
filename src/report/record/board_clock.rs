//! How fast a board's clock runs, in words.

use crate::session::ClockRate;

/// Returns the rate of a board's clock in words.
pub(super) fn text(rate: ClockRate) -> String {
    let (ahead, half) = ((rate.ratio - 1.0) * 100.0, rate.half_width_95 * 100.0);
    // Two digits of the uncertainty; five are a tenth of a part in a million.
    let decimals = (0_u8..5)
        .find(|decimals| half * 10_f64.powi(i32::from(*decimals)) >= 10.0)
        .unwrap_or(5);
    let decimals = usize::from(decimals);
    if ahead.abs() <= half {
        return format!(
            "the board's clock agrees with this computer's to {:.decimals$} %",
            ahead.abs() + half
        );
    }
    let (low, high) = (ahead.abs() - half, ahead.abs() + half);
    let way = if ahead > 0.0 { "fast" } else { "slow" };
    let places = decimals + 2;
    format!(
        "the board's clock is {:.decimals$} % {way} against this computer ({low:.decimals$} % to {high:.decimals$} %); \
         if it counts the frequency by that clock, factor = {:.places$} in its profile corrects it",
        ahead.abs(),
        rate.ratio
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_agrees_or_is_told_with_its_interval_and_factor() {
        let words = |ratio, half_width_95| {
            text(ClockRate {
                ratio,
                half_width_95,
            })
        };
        insta::assert_snapshot!(words(1.003, 4e-7), @"the board's clock is 0.30000 % fast against this computer (0.29996 % to 0.30004 %); if it counts the frequency by that clock, factor = 1.0030000 in its profile corrects it");
        insta::assert_snapshot!(words(0.99, 2e-4), @"the board's clock is 1.000 % slow against this computer (0.980 % to 1.020 %); if it counts the frequency by that clock, factor = 0.99000 in its profile corrects it");
        insta::assert_snapshot!(words(1.000_000_1, 4e-7), @"the board's clock agrees with this computer's to 0.00005 %");
    }
}
