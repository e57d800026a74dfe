//! The other way round: the number of turns for a resonance.

use crate::coil::band::former_shift;
use crate::coil::numeric::root::{RootError, brent};
use crate::coil::predict::{PredictError, predict};
use crate::coil::rings::{Fineness, MIN_TURNS, RingError, frequency_hz};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::{CoilSpec, Measure};
use crate::units::{Span, Unit, rounded};

/// Fewest and most turns tried, as shares of the sheet's: chosen, beyond that it is another build.
const REACH: Span = Span::new(0.1, 10.0);

/// Steps in which that is searched for a change of sign.
const STEPS: u32 = 24;

/// How near the model's full solution must come, as a share of the wanted frequency.
const NEAR: f64 = 1e-4;

/// Rounds of search and full solution. Chosen: two are the rule.
const MOST_ROUNDS: u32 = 8;

/// The winding for a wanted resonance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// The build with other turns at the same pitch.
    pub spec: CoilSpec,
    /// Its resonance by the model, in hertz.
    pub frequency_hz: f64,
    /// The shift by one turn more, in hertz.
    pub per_turn_hz: f64,
    /// Turns between which it was searched.
    pub searched: Span,
    /// Measured over modelled resonance of the sheet's own turns, which is taken for all turns; 1 where nothing was measured.
    pub measured_ratio: f64,
}

/// Why nothing winds to it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WantedError {
    /// No number of turns in reach does.
    #[error(
        "wanted resonance with the sheet's wire, pitch and diameter: found none at {}, {} ({most:.0} turns) to {} ({fewest:.0} turns) can be wound",
        hertz(*.wanted_hz), hertz(*.low_hz), hertz(*.high_hz)
    )]
    OutOfReach {
        /// The wanted resonance, in hertz.
        wanted_hz: f64,
        /// The lowest, in hertz.
        low_hz: f64,
        /// Its turns.
        most: f64,
        /// The highest, in hertz.
        high_hz: f64,
        /// Its turns.
        fewest: f64,
    },
    /// The search did not end.
    #[error("wanted resonance: found no settled number of turns in {rounds} rounds")]
    NotSettled {
        /// Rounds.
        rounds: u32,
    },
    /// The ring model has no solution for the sheet itself.
    #[error(transparent)]
    Rings(#[from] RingError),
}

fn hertz(value_hz: f64) -> String {
    rounded(value_hz, Unit::Hertz, 3)
}

/// Returns the build with as many turns, at its own pitch, as resonate at a frequency.
///
/// A cylinder and a cone grow at the top, a flat spiral at its outer edge. The search runs on coarsely cut windings by Brent's
/// method; its result is solved in full and the search moved by the coarse cut's error, until both agree.
///
/// Where the sheet has a measured resonance, or measured values that give one, the model is moved by its error at the sheet's own
/// turns. The share is the same at all turns: exact there, and the better the nearer to them.
///
/// # Errors
/// [`WantedError::OutOfReach`] if neither a tenth nor ten times the turns reach it, [`WantedError::Rings`] if the sheet's
/// own winding has no solution, [`WantedError::NotSettled`] if search and full solution do not come together.
pub fn wanted(spec: &CoilSpec, wanted_hz: f64) -> Result<Wanted, WantedError> {
    let search = Search::new(spec)?;
    let places = search.places();
    let (first, last) = match places.as_slice() {
        [first, .., last] => (*first, *last),
        _ => {
            return Err(search
                .full_hz(1.0)
                .err()
                .map_or(WantedError::NotSettled { rounds: 0 }, WantedError::Rings));
        }
    };
    // Full over coarse, at the sheet's own turns and then where the search ended.
    let mut lift = search.full_hz(1.0)? / search.coarse_hz(1.0)?;
    for _ in 0..MOST_ROUNDS {
        let aim_hz = wanted_hz / lift;
        let pair = places
            .windows(2)
            .filter_map(|pair| <&[(f64, f64); 2]>::try_from(pair).ok())
            .find(|[one, next]| (one.1 - aim_hz) * (next.1 - aim_hz) <= 0.0);
        let Some([one, next]) = pair else {
            return Err(WantedError::OutOfReach {
                wanted_hz,
                low_hz: last.1 * lift,
                most: last.0 * spec.winding.turns,
                high_hz: first.1 * lift,
                fewest: first.0 * spec.winding.turns,
            });
        };
        let factor = brent(
            |factor| search.coarse_hz(factor).map(|found_hz| found_hz - aim_hz),
            Span::new(one.0, next.0),
            1e-9,
        )
        .map_err(|error| match error {
            RootError::Function(error) => WantedError::Rings(error),
            RootError::NoBracket | RootError::NotSettled => WantedError::NotSettled { rounds: 1 },
        })?;
        let full_hz = search.full_hz(factor)?;
        if (full_hz / wanted_hz - 1.0).abs() < NEAR {
            let spec = search.at(factor);
            let one_turn = 1.0 / spec.winding.turns;
            let more_hz = search.coarse_hz(factor * (1.0 + one_turn))?;
            return Ok(Wanted {
                spec,
                frequency_hz: full_hz,
                per_turn_hz: (more_hz - aim_hz) * lift,
                searched: Span::new(
                    first.0 * search.spec.winding.turns,
                    last.0 * search.spec.winding.turns,
                ),
                measured_ratio: search.measured_ratio,
            });
        }
        lift *= full_hz / wanted_hz;
    }
    Err(WantedError::NotSettled {
        rounds: MOST_ROUNDS,
    })
}

/// The family of builds that differ in turns alone.
struct Search<'s> {
    spec: &'s CoilSpec,
    footing: Footing,
    coarse: Fineness,
    fewest: f64,
    measured_ratio: f64,
}

impl<'s> Search<'s> {
    fn new(spec: &'s CoilSpec) -> Result<Self, RingError> {
        let turns = spec.winding.turns;
        let fewest = (REACH.low * turns).max(MIN_TURNS) / turns;
        let mut search = Self {
            spec,
            footing: Footing::of(spec.earth),
            // One cut for all, which the shortest winding must bear.
            coarse: Fineness::coarse(fewest * turns),
            fewest,
            measured_ratio: 1.0,
        };
        let measured = &spec.measured;
        let is_measured = measured.frequency_hz.is_some()
            || measured.inductance_h.is_some()
            || measured.resonance_capacitance_f.is_some();
        if is_measured {
            let found = predict(spec).map_err(|PredictError::Rings(error)| error)?;
            search.measured_ratio = found.resonance.value_hz / search.full_hz(1.0)?;
        }
        Ok(search)
    }

    /// Returns the build with its turns multiplied.
    fn at(&self, factor: f64) -> CoilSpec {
        self.spec.with_larger(Measure::TurnsAtPitch, factor - 1.0)
    }

    fn coarse_hz(&self, factor: f64) -> Result<f64, RingError> {
        frequency_hz(&scene(&self.at(factor), self.footing), self.coarse)
    }

    fn full_hz(&self, factor: f64) -> Result<f64, RingError> {
        let spec = self.at(factor);
        let fineness = Fineness::for_turns(spec.winding.turns);
        let found_hz = frequency_hz(&scene(&spec, self.footing), fineness)?;
        Ok(found_hz * (1.0 + former_shift(&spec)?.value) * self.measured_ratio)
    }

    /// Returns factors from few to many turns with their coarse resonances, those left out that nobody can wind.
    fn places(&self) -> Vec<(f64, f64)> {
        let (low, high) = (self.fewest, REACH.high);
        (0..=STEPS)
            .map(|step| low * (high / low).powf(f64::from(step) / f64::from(STEPS)))
            .filter_map(|factor| Some((factor, self.coarse_hz(factor).ok()?)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::film::OverEnamel;
    use crate::coil::former::Former;
    use crate::coil::spec::{Measured, Tolerance};
    use crate::coil::surroundings::{EarthState, Surroundings};
    use crate::coil::winding::{CollectorEnd, Lay, Primary, Sense, Shape, SpiralEnd, Winding};
    use crate::coil::wire::Gauge;

    fn build(shape: Shape, turns: f64, lay: Lay, primary_m: f64) -> CoilSpec {
        CoilSpec {
            winding: Winding {
                shape,
                turns,
                gauge: Gauge::Metric(0.0002),
                over_enamel: OverEnamel::measured(0.00022),
                sense: Sense::Right,
                foot_end: SpiralEnd::Outer,
            },
            former: Former::Tube,
            primary: Primary {
                turns: 3,
                diameter_m: primary_m,
                lay,
                gauge: Gauge::Metric(0.001),
                pitch_m: 0.002,
                position_m: 0.0,
                collector_end: CollectorEnd::TopSide,
                sense: Sense::Right,
            },
            earth: EarthState::Standing,
            surroundings: Surroundings::EMPTY,
            tolerance: Tolerance::default(),
            measured: Measured::default(),
            seed: 1,
        }
    }

    fn tube() -> CoilSpec {
        let shape = Shape::Cylinder {
            diameter_m: 0.01622,
            length_m: 0.099,
        };
        build(shape, 450.0, Lay::Stacked, 0.022)
    }

    #[test]
    fn the_turns_found_are_predicted_to_resonate_where_it_was_wanted() {
        let spiral = Shape::FlatSpiral {
            inner_diameter_m: 0.03,
            outer_diameter_m: 0.102,
        };
        let mut flat = build(spiral, 60.0, Lay::Flat, 0.112);
        flat.former = Former::Unsaid;
        for (spec, wanted_hz) in [(tube(), 5e6), (tube(), 12e6), (flat, 5e6), (flat, 12e6)] {
            let found = wanted(&spec, wanted_hz).unwrap();
            let again_hz = predict(&found.spec).unwrap().resonance.value_hz;
            assert!((again_hz / wanted_hz - 1.0).abs() < 1e-4, "{again_hz}");
            assert!((found.spec.winding.pitch_m() / spec.winding.pitch_m() - 1.0).abs() < 1e-9);
            assert!(found.per_turn_hz < 0.0);
        }
    }

    #[test]
    fn the_resonance_that_was_measured_asks_for_the_turns_that_it_was_measured_on() {
        let model_hz = predict(&tube()).unwrap().resonance.value_hz;
        let mut by_frequency = tube();
        by_frequency.measured.frequency_hz = Some(0.94 * model_hz);
        let mut by_values = tube();
        by_values.measured.inductance_h = Some(420e-6);
        by_values.measured.resonance_capacitance_f = Some(2e-12);
        for spec in [by_frequency, by_values] {
            let measured_hz = predict(&spec).unwrap().resonance.value_hz;
            let found = wanted(&spec, measured_hz).unwrap();
            assert!((found.spec.winding.turns - 450.0).abs() < 0.1, "{found:?}");
            assert!((found.measured_ratio - measured_hz / model_hz).abs() < 1e-6);
        }
        assert!((wanted(&tube(), model_hz).unwrap().measured_ratio - 1.0).abs() < f64::EPSILON);
    }

    #[test]
    fn a_frequency_that_no_winding_gives_is_refused_with_what_can_be_wound() {
        insta::assert_snapshot!(wanted(&tube(), 5e9).unwrap_err(), @"wanted resonance with the sheet's wire, pitch and diameter: found none at 5.00 GHz, 1.56 MHz (4500 turns) to 30.3 MHz (45 turns) can be wound");
        insta::assert_snapshot!(wanted(&tube(), 5e3).unwrap_err(), @"wanted resonance with the sheet's wire, pitch and diameter: found none at 5.00 kHz, 1.56 MHz (4500 turns) to 30.3 MHz (45 turns) can be wound");
    }

    #[test]
    fn a_sheet_that_cannot_be_wound_is_refused_as_such() {
        let mut spec = tube();
        spec.primary.position_m = -1.0;
        spec.surroundings.plane = crate::coil::surroundings::Plane::Metal { distance_m: 0.01 };
        insta::assert_snapshot!(wanted(&spec, 5e6).unwrap_err(), @"ring model of the primary: found it in the plane below: expected it above that");
    }
}
