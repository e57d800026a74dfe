//! The field around a coil, asked for behind `predict`.

use super::args::FieldArgs;
use super::exit::{Failure, USAGE};
use crate::circuit::outlook::Outlook;
use crate::circuit::sets::Spread;
use crate::coil::field::{Around, TopVoltage};
use crate::coil::prediction::Prediction;
use crate::sheet::Sheet;

/// The field of a build, with the voltage that was typed or the one its circuit should give; `None` if it is not asked for.
pub(super) fn around(
    args: &FieldArgs,
    sheet: &Sheet,
    prediction: &Prediction,
    outlook: Option<&Outlook>,
) -> Result<Option<Around>, Failure> {
    if !args.is_asked {
        return Ok(None);
    }
    let top = match (args.top_amplitude, args.top_rms) {
        (Some(amplitude_v), _) => TopVoltage::amplitude(amplitude_v),
        (None, Some(rms_v)) => TopVoltage::rms(rms_v),
        (None, None) => of_circuit(prediction, outlook).ok_or_else(|| {
            Failure::new(
                USAGE,
                format!(
                    "field of {}: found no circuit that runs with typical parts, a voltage at the top is wanted",
                    sheet.name
                ),
            )
            .hint("type one with --top-amplitude or --top-rms")
        })?,
    };
    Around::of(&sheet.coil_spec(), prediction.resonance.value_hz, top)
        .map(Some)
        .map_err(|error| {
            Failure::from_error(USAGE, &error)
                .hint("the coil and what is near it stand in the sheet")
        })
}

/// What the circuit gives with typical parts.
fn of_circuit(prediction: &Prediction, outlook: Option<&Outlook>) -> Option<TopVoltage> {
    let running = outlook?.verdict.set(Spread::Typical).running()?;
    let foot = prediction.at_foot?;
    Some(TopVoltage::of_circuit(running.top_v, foot.foot_share))
}
