//! From measured ohms back to turns.

use super::loss::resistance_ohm_per_m;
use crate::coil::winding::Winding;

/// How far the bare wire's diameter may be off, as a share: ±0.004 mm at 0.315 mm (IS 13730-0-1), ±0.1 mil at 8.0 mil
/// (NEMA MW 1000), rounded up. It counts twice in the ohms.
const WIRE_DOUBT: f64 = 0.015;

/// The turns that a measured resistance asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnsByOhms {
    /// Turns.
    pub turns: f64,
    /// Fewest, if the wire is as thin as its standard allows.
    pub low: f64,
    /// Most, if it is as thick.
    pub high: f64,
}

impl TurnsByOhms {
    /// Returns the turns of a winding whose resistance from foot to top was measured at 20 °C, its diameters as they are.
    ///
    /// R = N·π·D·ρ/(πd²/4). Ohms rise by 0.4 % a kelvin, so a warm coil seems to have more turns.
    pub fn of(winding: &Winding, resistance_ohm: f64) -> Self {
        let turn_ohm = winding.wire_length_m() / winding.turns
            * resistance_ohm_per_m(winding.gauge.bare_m(), 20.0);
        let turns = resistance_ohm / turn_ohm;
        Self {
            turns,
            low: turns * (1.0 - WIRE_DOUBT).powi(2),
            high: turns * (1.0 + WIRE_DOUBT).powi(2),
        }
    }

    /// Whether this number of turns agrees with the measured resistance.
    pub fn agrees_with(&self, turns: f64) -> bool {
        (self.low..=self.high).contains(&turns)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::film::OverEnamel;
    use crate::coil::winding::{Sense, Shape, SpiralEnd};
    use crate::coil::wire::Gauge;

    #[test]
    fn twenty_missing_turns_are_seen_and_five_are_not() {
        let winding = Winding {
            shape: Shape::Cylinder {
                diameter_m: 0.01622,
                length_m: 0.099,
            },
            turns: 450.0,
            gauge: Gauge::Metric(0.0002),
            over_enamel: OverEnamel::measured(0.00022),
            sense: Sense::Right,
            foot_end: SpiralEnd::Outer,
        };
        // 450 turns: 22.930 m at 0.5488 Ω/m, 12.584 Ω.
        let found = TurnsByOhms::of(&winding, 12.584);
        assert!((found.turns - 450.0).abs() < 0.02, "{found:?}");
        let by_turns = |turns: f64| TurnsByOhms::of(&winding, 12.584 * turns / 450.0);
        assert!(by_turns(445.0).agrees_with(450.0));
        assert!(!by_turns(430.0).agrees_with(450.0));
        assert!(!by_turns(470.0).agrees_with(450.0));
    }
}
