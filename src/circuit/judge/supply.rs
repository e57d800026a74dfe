//! The current that a build takes from its battery while it oscillates, over its sets of parts.

use super::verdict::{Judged, State};

/// How far a running circuit's current may be beyond the model's range before it is called too much, as a share: an estimate of
/// ours, no source.
pub const MODEL_DOUBT: f64 = 0.3;

/// Supply current over the sets of parts that oscillate, weak runs included: one set of figures for every report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyCurrent {
    /// The least of the sets, in amperes.
    pub low_a: f64,
    /// With typical parts in their best state, in amperes; `None` where those do not oscillate.
    pub typical_a: Option<f64>,
    /// The most of the sets, in amperes.
    pub high_a: f64,
    /// Sets that oscillate, of three.
    pub oscillate: usize,
    /// Those of them that run weakly when switched on, their current limited by the bias resistor.
    pub weak: usize,
}

impl SupplyCurrent {
    /// Returns the current over a build's worst, typical and best set; `None` where none oscillates or gives a current above
    /// zero.
    pub fn of(sets: &[Judged; 3]) -> Option<Self> {
        let is_load = |supply_a: &f64| *supply_a > 0.0;
        let all = || {
            sets.iter()
                .flat_map(Judged::runs)
                .map(|one| one.supply_a)
                .filter(is_load)
        };
        let low_a = all().min_by(f64::total_cmp)?;
        let high_a = all().max_by(f64::total_cmp)?;
        let oscillates = |set: &&Judged| set.state > State::Dead;
        let [_, typical, _] = sets;
        Some(Self {
            low_a,
            typical_a: Some(typical)
                .filter(oscillates)
                .and_then(Judged::running)
                .map(|running| running.supply_a)
                .filter(is_load),
            high_a,
            oscillate: sets.iter().filter(oscillates).count(),
            weak: sets.iter().filter(|set| set.begins_weakly()).count(),
        })
    }

    /// Returns the expected current, in amperes: typical parts', or where those do not oscillate the geometric mean of the range.
    pub fn middle_a(&self) -> f64 {
        self.typical_a
            .unwrap_or_else(|| (self.low_a * self.high_a).sqrt())
    }
}
