//! The field around a coil, and the voltage of a pick-up in it, asked for behind `predict`.

use crate::circuit::outlook::Outlook;
use crate::cli::args::FieldArgs;
use crate::cli::exit::{Failure, USAGE};
use crate::coil::field::{Around, TopVoltage};
use crate::coil::pickup::{Input, Signal};
use crate::coil::prediction::Prediction;
use crate::report::predict::field::type_one;
use crate::sheet::{
    Sheet,
    around::{AroundError, AtTop},
};

/// The build with the voltage that was typed, if one was.
pub(super) fn at_top<'a>(
    args: &FieldArgs,
    sheet: &'a Sheet,
    prediction: &'a Prediction,
    outlook: Option<&'a Outlook>,
) -> AtTop<'a> {
    let amplitude = args.top_amplitude.map(TopVoltage::amplitude);
    AtTop {
        sheet,
        prediction,
        outlook,
        typed: amplitude.or_else(|| args.top_rms.map(TopVoltage::rms)),
    }
}

/// The field; `None` if it is not asked for.
pub(super) fn around(args: &FieldArgs, top: &AtTop<'_>) -> Result<Option<Around>, Failure> {
    let asked = args.is_asked.then(|| top.around()).transpose();
    asked.map_err(|error| failure(&error, "the coil and what is near it stand in the sheet"))
}

/// Returns the signal of a pick-up; `None` if none is asked for.
pub(super) fn signal(args: &FieldArgs, top: &AtTop<'_>) -> Result<Option<Signal>, Failure> {
    let Some((what, into)) = args.pick_up else {
        return Ok(None);
    };
    if into.is_some() && args.input.is_some() {
        let found = "pick-up: found its input in --pickup and in --input, expected it in one";
        return Err(Failure::new(USAGE, found));
    }
    let input = into.or(args.input).unwrap_or(Input::USUAL);
    let hint = "the coil and what is near it stand in the sheet, the pick-up in --pickup";
    let signal = top.signal(what, input);
    signal.map(Some).map_err(|error| failure(&error, hint))
}

fn failure(error: &AroundError, hint: &str) -> Failure {
    let failure = Failure::from_error(USAGE, error);
    let AroundError::Top { why, .. } = error else {
        return failure.hint(hint);
    };
    failure.hint(type_one(why.most_v))
}
