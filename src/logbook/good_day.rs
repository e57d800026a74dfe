//! The explanation of a session's resonance, kept with the session as the build's good day.

use std::path::PathBuf;

use super::error::LogbookError;
use crate::analysis::compare::Comparison;
use crate::analysis::level::Level;
use crate::analysis::multiple::Multiple;
use crate::coil::fit::{Fit, Free, Verdict, fit};
use crate::coil::good_day::GoodDay;
use crate::coil::predict::predict;
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::EarthState;
use crate::session::{Session, SessionError, move_aside, replace_file};
use crate::sheet::Sheet;
use crate::sheet::good_day::KeptDay;

/// The name of the file in the session's folder.
const NAME: &str = "good-day.toml";

/// Something odd about judging a session against a good day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// It takes as floating a circuit that was recorded in this earth state.
    TakesAsFloating(EarthState),
    /// A virtual bench invented it, and the session was measured.
    Invented,
}

/// Returns what is odd about judging a session against a good day; `None` if nothing is.
///
/// # Errors
/// [`LogbookError::OtherBuild`].
pub fn doubt(
    kept: &KeptDay,
    session: &Session,
    sheet: &Sheet,
) -> Result<Option<Doubt>, LogbookError> {
    if kept.build != sheet.name {
        return Err(LogbookError::OtherBuild {
            found: kept.build.clone(),
            wanted: sheet.name.clone(),
        });
    }
    let day = &kept.day;
    if day.amount.contradicts(day.earth) {
        return Ok(Some(Doubt::TakesAsFloating(day.earth)));
    }
    let is_invented = kept.simulated && !session.meta.simulated;
    Ok(is_invented.then_some(Doubt::Invented))
}

/// An explanation with the level that it explains.
#[derive(Debug)]
pub struct Explained {
    /// The explanation.
    pub fit: Fit,
    /// The level.
    pub level: Level,
    /// How the circuit stood to earth then.
    pub earth: EarthState,
}

/// Returns the earth state and the level that is to be explained: those at the start. Where a floating circuit is asked for, they
/// are those of the first stretch that may have had one.
fn to_explain(sheet: &Sheet, comparison: &Comparison, free: Free) -> Option<(EarthState, Level)> {
    let told = comparison.stretches.iter().filter_map(|one| {
        let earth = one.stretch.earth.unwrap_or(sheet.earth);
        Some((earth, one.start.or(one.whole)?))
    });
    let told: Vec<_> = told.collect();
    let floats = |(earth, _): &&(EarthState, Level)| free == Free::Earth && earth.is_floating();
    told.iter().find(floats).or_else(|| told.first()).copied()
}

/// How near a session must come to the measured resonance of its sheet to count as the same, as a share. Chosen: ten times
/// [`crate::coil::good_day::REPEAT`].
const AS_THE_SHEET_SAYS: f64 = 0.05;

/// Refuses a reading that is a multiple of the coil's frequency: no amount of anything would be the truth about it.
fn refuse_multiple(spec: &CoilSpec, measured_hz: f64) -> Result<(), LogbookError> {
    let told_hz = spec.measured.frequency_hz;
    if told_hz.is_some_and(|told_hz| (measured_hz / told_hz - 1.0).abs() < AS_THE_SHEET_SAYS) {
        return Ok(());
    }
    let model = predict(&spec.without_measured_resonance())?.resonance;
    Multiple::of(measured_hz, &model).map_or(Ok(()), |multiple| {
        Err(LogbookError::Multiple {
            measured_hz,
            factor: multiple.factor(),
            modelled_hz: model.value_hz,
        })
    })
}

/// How much of one thing explains the resonance.
///
/// # Errors
/// [`LogbookError`] where there is nothing to explain, it is a multiple, or no amount explains it.
pub fn explain(
    sheet: &Sheet,
    comparison: &Comparison,
    free: Free,
) -> Result<Explained, LogbookError> {
    let (earth, level) = to_explain(sheet, comparison, free).ok_or(LogbookError::NoReading)?;
    let mut spec = sheet.coil_spec();
    spec.earth = earth;
    refuse_multiple(&spec, level.mean_hz)?;
    let fit = fit(&spec, free, level.mean_hz)?;
    Ok(Explained { fit, level, earth })
}

/// Refuses a session that has a good day already.
///
/// # Errors
/// [`LogbookError::HasGoodDay`].
pub fn refuse_second(session: &Session) -> Result<(), LogbookError> {
    if is_kept(session) {
        return Err(LogbookError::HasGoodDay(session.dir().join(NAME)));
    }
    Ok(())
}

/// Whether a session has a good day already.
pub fn is_kept(session: &Session) -> bool {
    session.dir().join(NAME).symlink_metadata().is_ok()
}

/// The outcome of keeping an explanation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Keeping {
    /// It is the build's good day now.
    Kept {
        /// Its place.
        path: PathBuf,
        /// The place where the one before is now.
        before: Option<PathBuf>,
    },
    /// It is none that later sessions may be judged by.
    NotKept {
        /// The earth state that was recorded, where it takes the circuit as floating; `None` where it is not plausible.
        contradicts: Option<EarthState>,
        /// Whether winding and model alone may explain the resonance.
        may_be_winding: bool,
    },
}

/// Keeps an explanation as the good day of the build, if it may be one. A good day already there is moved aside, named by
/// `now_ms`.
///
/// # Errors
/// [`SessionError`] when it can't be written.
pub fn keep(
    session: &Session,
    sheet: &Sheet,
    explained: &Explained,
    now_ms: i64,
) -> Result<Keeping, SessionError> {
    let contradicts = explained.fit.amount.contradicts(explained.earth);
    if contradicts || explained.fit.verdict != Verdict::Plausible {
        let mut spec = sheet.coil_spec();
        spec.earth = explained.earth;
        let winding = fit(&spec, Free::Winding, explained.level.mean_hz);
        return Ok(Keeping::NotKept {
            contradicts: contradicts.then_some(explained.earth),
            may_be_winding: winding.is_ok_and(|fit| fit.verdict == Verdict::Plausible),
        });
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
    let before = if path.symlink_metadata().is_ok() {
        Some(move_aside(&path, now_ms)?)
    } else {
        None
    };
    replace_file(&path, kept.text().as_bytes())?;
    Ok(Keeping::Kept { path, before })
}
