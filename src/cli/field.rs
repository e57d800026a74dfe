//! The field around a coil, asked for behind `predict`.

use super::args::FieldArgs;
use super::exit::{Failure, USAGE};
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::supply::MODEL_DOUBT;
use crate::circuit::verdict::Judged;
use crate::coil::field::{Around, TopVoltage, VoltageOrigin};
use crate::coil::prediction::Prediction;
use crate::sheet::Sheet;
use crate::units::{Unit, rounded};

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
                    "field of {}: its circuit does not run with typical parts, expected a voltage at the top",
                    sheet.name
                ),
            )
            .hint(most_top_v(outlook).map_or_else(
                || "type one with --top-amplitude or --top-rms".to_owned(),
                |most_v| {
                    let most = rounded(most_v * (1.0 + MODEL_DOUBT), Unit::Volt, 2).replace(' ', "");
                    format!("type one, such as the most with any parts: --top-amplitude {most}")
                },
            ))
        })?,
    };
    let spec = sheet.coil_spec();
    let found = &prediction.resonance;
    let most = match top.origin {
        VoltageOrigin::Circuit { .. } => most_of_circuit(prediction, outlook).unwrap_or(top),
        VoltageOrigin::Amplitude | VoltageOrigin::Rms => top,
    };
    Around::of(&spec, found.value_hz, top)
        .and_then(|around| around.over(&spec, found.high_hz.max(found.value_hz), most))
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

/// The most at the top with any parts, in volts.
fn most_top_v(outlook: Option<&Outlook>) -> Option<f64> {
    let sets = &outlook?.verdict.sets;
    let tops = sets
        .iter()
        .flat_map(Judged::runs)
        .map(|running| running.top_v);
    tops.max_by(f64::total_cmp)
}

/// The most that the circuit may give with any parts, the model's own doubt on top.
fn most_of_circuit(prediction: &Prediction, outlook: Option<&Outlook>) -> Option<TopVoltage> {
    let most_v = most_top_v(outlook)? * (1.0 + MODEL_DOUBT);
    // A foot that swings against the top takes some of it off; how much is known for the sheet's surroundings alone.
    let share = prediction.at_foot?.foot_share.max(0.0);
    Some(TopVoltage::of_circuit(most_v, share))
}
