//! A discharge as samples, and a finished one stretched to a common length.

/// Points of a stretched curve.
const POINTS: usize = 200;

/// A reading of a battery under load; the time counts only while the load is on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Time under load since the run began, in seconds.
    pub running_s: f64,
    /// Voltage at the terminals, in volts.
    pub volts_v: f64,
    /// Current, in amperes, when it was measured.
    pub current_a: Option<f64>,
}

/// Returns when a run first reached a voltage, in seconds under load; `None` if it stayed above.
///
/// Noise is distinguished from the end by the two samples that follow: they must be no more than a hundredth above it.
pub fn reached_s(samples: &[Sample], end_v: f64) -> Option<f64> {
    let stays = |at: usize| {
        samples
            .iter()
            .skip(at + 1)
            .take(2)
            .all(|next| next.volts_v <= end_v * 1.01)
    };
    let at = (0..samples.len())
        .find(|&at| samples.get(at).is_some_and(|s| s.volts_v <= end_v) && stays(at))?;
    let here = samples.get(at)?;
    let Some(before) = at.checked_sub(1).and_then(|before| samples.get(before)) else {
        return Some(here.running_s);
    };
    let share = (before.volts_v - end_v) / (before.volts_v - here.volts_v);
    Some(before.running_s + share.clamp(0.0, 1.0) * (here.running_s - before.running_s))
}

/// Returns the mean of the measured currents, in amperes, weighed by time; `None` where there is none.
pub fn mean_current_a(samples: &[Sample]) -> Option<f64> {
    let mut charge_as = 0.0;
    let mut time_s = 0.0;
    for pair in samples.windows(2) {
        let [a, b] = pair else { continue };
        if let (Some(from_a), Some(to_a)) = (a.current_a, b.current_a) {
            let step_s = b.running_s - a.running_s;
            charge_as += f64::midpoint(from_a, to_a) * step_s;
            time_s += step_s;
        }
    }
    (time_s > 0.0).then(|| charge_as / time_s)
}

/// Returns the means of the samples between two times, in `count` bins of equal width; empty bins are left out.
pub fn averaged(samples: &[Sample], from_s: f64, to_s: f64, count: usize) -> Vec<(f64, f64)> {
    let mut bins = vec![(0.0, 0.0, 0.0); count];
    let width_s = (to_s - from_s) / count as f64;
    let mut bin = 0;
    for sample in samples {
        if sample.running_s < from_s || sample.running_s > to_s {
            continue;
        }
        while bin + 1 < count && sample.running_s >= from_s + (bin + 1) as f64 * width_s {
            bin += 1;
        }
        if let Some((time_s, volts_v, readings)) = bins.get_mut(bin) {
            *time_s += sample.running_s;
            *volts_v += sample.volts_v;
            *readings += 1.0;
        }
    }
    bins.into_iter()
        .filter(|&(_, _, readings)| readings > 0.0)
        .map(|(time_s, volts_v, readings)| (time_s / readings, volts_v / readings))
        .collect()
}

/// A finished discharge, its time stretched to 0 at the start and 1 at the end.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    volts_v: Box<[f64; POINTS]>,
    /// How long it lasted, in seconds under load.
    pub run_s: f64,
    /// The voltage it was followed to, in volts.
    pub end_v: f64,
}

impl Curve {
    /// Returns the curve of a run to `end_v`; `None` if the run never came there, or has fewer than three samples before.
    pub fn to_end(samples: &[Sample], end_v: f64) -> Option<Self> {
        Self::of(samples, reached_s(samples, end_v)?, end_v)
    }

    /// Returns the curve of a run that is known to have come to `end_v` at `run_s`; `None` with fewer than three samples before.
    pub fn of(samples: &[Sample], run_s: f64, end_v: f64) -> Option<Self> {
        let mut known: Vec<(f64, f64)> = samples
            .iter()
            .take_while(|sample| sample.running_s < run_s)
            .map(|sample| (sample.running_s, sample.volts_v))
            .collect();
        if known.len() < 3 {
            return None;
        }
        known.push((run_s, end_v));
        let mut volts_v = Box::new([0.0; POINTS]);
        let mut next = 1;
        for (point, volts_v) in volts_v.iter_mut().enumerate() {
            let at_s = run_s * point as f64 / (POINTS - 1) as f64;
            while next + 1 < known.len() && known[next].0 < at_s {
                next += 1;
            }
            let ((from_s, from_v), (to_s, to_v)) = (known[next - 1], known[next]);
            let share = ((at_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
            *volts_v = from_v + share * (to_v - from_v);
        }
        Some(Self {
            volts_v,
            run_s,
            end_v,
        })
    }

    /// Returns the same for several such batteries in series.
    #[must_use]
    pub fn in_series(mut self, count: u32) -> Self {
        let factor = f64::from(count);
        for volts_v in self.volts_v.iter_mut() {
            *volts_v *= factor;
        }
        self.end_v *= factor;
        self
    }

    /// Returns the voltage at a share of the run, 0 at the start and 1 at the end, in volts.
    pub fn volts_at(&self, share: f64) -> f64 {
        self.volts_in(Place::of(share))
    }

    /// Returns the voltage at a place, in volts.
    pub(super) fn volts_in(&self, place: Place) -> f64 {
        let (low_v, high_v) = (self.volts_v[place.below], self.volts_v[place.below + 1]);
        low_v + place.above * (high_v - low_v)
    }
}

/// Where a share of a run lies in the table of every curve.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// The point before it.
    below: usize,
    /// How far from there to the next, 0 to 1.
    above: f64,
}

impl Place {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a table of 200, clamped to it"
    )]
    pub(super) fn of(share: f64) -> Self {
        let place = share.clamp(0.0, 1.0) * (POINTS - 1) as f64;
        let below = (place as usize).min(POINTS - 2);
        Self {
            below,
            above: place - below as f64,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn falling() -> Vec<Sample> {
        (0..=30)
            .map(|i| Sample {
                running_s: 100.0 * f64::from(i),
                volts_v: 9.0 - 0.1 * f64::from(i),
                current_a: Some(0.3),
            })
            .collect()
    }

    #[test]
    fn the_end_is_found_between_two_samples() {
        let at_s = reached_s(&falling(), 6.55).unwrap();
        assert!((at_s - 2450.0).abs() < 1e-6, "{at_s}");
        assert_eq!(reached_s(&falling(), 5.0), None);
    }

    #[test]
    fn one_low_reading_is_not_the_end() {
        let mut samples = falling();
        samples[5].volts_v = 5.0;
        assert!(reached_s(&samples, 6.5).unwrap() > 2400.0);
    }

    #[test]
    fn a_stretched_straight_line_is_straight() {
        let curve = Curve::to_end(&falling(), 6.0).unwrap();
        assert!((curve.volts_at(0.0) - 9.0).abs() < 1e-12);
        assert!((curve.volts_at(0.5) - 7.5).abs() < 1e-9);
        assert!((curve.volts_at(2.0) - 6.0).abs() < 1e-12);
        let two = curve.in_series(2);
        assert!((two.volts_at(0.5) - 15.0).abs() < 1e-9);
        assert!((two.end_v - 12.0).abs() < 1e-12);
    }

    #[test]
    fn averages_leave_empty_bins_out() {
        let bins = averaged(&falling(), 0.0, 3000.0, 60);
        assert_eq!(bins.len(), 31);
        let (time_s, volts_v) = averaged(&falling(), 0.0, 950.0, 1)[0];
        assert!((time_s - 450.0).abs() < 1e-9 && (volts_v - 8.55).abs() < 1e-9);
    }

    #[test]
    fn the_mean_current_is_weighed_by_time_and_unknown_without_one() {
        assert!((mean_current_a(&falling()).unwrap() - 0.3).abs() < 1e-12);
        let mut samples = falling();
        for sample in &mut samples {
            sample.current_a = None;
        }
        assert_eq!(mean_current_a(&samples), None);
    }
}
