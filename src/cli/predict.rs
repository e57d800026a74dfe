//! `predict`: what the build should do.

use super::args::{Earth, Format, PredictArgs};
use super::exit::{Failure, Outcome, USAGE};
use super::{output, sheet};
use crate::coil::predict::predict;
use crate::coil::prediction::Prediction;
use crate::coil::surroundings::EarthState;
use crate::coil::wanted::wanted;
use crate::report;
use crate::sheet::Sheet;

pub(super) fn run(args: &PredictArgs) -> Result<Outcome, Failure> {
    let (mut sheet, _) = sheet::read(&args.sheet)?;
    if let Some(earth) = args.earth {
        sheet.earth = earth.into();
    }
    if let Some(wanted_hz) = args.wanted {
        return wind_to(&sheet, wanted_hz, args.format);
    }
    let prediction = prediction(&sheet)?;
    let text = match args.format {
        Format::Text => report::predict::text(&sheet, &prediction),
        Format::Json => report::predict_json::json(&sheet, &prediction).map_err(|error| {
            Failure::new(
                USAGE,
                format!("cannot write the prediction as JSON: {error}"),
            )
        })?,
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

/// The turns that resonate at a frequency.
fn wind_to(sheet: &Sheet, wanted_hz: f64, format: Format) -> Result<Outcome, Failure> {
    let found = wanted(&sheet.coil_spec(), wanted_hz).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("another wire, pitch or diameter in the sheet moves what can be wound")
    })?;
    let text = match format {
        Format::Text => report::predict_wanted::text(sheet, wanted_hz, &found),
        Format::Json => format!(
            "{:#}\n",
            report::predict_wanted::json(sheet, wanted_hz, &found)
        ),
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

/// The prediction of a sheet.
pub(super) fn prediction(sheet: &Sheet) -> Result<Prediction, Failure> {
    predict(&sheet.coil_spec()).map_err(|error| Failure::from_error(USAGE, &error))
}

impl From<Earth> for EarthState {
    fn from(earth: Earth) -> Self {
        match earth {
            Earth::Standing => Self::Standing,
            Earth::Held => Self::Held,
            Earth::Clipped => Self::Clipped,
            Earth::Earthed => Self::Earthed,
        }
    }
}
