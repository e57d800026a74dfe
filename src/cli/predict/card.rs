//! `predict --card`: the card for the bench, on stdout and on one page.

use std::path::Path;

use crate::circuit::outlook::Outlook;
use crate::cli::exit::{CANNOT_WRITE, Failure, Outcome};
use crate::cli::{output, pictures};
use crate::coil::prediction::Prediction;
use crate::plot;
use crate::report::card::{Card, drawing, text};
use crate::sheet::Sheet;

pub(super) fn run(
    sheet: &Sheet,
    prediction: &Prediction,
    outlook: Option<&Outlook>,
    dir: Option<&Path>,
) -> Result<Outcome, Failure> {
    let card = Card::of(sheet, prediction, outlook);
    output::result(&output::account(text(&card)))?;
    let Some(dir) = dir else {
        return Ok(Outcome::DONE);
    };
    let cannot_draw = |error| Failure::from_error(CANNOT_WRITE, &error);
    let drawing = drawing(&card);
    let svg = plot::drawing_svg(&drawing).map_err(cannot_draw)?;
    let png = plot::drawing_png(&drawing).map_err(cannot_draw)?;
    let files = [
        ("card.svg".to_owned(), svg.into_bytes()),
        ("card.png".to_owned(), png),
    ];
    pictures::tell(&pictures::write(&files, dir, pictures::PLOT)?);
    Ok(Outcome::DONE)
}
