//! What explains a session's resonance, kept with the session as the build's good day.

use std::path::{Path, PathBuf};

use super::args::FitTo;
use super::exit::{CANNOT_WRITE, Failure, USAGE};
use super::settings::{origin, read_text};
use crate::analysis::compare::{Comparison, Level};
use crate::analysis::multiple::Multiple;
use crate::clock::Clock;
use crate::coil::fit::{Fit, FitError, Free, Verdict, fit};
use crate::coil::good_day::GoodDay;
use crate::coil::surroundings::EarthState;
use crate::session::{Session, move_aside, replace_file};
use crate::sheet::Sheet;
use crate::sheet::good_day::{KeptDay, parse};

/// The name of the file in the session's folder.
const NAME: &str = "good-day.toml";

impl From<FitTo> for Free {
    fn from(to: FitTo) -> Self {
        match to {
            FitTo::Earth => Self::Earth,
            FitTo::Top => Self::Top,
            FitTo::Former => Self::Former,
        }
    }
}

/// Reads a build's good day.
pub(super) fn read(path: &Path) -> Result<KeptDay, Failure> {
    parse(&read_text(path)?).map_err(|faults| {
        let origin = origin(path);
        Failure::new(USAGE, format!("good day {origin} has faults:\n{faults}"))
            .hint("make one with: sagtrace compare SESSION --fit earth")
    })
}

/// What is odd about judging a session against a good day; a good day of another build is refused.
pub(super) fn doubt(
    kept: &KeptDay,
    session: &Session,
    sheet: &Sheet,
) -> Result<Option<String>, Failure> {
    if kept.build != sheet.name {
        let (found, wanted) = (&kept.build, &sheet.name);
        return Err(Failure::new(
            USAGE,
            format!("good day: found one of {found:?}, one of {wanted:?} is wanted"),
        ));
    }
    let is_invented = kept.simulated && !session.meta.simulated;
    Ok(is_invented.then(|| {
        "the good day was invented by a virtual bench, this session was measured".to_owned()
    }))
}

/// An explanation with the level that it explains.
#[derive(Debug)]
pub(super) struct Explained {
    pub(super) fit: Fit,
    pub(super) level: Level,
    /// How the circuit stood to earth then.
    pub(super) earth: EarthState,
}

/// The earth state and the level that is to be explained: those at the start, but where a floating circuit is asked for, of
/// the first stretch that may have had one.
fn to_explain(sheet: &Sheet, comparison: &Comparison, to: FitTo) -> Option<(EarthState, Level)> {
    let told = comparison.stretches.iter().filter_map(|one| {
        let earth = one.stretch.earth.unwrap_or(sheet.earth);
        Some((earth, one.start.or(one.whole)?))
    });
    let told: Vec<_> = told.collect();
    let floats = |(earth, _): &&(EarthState, Level)| to == FitTo::Earth && earth.is_floating();
    told.iter().find(floats).or_else(|| told.first()).copied()
}

/// What one thing explains the resonance.
pub(super) fn explain(
    sheet: &Sheet,
    comparison: &Comparison,
    to: FitTo,
) -> Result<Explained, Failure> {
    let (earth, level) = to_explain(sheet, comparison, to).ok_or_else(|| {
        Failure::new(
            USAGE,
            "explanation of the resonance: found no good reading of a frequency",
        )
    })?;
    let mut spec = sheet.coil_spec();
    spec.earth = earth;
    let fit = fit(&spec, to.into(), level.mean_hz).map_err(|error| {
        let failure = Failure::from_error(USAGE, &error);
        let multiple = comparison.model.as_ref().and_then(|model| Multiple::of(level.mean_hz, model));
        match (error, multiple) {
            (FitError::OutOfReach { .. }, Some(_)) => {
                failure.hint("it looks like a harmonic (or a gate setting); look at the signal with a scope")
            }
            (FitError::OutOfReach { .. }, None) => {
                failure.hint("try another of --fit earth, top and former, or count turns and measure the coil again")
            }
            _ => failure,
        }
    })?;
    Ok(Explained { fit, level, earth })
}

/// Refuses a session that has a good day already, unless it may be moved aside.
pub(super) fn allow(session: &Session, force: bool) -> Result<(), Failure> {
    let path = session.dir().join(NAME);
    if !force && path.symlink_metadata().is_ok() {
        return Err(Failure::new(
            USAGE,
            format!("{}: found a good day already", path.display()),
        )
        .hint("--force moves it aside; it is never deleted"));
    }
    Ok(())
}

/// Keeps an explanation as the good day of the build; where, and what there is to tell.
pub(super) fn keep(
    session: &Session,
    sheet: &Sheet,
    explained: &Explained,
) -> Result<String, Failure> {
    if explained.fit.verdict != Verdict::Plausible {
        return Ok("not kept as a good day: it is not plausible".to_owned());
    }
    let path = session.dir().join(NAME);
    let kept = KeptDay {
        build: sheet.name.clone(),
        started: session.meta.started.clone(),
        simulated: session.meta.simulated,
        day: GoodDay {
            earth: explained.earth,
            measured_hz: explained.level.mean_hz,
            half_width_hz: explained.level.half_width_hz,
            amount: explained.fit.amount,
        },
    };
    let aside =
        write(&path, &kept.text()).map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
    let before = aside.map_or_else(String::new, |aside| {
        format!("; the one before is now {}", aside.display())
    });
    Ok(format!(
        "kept as the build's good day in {}{before}",
        path.display()
    ))
}

/// Writes the file whole; what stood there is moved aside.
fn write(path: &Path, text: &str) -> Result<Option<PathBuf>, crate::session::SessionError> {
    let aside = if path.symlink_metadata().is_ok() {
        Some(move_aside(path, Clock::real().now().wall_ms)?)
    } else {
        None
    };
    replace_file(path, text.as_bytes())?;
    Ok(aside)
}
