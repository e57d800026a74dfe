//! What explains a session's resonance, kept with the session as the build's good day.

use std::path::{Path, PathBuf};

use super::args::FitTo;
use super::exit::{CANNOT_WRITE, Failure, USAGE};
use super::settings::{origin, read_text};
use crate::analysis::compare::Comparison;
use crate::analysis::level::Level;
use crate::analysis::multiple::Multiple;
use crate::clock::Clock;
use crate::coil::fit::{Amount, Fit, FitError, Free, Verdict, fit};
use crate::coil::good_day::GoodDay;
use crate::coil::predict::predict;
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::EarthState;
use crate::plain::Shown as _;
use crate::report::compare::explained::is_contradicted;
use crate::session::{Session, move_aside, replace_file};
use crate::sheet::Sheet;
use crate::sheet::good_day::{KeptDay, parse};
use crate::units::{Unit, rounded};

/// The name of the file in the session's folder.
const NAME: &str = "good-day.toml";

impl From<FitTo> for Free {
    fn from(to: FitTo) -> Self {
        match to {
            FitTo::Earth => Self::Earth,
            FitTo::Top => Self::Top,
            FitTo::Former => Self::Former,
            FitTo::Winding => Self::Winding,
        }
    }
}

/// Reads a build's good day.
pub(super) fn read(path: &Path) -> Result<KeptDay, Failure> {
    parse(&read_text(path)?).map_err(|faults| {
        let origin = origin(path);
        Failure::new(USAGE, format!("good day {origin} has faults:\n{faults}"))
            .hint("make one with: sagtrace compare SESSION --fit winding")
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
    let day = &kept.day;
    if matches!(day.amount, Amount::Circuit { .. }) && !day.earth.is_floating() {
        return Ok(Some(format!(
            "the good day takes as floating a circuit that was recorded as {}: make another with --fit winding --force",
            day.earth.name()
        )));
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

/// How near a session must come to the resonance that its sheet has as measured, to be taken for the same, as a share:
/// chosen, ten times [`crate::coil::good_day::REPEAT`].
const AS_THE_SHEET_SAYS: f64 = 0.05;

/// Refuses a reading that is a multiple of what the coil does: no amount of anything would be the truth about it.
fn refuse_multiple(spec: &CoilSpec, measured_hz: f64) -> Result<(), Failure> {
    let told_hz = spec.measured.frequency_hz;
    if told_hz.is_some_and(|told_hz| (measured_hz / told_hz - 1.0).abs() < AS_THE_SHEET_SAYS) {
        return Ok(());
    }
    let model = predict(&spec.without_measured_resonance())
        .map_err(|error| Failure::from_error(USAGE, &error))?
        .resonance;
    let Some(multiple) = Multiple::of(measured_hz, &model) else {
        return Ok(());
    };
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 4);
    Err(Failure::new(
        USAGE,
        format!(
            "explanation of the resonance: found {} measured, about {} times the {} of the model; a multiple is not explained",
            hertz(measured_hz),
            multiple.factor(),
            hertz(model.value_hz)
        ),
    )
    .hint("it looks like a harmonic (or a gate setting); look at the signal with a scope"))
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
    refuse_multiple(&spec, level.mean_hz)?;
    let fit = fit(&spec, to.into(), level.mean_hz).map_err(|error| {
        let failure = Failure::from_error(USAGE, &error);
        match error {
            FitError::OutOfReach { .. } => failure.hint(
                "try another of --fit winding, earth, top and former, or count turns and measure the coil again",
            ),
            _ => failure,
        }
    })?;
    Ok(Explained { fit, level, earth })
}

/// Refuses a session that has a good day already, unless it may be moved aside.
pub(super) fn allow(session: &Session, force: bool) -> Result<(), Failure> {
    let path = session.dir().join(NAME);
    if !force && path.symlink_metadata().is_ok() {
        return Err(
            Failure::new(USAGE, format!("{}: found a good day already", path.shown()))
                .hint("--force moves it aside; it is never deleted"),
        );
    }
    Ok(())
}

/// Keeps an explanation as the good day of the build; where, and what there is to tell.
pub(super) fn keep(
    session: &Session,
    sheet: &Sheet,
    explained: &Explained,
) -> Result<String, Failure> {
    if let Some(why) = not_to_be_kept(sheet, explained) {
        return Ok(format!("not kept as a good day: {why}"));
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
        format!("; the one before is now {}", aside.shown())
    });
    Ok(format!(
        "kept as the build's good day in {}{before}",
        path.shown()
    ))
}

/// Why an explanation is none that later sessions may be judged by, with the one that may be.
fn not_to_be_kept(sheet: &Sheet, explained: &Explained) -> Option<String> {
    let Explained {
        fit: found,
        level,
        earth,
    } = explained;
    let why = if is_contradicted(found, *earth) {
        format!(
            "the session was recorded as {}, and this takes the circuit as floating",
            earth.name()
        )
    } else if found.verdict != Verdict::Plausible {
        "it is not plausible".to_owned()
    } else {
        return None;
    };
    let mut spec = sheet.coil_spec();
    spec.earth = *earth;
    let winding = fit(&spec, Free::Winding, level.mean_hz);
    let may_be_winding = winding.is_ok_and(|fit| fit.verdict == Verdict::Plausible);
    let instead = if may_be_winding {
        "; winding and model alone may do it: --fit winding"
    } else {
        ""
    };
    Some(why + instead)
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
