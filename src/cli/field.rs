//! The field around a coil, and what a pick-up sees of it, asked for behind `predict`.

use super::args::FieldArgs;
use super::exit::{Failure, USAGE};
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::supply::MODEL_DOUBT;
use crate::circuit::verdict::Judged;
use crate::coil::field::{Around, TopVoltage, VoltageOrigin};
use crate::coil::pickup::{Input, Signal, Span, Top, pick_up};
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
    let top = at_top(
        args,
        &format!("field of {}", sheet.name),
        prediction,
        outlook,
    )?;
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

/// The input that a pick-up is on, and what it sees, with the same voltage; `None` if none is asked for.
pub(super) fn signal(
    args: &FieldArgs,
    sheet: &Sheet,
    prediction: &Prediction,
    outlook: Option<&Outlook>,
) -> Result<Option<Signal>, Failure> {
    let Some((what, into)) = args.pick_up else {
        return Ok(None);
    };
    let input = match (into, args.input) {
        (Some(_), Some(_)) => {
            let found = "pick-up: found its input in --pickup and in --input, expected it in one";
            return Err(Failure::new(USAGE, found.to_owned()));
        }
        (into, typed) => into.or(typed).unwrap_or(Input::USUAL),
    };
    let typical = at_top(
        args,
        &format!("pick-up at {}", sheet.name),
        prediction,
        outlook,
    )?;
    let typed = Span {
        least: typical.amplitude_v,
        most: typical.amplitude_v,
    };
    let amplitude_v = match typical.origin {
        VoltageOrigin::Circuit { .. } => Span {
            least: least_of_circuit(prediction, outlook).map_or(typed.least, |top| top.amplitude_v),
            most: most_of_circuit(prediction, outlook).map_or(typed.most, |top| top.amplitude_v),
        },
        VoltageOrigin::Amplitude | VoltageOrigin::Rms => typed,
    };
    let top = Top {
        typical,
        amplitude_v,
    };
    let found_hz = prediction.resonance.value_hz;
    pick_up(&sheet.coil_spec(), found_hz, top, what, input)
        .map(Some)
        .map_err(|error| {
            Failure::from_error(USAGE, &error)
                .hint("the coil and what is near it stand in the sheet, the pick-up in --pickup")
        })
}

/// The voltage that was typed for the top, or the one that the circuit should give.
fn at_top(
    args: &FieldArgs,
    of: &str,
    prediction: &Prediction,
    outlook: Option<&Outlook>,
) -> Result<TopVoltage, Failure> {
    match (args.top_amplitude, args.top_rms) {
        (Some(amplitude_v), _) => Ok(TopVoltage::amplitude(amplitude_v)),
        (None, Some(rms_v)) => Ok(TopVoltage::rms(rms_v)),
        (None, None) => of_circuit(prediction, outlook).ok_or_else(|| {
            Failure::new(
                USAGE,
                format!("{of}: its circuit does not run with typical parts, expected a voltage at the top"),
            )
            .hint(most_top_v(outlook).map_or_else(
                || "type one with --top-amplitude or --top-rms".to_owned(),
                |most_v| {
                    let most = rounded(most_v * (1.0 + MODEL_DOUBT), Unit::Volt, 2).replace(' ', "");
                    format!("type one, such as the most with any parts: --top-amplitude {most}")
                },
            ))
        }),
    }
}

/// What the circuit gives with typical parts.
fn of_circuit(prediction: &Prediction, outlook: Option<&Outlook>) -> Option<TopVoltage> {
    let running = outlook?.verdict.set(Spread::Typical).running()?;
    let foot = prediction.at_foot?;
    Some(TopVoltage::of_circuit(running.top_v, foot.foot_share))
}

/// The voltages from foot to top with all parts with which it oscillates, in volts.
fn tops_v(outlook: &Outlook) -> impl Iterator<Item = f64> + '_ {
    let runs = outlook.verdict.sets.iter().flat_map(Judged::runs);
    runs.map(|running| running.top_v)
}

/// The most at the top with any parts, in volts.
fn most_top_v(outlook: Option<&Outlook>) -> Option<f64> {
    tops_v(outlook?).max_by(f64::total_cmp)
}

/// The least that the circuit may give with any parts with which it oscillates, the model's own doubt off it.
fn least_of_circuit(prediction: &Prediction, outlook: Option<&Outlook>) -> Option<TopVoltage> {
    let least_v = tops_v(outlook?).min_by(f64::total_cmp)? * (1.0 - MODEL_DOUBT);
    let share = prediction.at_foot?.foot_share;
    Some(TopVoltage::of_circuit(least_v, share))
}

/// The most that the circuit may give with any parts, the model's own doubt on top.
fn most_of_circuit(prediction: &Prediction, outlook: Option<&Outlook>) -> Option<TopVoltage> {
    let most_v = most_top_v(outlook)? * (1.0 + MODEL_DOUBT);
    // A foot that swings against the top takes some of it off; how much is known for the sheet's surroundings alone.
    let share = prediction.at_foot?.foot_share.max(0.0);
    Some(TopVoltage::of_circuit(most_v, share))
}
