//! The one thing that explains a measured resonance, if it differed from the sheet.

use crate::coil::band::{Cause, Part, edges, former_shift};
use crate::coil::former::Former;
use crate::coil::numeric::root::{RootError, brent};
use crate::coil::predict::{PredictError, predict};
use crate::coil::rings::{Fineness, RingError, frequency_hz};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::EarthState;
use crate::units::{Span, Unit, rounded};

/// The quantity that is varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Free {
    /// How large a floating circuit is for the field: the diameter of the disc that stands for it.
    Earth,
    /// Capacitance from the top to earth: a load, a lamp, a probe.
    Top,
    /// The former of the coil, and its enamel.
    Former,
    /// The winding's own measures and the model.
    Winding,
}

/// Its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Diameter of the disc that stands for a floating circuit, in metres.
    Circuit {
        /// The diameter.
        diameter_m: f64,
    },
    /// Capacitance from top to earth, in farads.
    Top {
        /// The capacitance.
        capacitance_f: f64,
    },
    /// Shift of the resonance by former and enamel, as a share of it.
    Former {
        /// The shift.
        shift: f64,
    },
    /// Shift of the resonance by the winding's measures and the model, as a share of the model's resonance.
    Winding {
        /// The shift.
        shift: f64,
    },
}

impl Amount {
    /// Whether it takes as floating a circuit that was recorded on a wire to earth.
    pub fn contradicts(self, earth: EarthState) -> bool {
        matches!(self, Self::Circuit { .. }) && !earth.is_floating()
    }

    /// Returns a build with it; [`Amount::Circuit`] lets the build float, [`Amount::Winding`] stands in no measure and changes
    /// none.
    #[must_use]
    pub fn applied(self, spec: &CoilSpec) -> CoilSpec {
        let mut found = *spec;
        match self {
            Self::Circuit { diameter_m } => {
                found.earth = EarthState::Standing;
                found.surroundings.circuit_m = Some(diameter_m);
            }
            Self::Top { capacitance_f } => found.surroundings.top_f = capacitance_f,
            Self::Former { shift } => found.former = Former::Fitted { shift },
            Self::Winding { .. } => {}
        }
        found
    }

    /// Returns the factor by which the resonance of the build of [`Amount::applied`] is still to be multiplied.
    pub fn factor(self) -> f64 {
        match self {
            Self::Winding { shift } => 1.0 + shift,
            Self::Circuit { .. } | Self::Top { .. } | Self::Former { .. } => 1.0,
        }
    }
}

/// How well an explanation fits the usual builds of its kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Such a thing may well be there.
    Plausible,
    /// It would have to be larger than any that is likely; look for something else.
    TooLarge,
    /// It would have to be smaller than any that is likely; look for something else.
    TooSmall,
}

/// An explanation of a measured resonance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The value of the free thing.
    pub amount: Amount,
    /// Whether that is likely.
    pub verdict: Verdict,
    /// The least and the greatest amount that is likely, in the amount's unit.
    pub likely: Span,
    /// The build with it: the model's resonance of it, times [`Amount::factor`], is the measured one.
    pub spec: CoilSpec,
}

/// Why nothing explains it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// No amount reaches the measured resonance.
    #[error(
        "explanation of the measured resonance: found {} measured, {words} gives {} to {}",
        hertz(*.measured_hz), hertz(*.low_hz), hertz(*.high_hz)
    )]
    OutOfReach {
        /// The measured resonance, in hertz.
        measured_hz: f64,
        /// The lowest that the free thing gives, in hertz.
        low_hz: f64,
        /// The highest, in hertz.
        high_hz: f64,
        /// The free thing.
        words: &'static str,
    },
    /// The search did not end.
    #[error("explanation of the measured resonance: found no settled amount")]
    NotSettled,
    /// The ring model has no solution.
    #[error(transparent)]
    Rings(#[from] RingError),
    /// There is no band to judge a shift of the winding by.
    #[error(transparent)]
    Predict(#[from] PredictError),
}

fn hertz(value_hz: f64) -> String {
    rounded(value_hz, Unit::Hertz, 4)
}

/// Diameters of the circuit's disc that are tried, in metres: from a coin to a tray.
const CIRCUITS_M: Span = Span::new(0.01, 0.3);

/// Those that are likely, in metres: chosen, a 9 V battery alone to a board with long leads.
const LIKELY_CIRCUITS_M: Span = Span::new(0.025, 0.25);

/// The largest capacitance at the top that is tried, in farads.
const MOST_TOP_F: f64 = 100e-12;

/// Those that are likely beyond the load that the sheet has, in farads.
///
/// The largest is a hand 10 mm above the top that nobody noticed: it lowers the example coil by 11.4 % (computed with our
/// rings, a disc of 40 mm radius), as 0.4 pF do. A sphere or a lamp that stands there belongs on the sheet.
const LIKELY_TOPS_F: Span = Span::new(0.0, 0.4e-12);

/// Solves for the one thing that gives a build a measured resonance.
///
/// [`Free::Earth`] takes the circuit as floating, whatever the sheet says; the others leave the earth state as it is.
///
/// # Errors
/// [`FitError::OutOfReach`] if no amount does, [`FitError::Rings`] or [`FitError::Predict`] if the ring model
/// has no solution.
pub fn fit(spec: &CoilSpec, free: Free, measured_hz: f64) -> Result<Fit, FitError> {
    match free {
        Free::Earth => earth(spec, measured_hz),
        Free::Top => top(spec, measured_hz),
        Free::Former => former(spec, measured_hz),
        Free::Winding => winding(spec, measured_hz),
    }
}

/// Returns the model's resonance of a build, former and enamel counted, in hertz.
fn model_hz(spec: &CoilSpec) -> Result<f64, RingError> {
    let fineness = Fineness::for_turns(spec.winding.turns);
    let found_hz = frequency_hz(&scene(spec, Footing::of(spec.earth)), fineness)?;
    Ok(found_hz * (1.0 + former_shift(spec)?.value))
}

fn earth(spec: &CoilSpec, measured_hz: f64) -> Result<Fit, FitError> {
    let with = |diameter_m| Amount::Circuit { diameter_m }.applied(spec);
    let words = "a floating circuit of 10 to 300 mm";
    let diameter_m = solve(with, CIRCUITS_M, measured_hz, words)?;
    Ok(Fit {
        amount: Amount::Circuit { diameter_m },
        verdict: judged(diameter_m, LIKELY_CIRCUITS_M),
        likely: LIKELY_CIRCUITS_M,
        spec: with(diameter_m),
    })
}

fn top(spec: &CoilSpec, measured_hz: f64) -> Result<Fit, FitError> {
    let with = |capacitance_f| Amount::Top { capacitance_f }.applied(spec);
    let words = "0 to 100 pF from top to earth";
    let capacitance_f = solve(with, Span::new(0.0, MOST_TOP_F), measured_hz, words)?;
    Ok(Fit {
        amount: Amount::Top { capacitance_f },
        verdict: judged(capacitance_f, LIKELY_TOPS_F),
        likely: LIKELY_TOPS_F,
        spec: with(capacitance_f),
    })
}

/// Returns the amount at which the model meets a measured resonance; the resonance falls as the amount rises.
fn solve(
    with: impl Fn(f64) -> CoilSpec,
    amounts: Span,
    measured_hz: f64,
    words: &'static str,
) -> Result<f64, FitError> {
    let (high_hz, low_hz) = (
        model_hz(&with(amounts.low))?,
        model_hz(&with(amounts.high))?,
    );
    if !(low_hz..=high_hz).contains(&measured_hz) {
        return Err(FitError::OutOfReach {
            measured_hz,
            low_hz,
            high_hz,
            words,
        });
    }
    let off_hz = |amount| model_hz(&with(amount)).map(|found_hz| found_hz - measured_hz);
    brent(off_hz, amounts, amounts.width() * 1e-9).map_err(|error| match error {
        RootError::Function(error) => FitError::Rings(error),
        RootError::NoBracket | RootError::NotSettled => FitError::NotSettled,
    })
}

fn former(spec: &CoilSpec, measured_hz: f64) -> Result<Fit, FitError> {
    let with = |shift| Amount::Former { shift }.applied(spec);
    let shift = measured_hz / model_hz(&with(0.0))? - 1.0;
    // An unstated former may be anything from air to the largest shift of a former.
    let unsaid = former_shift(&CoilSpec {
        former: Former::Unsaid,
        ..*spec
    })?;
    Ok(Fit {
        amount: Amount::Former { shift },
        // A shift is the larger the farther it lies below zero.
        verdict: judged(-shift, Span::new(-unsaid.high, -unsaid.low)),
        likely: Span::new(unsaid.low, unsaid.high),
        spec: with(shift),
    })
}

/// The shift is likely as far as the winding's tolerances and the model's doubt reach, both being errors by chance.
fn winding(spec: &CoilSpec, measured_hz: f64) -> Result<Fit, FitError> {
    let parts = predict(&spec.without_measured_resonance())?
        .modelled
        .map_or_else(Vec::new, |modelled| modelled.parts);
    let chance: Vec<Part> = parts
        .into_iter()
        .filter(|part| matches!(part.cause, Cause::Winding | Cause::Model))
        .collect();
    let over = edges(&chance);
    let shift = measured_hz / model_hz(spec)? - 1.0;
    let likely = Span::new(over.low - 1.0, over.high - 1.0);
    Ok(Fit {
        amount: Amount::Winding { shift },
        verdict: judged(shift, likely),
        likely,
        spec: *spec,
    })
}

fn judged(amount: f64, likely: Span) -> Verdict {
    if amount < likely.low {
        Verdict::TooSmall
    } else if amount > likely.high {
        Verdict::TooLarge
    } else {
        Verdict::Plausible
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::predict::tests::example;

    fn near(got: f64, want: f64, relative: f64) {
        assert!((got / want - 1.0).abs() < relative, "{got} is not {want}");
    }

    #[test]
    fn the_build_found_is_predicted_to_do_what_was_measured() {
        for (free, measured_hz) in [
            (Free::Earth, 6.4e6),
            (Free::Top, 5.5e6),
            (Free::Former, 6.1e6),
            (Free::Winding, 6.3e6),
        ] {
            let found = fit(&example(), free, measured_hz).unwrap();
            let again_hz = predict(&found.spec).unwrap().resonance.value_hz;
            near(again_hz * found.amount.factor(), measured_hz, 1e-6);
        }
    }

    #[test]
    fn a_known_circuit_size_is_found_again() {
        let mut spec = example();
        spec.surroundings.plane = crate::coil::surroundings::Plane::None;
        spec.earth = EarthState::Standing;
        spec.surroundings.circuit_m = Some(0.08);
        let measured_hz = predict(&spec).unwrap().resonance.value_hz;
        spec.surroundings.circuit_m = None;
        let found = fit(&spec, Free::Earth, measured_hz).unwrap();
        let Amount::Circuit { diameter_m } = found.amount else {
            panic!("{found:?}");
        };
        near(diameter_m, 0.08, 1e-5);
        assert_eq!(found.verdict, Verdict::Plausible);
    }

    #[test]
    fn a_tenth_of_a_picofarad_at_the_top_is_seen() {
        // Another program of ours: 0.1 pF −3.3 %, 1 pF −24 %.
        let bare_hz = predict(&example()).unwrap().resonance.value_hz;
        for (share, want_f, within, verdict) in [
            (0.967, 0.1e-12, 0.03, Verdict::Plausible),
            (0.76, 1e-12, 0.04, Verdict::TooLarge),
        ] {
            let found = fit(&example(), Free::Top, bare_hz * share).unwrap();
            let Amount::Top { capacitance_f } = found.amount else {
                panic!("{found:?}");
            };
            near(capacitance_f, want_f, within);
            assert_eq!(found.verdict, verdict);
        }
    }

    #[test]
    fn what_a_hand_close_above_the_top_does_is_the_most_that_is_likely_there() {
        let bare_hz = model_hz(&example()).unwrap();
        let verdict = |share: f64| fit(&example(), Free::Top, bare_hz * share).unwrap().verdict;
        // Another program of ours: a disc of 40 mm radius 10 mm above the top −11.4 %, and 4 pF at the top about half.
        assert_eq!(verdict(1.0 - 0.114), Verdict::Plausible);
        for share in [0.85, 0.7, 0.5] {
            assert_eq!(verdict(share), Verdict::TooLarge, "{share}");
        }
    }

    #[test]
    fn winding_and_model_explain_either_sign_as_far_as_their_band_reaches() {
        let model = predict(&example()).unwrap();
        let chance = |pick: fn(&Part) -> f64| -> f64 {
            let parts = &model.modelled.as_ref().unwrap().parts;
            let of = parts
                .iter()
                .filter(|part| matches!(part.cause, Cause::Winding | Cause::Model));
            of.map(|part| pick(part).powi(2)).sum::<f64>().sqrt()
        };
        for (side, most) in [
            (1.0, chance(|part| part.high)),
            (-1.0, chance(|part| part.low)),
        ] {
            assert!((0.01..0.05).contains(&most), "{most}");
            let verdict = |share: f64| {
                let measured_hz = model.resonance.value_hz * (1.0 + side * share * most);
                fit(&example(), Free::Winding, measured_hz).unwrap().verdict
            };
            assert_eq!(verdict(0.99), Verdict::Plausible);
            assert_ne!(verdict(1.01), Verdict::Plausible);
        }
    }

    #[test]
    fn a_former_explains_one_per_cent_and_neither_twenty_nor_a_rise() {
        let bare_hz = predict(&example()).unwrap().resonance.value_hz;
        let verdict = |share: f64| {
            let found = fit(&example(), Free::Former, bare_hz * share);
            found.unwrap().verdict
        };
        assert_eq!(verdict(0.99), Verdict::Plausible);
        assert_eq!(verdict(0.8), Verdict::TooLarge);
        assert_eq!(verdict(1.02), Verdict::TooSmall);
    }

    #[test]
    fn what_no_amount_explains_is_refused_with_what_it_gives() {
        insta::assert_snapshot!(fit(&example(), Free::Top, 7e6).unwrap_err(), @"explanation of the measured resonance: found 7.000 MHz measured, 0 to 100 pF from top to earth gives 713.9 kHz to 6.217 MHz");
        insta::assert_snapshot!(fit(&example(), Free::Earth, 2e6).unwrap_err(), @"explanation of the measured resonance: found 2.000 MHz measured, a floating circuit of 10 to 300 mm gives 6.210 MHz to 8.381 MHz");
    }
}
