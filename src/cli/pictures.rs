//! Figures as files in a folder: the one place where commands draw.

use std::path::{Path, PathBuf};

use super::exit::{CANNOT_WRITE, Failure};
use super::output;
use crate::figure::Figure;
use crate::plain::Shown as _;
use crate::plot;
use crate::session::replace_file;

/// The advice where the folder is `--plots`, or the usual one.
pub(super) const PLOTS: &str =
    "name a folder for the plots with --plots, or draw none with --no-plots";
/// The advice where the folder is `--plot`.
pub(super) const PLOT: &str = "name a folder that can be written with --plot";

/// Draws figures into a folder, each under its name, and returns the files made.
pub(super) fn draw(
    pictures: &[(&str, Figure)],
    dir: &Path,
    hint: &str,
) -> Result<Vec<PathBuf>, Failure> {
    let drawn = pictures.iter().map(|(name, figure)| {
        let png = plot::png(figure, plot::usual_size(figure));
        let png = png.map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
        Ok((format!("{name}.png"), png))
    });
    write(&drawn.collect::<Result<Vec<_>, Failure>>()?, dir, hint)
}

/// Writes files into a folder, each whole, and returns the files made.
pub(super) fn write(
    files: &[(String, Vec<u8>)],
    dir: &Path,
    hint: &str,
) -> Result<Vec<PathBuf>, Failure> {
    std::fs::create_dir_all(dir).map_err(|error| {
        let text = format!("cannot make {}: {error}", dir.shown());
        Failure::new(CANNOT_WRITE, text).hint(hint)
    })?;
    let written = files.iter().map(|(name, bytes)| {
        let path = dir.join(name);
        replace_file(&path, bytes)
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error).hint(hint))?;
        Ok(path)
    });
    written.collect()
}

/// Says where pictures are.
pub(super) fn tell(paths: &[PathBuf]) {
    for path in paths {
        output::note(&format!("drawn to {}", path.shown()));
    }
}
