//! `predict`: what the build should do.

use std::path::Path;

use super::args::{Earth, Format, PredictArgs};
use super::exit::{CANNOT_WRITE, Failure, Outcome, USAGE};
use super::{output, sheet};
use crate::coil::figures;
use crate::coil::predict::predict;
use crate::coil::prediction::Prediction;
use crate::coil::surroundings::EarthState;
use crate::coil::wanted::wanted;
use crate::plot;
use crate::report;
use crate::session::replace_file;
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
    if let Some(dir) = &args.plot {
        draw(&sheet, &prediction, dir)?;
    }
    Ok(Outcome::DONE)
}

/// Draws the pictures of a prediction into a folder.
fn draw(sheet: &Sheet, prediction: &Prediction, dir: &Path) -> Result<(), Failure> {
    let spec = sheet.coil_spec();
    let cannot_draw = |error| Failure::from_error(USAGE, &error);
    let pictures = [
        (
            "mode-along-the-coil",
            figures::mode(&sheet.name, &spec, prediction).map_err(cannot_draw)?,
        ),
        (
            "resonance-against-a-hand",
            figures::hand(&sheet.name, &spec, prediction).map_err(cannot_draw)?,
        ),
    ];
    std::fs::create_dir_all(dir).map_err(|error| {
        Failure::new(
            CANNOT_WRITE,
            format!("cannot make {}: {error}", dir.display()),
        )
        .hint("name a folder that can be written with --plot")
    })?;
    for (name, figure) in pictures {
        let path = dir.join(format!("{name}.png"));
        let png = plot::png(&figure, plot::usual_size(&figure))
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
        replace_file(&path, &png).map_err(|error| {
            Failure::from_error(CANNOT_WRITE, &error)
                .hint("name a folder that can be written with --plot")
        })?;
        output::note(&format!("drawn to {}", path.display()));
    }
    Ok(())
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
