//! Several batteries in series: which of them is empty first, and where to stop so that the others do not reverse it.

/// One that is this far behind the best is reported, in volts. Chosen: about the 0.12 V that one battery of a kind lies beside
/// another.
const BEHIND_V: f64 = 0.12;

/// The one that will be empty first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weakest {
    /// Its place, counted from 1.
    pub place: usize,
    /// Its voltage, in volts.
    pub volts_v: f64,
    /// How far it is behind the best, in volts.
    pub behind_v: f64,
}

impl Weakest {
    /// Whether it is so far behind that it must be reported.
    pub fn is_behind(&self) -> bool {
        self.behind_v >= BEHIND_V
    }
}

/// Returns the lowest of batteries whose voltages were read one by one, all at the same load; `None` with fewer than two.
pub fn weakest(each_v: &[f64]) -> Option<Weakest> {
    let best_v = each_v.iter().copied().max_by(f64::total_cmp)?;
    let (at, &volts_v) = each_v
        .iter()
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(b.1))?;
    (each_v.len() > 1).then_some(Weakest {
        place: at + 1,
        volts_v,
        behind_v: best_v - volts_v,
    })
}

/// Returns the voltage of all together at which the first of them is at its own end point, in volts.
///
/// Own arithmetic: with the weakest at its end, each other one stands above it by its lead at the start. So the sum is n times
/// the end plus the lead of each over the least. The same current flows through all, and the weakest falls fastest near its end,
/// so that in truth the others stand higher by then. The figure is low, and stopping there is not too early.
pub fn end_together_v(each_v: &[f64], one_end_v: f64) -> f64 {
    let least_v = each_v.iter().copied().fold(f64::INFINITY, f64::min);
    each_v
        .iter()
        .map(|volts_v| one_end_v + volts_v - least_v)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented voltages.
    #[test]
    fn the_weakest_sets_the_end_for_all() {
        let each_v = [9.4, 9.0, 9.3];
        let found = weakest(&each_v).unwrap();
        assert_eq!(found.place, 2);
        assert!((found.behind_v - 0.4).abs() < 1e-12 && found.is_behind());
        // 3 x 5.4 V, and 0.4 V and 0.3 V that the other two stand higher.
        assert!((end_together_v(&each_v, 5.4) - 16.9).abs() < 1e-9);
    }

    #[test]
    fn equal_batteries_end_at_the_sum_of_their_ends() {
        assert!((end_together_v(&[9.4, 9.4], 5.4) - 10.8).abs() < 1e-12);
        assert!(!weakest(&[9.4, 9.4]).unwrap().is_behind());
        assert_eq!(weakest(&[9.4]), None);
    }
}
