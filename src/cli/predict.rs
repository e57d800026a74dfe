//! `predict`: what the build should do.

use super::args::{Earth, Format, PredictArgs};
use super::exit::{Failure, Outcome, USAGE};
use super::{output, sheet};
use crate::coil::predict::predict;
use crate::coil::prediction::Prediction;
use crate::coil::surroundings::EarthState;
use crate::report;
use crate::sheet::Sheet;

pub(super) fn run(args: &PredictArgs) -> Result<Outcome, Failure> {
    let (mut sheet, _) = sheet::read(&args.sheet)?;
    if let Some(earth) = args.earth {
        sheet.earth = earth.into();
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
