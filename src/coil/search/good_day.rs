//! A build's good day: a resonance that was measured and explained, against which later sessions are judged.

use super::fit::Amount;
use crate::coil::band::{self, Cause, Part};
use crate::coil::predict::{PredictError, predict};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::EarthState;
use crate::coil::{Resonance, Route};

/// How far the same build in the same place may come out on another day, as a share of either sign.
///
/// Chosen, not measured: battery, warmth, and a circuit that is put back some millimetres off.
pub const REPEAT: f64 = 0.005;

/// The result of a good day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GoodDay {
    /// How the circuit stood to earth.
    pub earth: EarthState,
    /// The resonance that was measured, in hertz.
    pub measured_hz: f64,
    /// Half its 95 % interval, in hertz; `None` if the readings were too few for one.
    pub half_width_hz: Option<f64>,
    /// The value that explains it.
    pub amount: Amount,
}

impl GoodDay {
    /// Returns a build with the good day's value on it.
    ///
    /// Measured values that would stand in place of the model's are left out: it is the model that was fitted.
    #[must_use]
    pub fn applied(&self, spec: &CoilSpec) -> CoilSpec {
        let found = self.amount.applied(spec);
        CoilSpec {
            // Only where the circuit stands as it stood then does it float as the explanation may ask.
            earth: if spec.earth == self.earth {
                found.earth
            } else {
                spec.earth
            },
            ..found.without_measured_resonance()
        }
    }

    /// Returns the resonance of a build as its good day has it, in the earth state of `spec`.
    ///
    /// The winding and its former are the same as then, so the doubts about them no longer count. In the same earth state neither
    /// do the model and the surroundings: there the band is [`REPEAT`] with the measurement's own interval, and a hand's doubt
    /// where one held it. In another earth state all that may differ between the two stays.
    ///
    /// # Errors
    /// [`PredictError::Rings`] if the ring model has no solution.
    pub fn resonance(&self, spec: &CoilSpec) -> Result<Resonance, PredictError> {
        let found = predict(&self.applied(spec))?;
        let is_same = spec.earth == self.earth;
        let parts: Vec<Part> = found
            .modelled
            .map_or_else(Vec::new, |modelled| modelled.parts)
            .into_iter()
            .filter(|part| self.is_doubtful(part.cause, is_same))
            .collect();
        let edges = band::edges(&parts);
        let reach = REPEAT + self.half_width_hz.unwrap_or(0.0) / self.measured_hz;
        let value_hz = found.resonance.value_hz * self.amount.factor();
        Ok(Resonance {
            value_hz,
            low_hz: value_hz * edges.low * (1.0 - reach),
            high_hz: value_hz * edges.high * (1.0 + reach),
            route: if is_same {
                Route::GoodDay
            } else {
                Route::GoodDayIn(self.earth)
            },
        })
    }

    fn is_doubtful(&self, cause: Cause, is_same: bool) -> bool {
        match cause {
            Cause::Winding | Cause::Former => false,
            Cause::Model | Cause::Surroundings => !is_same,
            Cause::Earth => !is_same || self.earth == EarthState::Held,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::fit::{Free, fit};
    use crate::coil::predict::tests::example;

    fn standing() -> CoilSpec {
        CoilSpec {
            earth: EarthState::Standing,
            ..example()
        }
    }

    fn day(spec: &CoilSpec, free: Free, measured_hz: f64) -> GoodDay {
        GoodDay {
            earth: spec.earth,
            measured_hz,
            half_width_hz: Some(60.0),
            amount: fit(spec, free, measured_hz).unwrap().amount,
        }
    }

    fn width(resonance: &Resonance) -> f64 {
        (resonance.high_hz - resonance.low_hz) / resonance.value_hz
    }

    #[test]
    fn the_same_build_as_on_its_good_day_is_judged_within_half_a_per_cent() {
        for (free, measured_hz) in [
            (Free::Earth, 7.0e6),
            (Free::Top, 6.6e6),
            (Free::Former, 7.1e6),
            (Free::Winding, 7.2e6),
        ] {
            let again = day(&standing(), free, measured_hz).resonance(&standing());
            let again = again.unwrap();
            assert!((again.value_hz / measured_hz - 1.0).abs() < 1e-6);
            assert!((width(&again) - 2.0 * (REPEAT + 60.0 / measured_hz)).abs() < 1e-9);
            let before = predict(&standing()).unwrap().resonance;
            assert!(width(&again) < 0.2 * width(&before), "{again:?} {before:?}");
        }
    }

    #[test]
    fn another_earth_state_keeps_the_doubt_between_the_two() {
        let day = day(&standing(), Free::Former, 7.1e6);
        let earthed = day.resonance(&example()).unwrap();
        let before = predict(&example()).unwrap().resonance;
        let standing_hz = predict(&standing()).unwrap().resonance.value_hz;
        // The former does the same in both states.
        let share = (earthed.value_hz / before.value_hz) / (7.1e6 / standing_hz);
        assert!((share - 1.0).abs() < 1e-6, "{share}");
        assert!(width(&earthed) > 4.0 * REPEAT && width(&earthed) < width(&before));
        assert_eq!(
            earthed.route.to_string(),
            "from the build's good day, standing then"
        );
    }

    #[test]
    fn a_hand_that_held_it_stays_doubtful() {
        let held = CoilSpec {
            earth: EarthState::Held,
            ..example()
        };
        let again = day(&held, Free::Former, 6.1e6).resonance(&held).unwrap();
        assert!(again.high_hz > 6.1e6 * 1.05, "{again:?}");
    }

    #[test]
    fn an_earthed_build_that_an_afloat_circuit_explains_is_taken_as_afloat() {
        let day = day(&example(), Free::Earth, 6.8e6);
        assert_eq!(day.applied(&example()).earth, EarthState::Standing);
        let again = day.resonance(&example()).unwrap();
        assert!((again.value_hz / 6.8e6 - 1.0).abs() < 1e-6);
        let held = CoilSpec {
            earth: EarthState::Held,
            ..example()
        };
        assert_eq!(day.applied(&held).earth, EarthState::Held);
    }

    #[test]
    fn a_frequency_that_the_sheet_has_does_not_stand_in_the_way() {
        let day = day(&standing(), Free::Top, 6.6e6);
        let mut measured = standing();
        measured.measured.frequency_hz = Some(5e6);
        measured.measured.inductance_h = Some(1e-3);
        let again = day.resonance(&measured).unwrap();
        assert!((again.value_hz / 6.6e6 - 1.0).abs() < 1e-6);
    }
}
