//! `compare`: a session against the model of its build, or a build sheet against another.

use std::path::Path;

use super::args::{CompareArgs, FitTo, Format};
use super::exit::{ANSWER_IS_NO, CANNOT_WRITE, Failure, Outcome, USAGE};
use super::settings::{origin, read_text};
use super::{output, pictures, sheet};
use crate::analysis::figures::RatioUnit;
use crate::clock::Clock;
use crate::coil::fit::Free;
use crate::logbook::{self, Compared, good_day};
use crate::report::compare::answer::{Of, answer};
use crate::report::compare::session as told;
use crate::report::sheets;
use crate::session::Session;
use crate::sheet::differences::Walk;
use crate::sheet::good_day::{KeptDay, parse};

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    if let Some(other) = &args.other {
        return two_sheets(args, other);
    }
    if args.session.is_file() {
        return Err(one_file(&args.session));
    }
    let session = open(&args.session)?;
    let build = args.build.as_deref().map(sheet::read).transpose()?;
    let sheet = logbook::sheet_in_force(&session, build.as_ref().map(|(_, text)| &**text))?;
    if args.fit.to.is_some() && !args.fit.force {
        good_day::refuse_second(&session)?;
    }
    let kept = match (&sheet, &args.good_day) {
        (Some(sheet), Some(path)) => {
            let kept = read_good_day(path)?;
            let doubt = good_day::doubt(&kept, &session, sheet)?;
            Some((kept, doubt))
        }
        (None, Some(_)) => return Err(no_sheet("--good-day")),
        (_, None) => None,
    };
    let planned = logbook::planned(
        &session,
        sheet.as_ref(),
        kept.as_ref().map(|(kept, _)| kept),
    )?;
    let compared = Compared::of(&session, planned.stretches, sheet.as_ref())?;
    let explained = match (args.fit.to, &sheet) {
        (Some(to), Some(sheet)) => {
            let found = good_day::explain(sheet, &compared.comparison, to.into())?;
            Some((found, sheet))
        }
        (Some(_), None) => return Err(no_sheet("--fit")),
        (None, _) => None,
    };
    let found = explained.as_ref().map(|(found, _)| found);
    // A sheet that was named is the person's own choice.
    let is_sheet_changed = args.build.is_none() && session.build_sheet_changed();
    output::result(&match args.format {
        Format::Text if args.detail => {
            output::account(told::text(&session, is_sheet_changed, &compared, found))
        }
        Format::Text => {
            let of = Of {
                meta: &session.meta,
                dir: &args.session,
                is_sheet_changed,
                has_good_day: found.is_some() || good_day::is_kept(&session),
            };
            answer(of, &compared, found, output::width())
        }
        Format::Json => output::json(&told::form(is_sheet_changed, &compared, found))?,
    })?;
    if let Some((found, sheet)) = &explained {
        let kept = good_day::keep(&session, sheet, found, Clock::real().now().wall_ms)
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
        output::note(&told::keeping(&kept));
    }
    let mut warnings = told::warnings(&session, &compared);
    warnings.extend(told::unknown_states(&planned.unknown_states));
    warnings.extend(kept.and_then(|(_, doubt)| doubt.map(told::doubt)));
    for warning in &warnings {
        output::note(warning);
    }
    if !args.no_plots {
        let ratio = if args.ppm {
            RatioUnit::Ppm
        } else {
            RatioUnit::Percent
        };
        let usual = || session.dir().join("plots");
        let dir = args.plots.clone().unwrap_or_else(usual);
        let figures = logbook::pictures(&session, &compared, ratio)?;
        pictures::tell(&pictures::draw(&figures, &dir, pictures::PLOTS)?);
    }
    if args.strict && !compared.is_inside() {
        return Ok(Outcome(ANSWER_IS_NO));
    }
    Ok(Outcome::DONE)
}

/// The differences of two sheets, one at a time.
fn two_sheets(args: &CompareArgs, other: &Path) -> Result<Outcome, Failure> {
    let (mine, _) = sheet::read(&args.session)?;
    let (theirs, _) = sheet::read(other)?;
    let walk = Walk::of(&mine, &theirs);
    output::result(&match args.format {
        Format::Text if args.detail => {
            output::account(sheets::text(&mine.name, &theirs.name, &walk))
        }
        Format::Text => sheets::answer::answer(
            (&mine.name, &args.session),
            (&theirs.name, other),
            &walk,
            output::width(),
        ),
        Format::Json => output::json(&sheets::Json::new(&mine.name, &theirs.name, &walk))?,
    })?;
    Ok(Outcome::DONE)
}

/// Opens a session folder.
pub(super) fn open(dir: &Path) -> Result<Session, Failure> {
    Ok(Session::open(dir)?)
}

/// A file where a session folder is expected.
fn one_file(path: &Path) -> Failure {
    let is_sheet = read_text(path).is_ok_and(|text| text.contains("[coil]"));
    let kind = if is_sheet { "a build sheet" } else { "a file" };
    let name = origin(path);
    let failure = Failure::new(
        USAGE,
        format!("{name}: that is {kind}; compare takes a session folder, or two sheets"),
    );
    if is_sheet {
        failure.hint(format!("for the sheet alone: sagtrace predict {name}"))
    } else {
        failure.hint("name the folder that record made, the one with session.toml in it")
    }
}

/// Reads a build's good day.
fn read_good_day(path: &Path) -> Result<KeptDay, Failure> {
    parse(&read_text(path)?).map_err(|faults| {
        let origin = origin(path);
        Failure::new(USAGE, format!("good day {origin} has faults:\n{faults}"))
            .hint("make one with: sagtrace compare SESSION --fit winding")
    })
}

fn no_sheet(option: &str) -> Failure {
    Failure::new(
        USAGE,
        format!("{option}: found no build sheet in the session: expected one"),
    )
    .hint("name the build's sheet with --build")
}

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
