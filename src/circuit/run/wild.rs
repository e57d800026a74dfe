//! When a wild oscillation is as steady as it becomes: a collector that rings on its own never lets two short averages agree.

/// Stretches of a run whose two halves are compared (chosen: of 24 cycles each, long against the ringing's own scatter).
pub(crate) const READ: usize = 12;
/// Stretches that have to be there before: two more, so that the supply's edge is not among those compared.
pub(crate) const LEAST: usize = READ + 2;
/// How near the averages of both halves have to be, as a share (chosen).
const NEAR: f64 = 0.015;
/// The allowance added to that at the top, in volts.
const LEAST_DIFFERENCE_V: f64 = 0.02;
/// The allowance added to that of the supply current, in amperes.
const LEAST_DIFFERENCE_A: f64 = 0.2e-3;
/// Share of the scatter of the first half that the second one has to keep.
const STILL_WILD: f64 = 0.5;

/// Averages over one stretch of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Seen {
    /// Half of the top's swing, in volts.
    pub(crate) top_v: f64,
    /// Supply current, in amperes.
    pub(crate) supply_a: f64,
}

/// Whether two values agree within a share and the allowance added to it.
fn near(a: f64, b: f64, least: f64) -> bool {
    (a - b).abs() < NEAR * b.abs() + least
}

/// Whether a run is as wild as it was: no trend from one half of the last stretches to the other, nor an envelope that only
/// grows or only falls.
pub(crate) fn is_steady(seen: &[Seen]) -> bool {
    if seen.len() < LEAST {
        return false;
    }
    let (_, last) = seen.split_at(seen.len() - READ);
    let (first, last) = last.split_at(READ / 2);
    let mean =
        |of: &[Seen], get: fn(&Seen) -> f64| of.iter().map(get).sum::<f64>() / of.len() as f64;
    let agree = |get: fn(&Seen) -> f64, least| near(mean(first, get), mean(last, get), least);
    agree(|one| one.top_v, LEAST_DIFFERENCE_V)
        && agree(|one| one.supply_a, LEAST_DIFFERENCE_A)
        && turns(first)
        && turns(last)
        // One that rings down to a calm state is waited for.
        && range_v(last) > STILL_WILD * range_v(first)
}

/// Whether the envelope both rises and falls.
fn turns(seen: &[Seen]) -> bool {
    let pairs = || seen.iter().zip(seen.iter().skip(1));
    pairs().any(|(a, b)| b.top_v > a.top_v) && pairs().any(|(a, b)| b.top_v <= a.top_v)
}

/// Returns the envelope's highest above its lowest, in volts.
fn range_v(seen: &[Seen]) -> f64 {
    let (low, high) = seen
        .iter()
        .fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), one| {
            (low.min(one.top_v), high.max(one.top_v))
        });
    high - low
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(top_v: impl Fn(usize) -> f64) -> Vec<Seen> {
        let one = |index| Seen {
            top_v: top_v(index),
            supply_a: 0.3,
        };
        (0..LEAST).map(one).collect()
    }

    #[test]
    fn only_a_scatter_without_a_trend_is_steady() {
        let scatter = |index: usize| [40.0, -25.0, 10.0, -30.0][index % 4];
        assert!(is_steady(&seen(|index| 2000.0 + scatter(index))));
        assert!(
            !is_steady(&seen(|index| 2000.0 + 20.0 * index as f64)),
            "grows"
        );
        let trend = |index: usize| 2000.0 + scatter(index) + 10.0 * index as f64;
        assert!(!is_steady(&seen(trend)), "scatters about a line that rises");
        let calms = |index: usize| 2000.0 + scatter(index) * 0.8_f64.powf(index as f64);
        assert!(!is_steady(&seen(calms)), "rings down");
        assert!(!is_steady(&seen(scatter)[1..]), "too short");
    }
}
