//! The field around a build, and the voltage of a pick-up beside it. The build's top has the voltage that its circuit should
//! give, or the one typed.

use super::Sheet;
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::supply::MODEL_DOUBT;
use crate::circuit::verdict::Judged;
use crate::coil::field::{Around, FieldError, TopVoltage, VoltageOrigin};
use crate::coil::pickup::{Input, PickUp, PickUpError, Signal, Top, pick_up};
use crate::coil::prediction::Prediction;
use crate::units::Span;

/// No voltage at the top is known: the circuit does not run with typical parts, and none was typed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("its circuit does not run with typical parts, expected a voltage at the top")]
pub struct NoTopVoltage {
    /// The most that is to be expected with any parts, the model's doubt on top, in volts; `None` where none oscillates.
    pub most_v: Option<f64>,
}

/// No field, or no signal.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AroundError {
    /// The voltage is not known; `of` is the result that needs it.
    #[error("{of} {build}: {why}")]
    Top {
        /// The result that needs the voltage.
        of: &'static str,
        /// The build's name.
        build: String,
        /// Why there is none.
        why: NoTopVoltage,
    },
    /// The field can't be computed.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// The pick-up can't be computed.
    #[error(transparent)]
    PickUp(#[from] PickUpError),
}

/// A build as predicted, with the voltage at its top.
#[derive(Debug, Clone, Copy)]
pub struct AtTop<'a> {
    /// The sheet.
    pub sheet: &'a Sheet,
    /// Its coil as predicted.
    pub prediction: &'a Prediction,
    /// Its circuit; `None` where it is not known.
    pub outlook: Option<&'a Outlook>,
    /// The voltage that was typed.
    pub typed: Option<TopVoltage>,
}

impl AtTop<'_> {
    /// The field of the build.
    ///
    /// # Errors
    /// [`AroundError`] where no voltage is known, or the field can't be computed.
    pub fn around(&self) -> Result<Around, AroundError> {
        let top = self.top("field of")?;
        let found = &self.prediction.resonance;
        let most = match top.origin {
            VoltageOrigin::Circuit { .. } => self.most_of_circuit().unwrap_or(top),
            VoltageOrigin::Amplitude | VoltageOrigin::Rms => top,
        };
        let spec = self.sheet.coil_spec();
        let around = Around::of(&spec, found.value_hz, top)?;
        Ok(around.over(&spec, found.high_hz.max(found.value_hz), most)?)
    }

    /// Returns the signal of a pick-up into an input.
    ///
    /// # Errors
    /// [`AroundError`] where no voltage is known, or the pick-up can't be computed.
    pub fn signal(&self, what: PickUp, input: Input) -> Result<Signal, AroundError> {
        let typical = self.top("pick-up at")?;
        let (mut least, mut most) = (typical.amplitude_v, typical.amplitude_v);
        if let VoltageOrigin::Circuit { .. } = typical.origin {
            least = self.least_of_circuit().map_or(least, |top| top.amplitude_v);
            most = self.most_of_circuit().map_or(most, |top| top.amplitude_v);
        }
        let top = Top {
            typical,
            amplitude_v: Span::new(least, most),
        };
        let found_hz = self.prediction.resonance.value_hz;
        Ok(pick_up(
            &self.sheet.coil_spec(),
            found_hz,
            top,
            what,
            input,
        )?)
    }

    /// The voltage that was typed for the top, or the one that the circuit should give.
    fn top(&self, of: &'static str) -> Result<TopVoltage, AroundError> {
        let found = self.typed.or_else(|| self.of_circuit());
        found.ok_or_else(|| AroundError::Top {
            of,
            build: self.sheet.name.clone(),
            why: NoTopVoltage {
                most_v: self.most_top_v().map(|most_v| most_v * (1.0 + MODEL_DOUBT)),
            },
        })
    }

    /// Returns the circuit's voltage with typical parts.
    fn of_circuit(&self) -> Option<TopVoltage> {
        let running = self.outlook?.verdict.set(Spread::Typical).running()?;
        let foot = self.prediction.at_foot?;
        Some(TopVoltage::of_circuit(running.top_v, foot.foot_share))
    }

    /// The voltages from foot to top with all parts with which it oscillates, in volts.
    fn tops_v(&self) -> impl Iterator<Item = f64> + '_ {
        let sets = self.outlook.map(|outlook| outlook.verdict.sets.iter());
        let runs = sets.into_iter().flatten().flat_map(Judged::runs);
        runs.map(|running| running.top_v)
    }

    /// The most at the top with any parts, in volts.
    fn most_top_v(&self) -> Option<f64> {
        self.tops_v().max_by(f64::total_cmp)
    }

    /// The least that the circuit may give with any parts with which it oscillates, the model's own doubt off it.
    fn least_of_circuit(&self) -> Option<TopVoltage> {
        let least_v = self.tops_v().min_by(f64::total_cmp)? * (1.0 - MODEL_DOUBT);
        let share = self.prediction.at_foot?.foot_share;
        Some(TopVoltage::of_circuit(least_v, share))
    }

    /// The most that the circuit may give with any parts, the model's own doubt on top.
    fn most_of_circuit(&self) -> Option<TopVoltage> {
        let most_v = self.most_top_v()? * (1.0 + MODEL_DOUBT);
        // A foot that swings against the top takes some of it off; how much is known for the sheet's surroundings alone.
        let share = self.prediction.at_foot?.foot_share.max(0.0);
        Some(TopVoltage::of_circuit(most_v, share))
    }
}
