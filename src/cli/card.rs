//! `predict --card`: the card for the bench, on stdout and on one page.

use std::path::Path;

use super::exit::{CANNOT_WRITE, Failure, Outcome};
use super::output;
use crate::circuit::outlook::Outlook;
use crate::coil::prediction::Prediction;
use crate::plain::Shown as _;
use crate::plot;
use crate::report::card::{Card, drawing, text};
use crate::session::replace_file;
use crate::sheet::Sheet;

pub(super) fn run(
    sheet: &Sheet,
    prediction: &Prediction,
    outlook: Option<&Outlook>,
    dir: Option<&Path>,
) -> Result<Outcome, Failure> {
    let card = Card::of(sheet, prediction, outlook);
    output::result(&text(&card))?;
    let Some(dir) = dir else {
        return Ok(Outcome::DONE);
    };
    let cannot_draw = |error| Failure::from_error(CANNOT_WRITE, &error);
    let drawing = drawing(&card);
    let svg = plot::drawing_svg(&drawing).map_err(cannot_draw)?;
    let png = plot::drawing_png(&drawing).map_err(cannot_draw)?;
    std::fs::create_dir_all(dir).map_err(|error| {
        Failure::new(
            CANNOT_WRITE,
            format!("cannot make {}: {error}", dir.shown()),
        )
        .hint("name a folder that can be written with --plot")
    })?;
    for (name, bytes) in [("card.svg", svg.as_bytes()), ("card.png", png.as_slice())] {
        let path = dir.join(name);
        replace_file(&path, bytes).map_err(|error| {
            Failure::from_error(CANNOT_WRITE, &error)
                .hint("name a folder that can be written with --plot")
        })?;
        output::note(&format!("drawn to {}", path.shown()));
    }
    Ok(Outcome::DONE)
}
