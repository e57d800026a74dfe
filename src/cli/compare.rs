//! `compare`: a session against the model of its build.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::args::{CompareArgs, Format};
use super::exit::{ANSWER_IS_NO, CANNOT_WRITE, Failure, Outcome, USAGE};
use super::good_day::{self, Explained};
use super::{output, pushing, sheet, sheets};
use crate::analysis::compare::{Compare, Comparison, Traces};
use crate::analysis::figures::{self, Notes, RatioUnit};
use crate::analysis::lamp::{Lamps, Sighting};
use crate::analysis::level::{BandPlace, Deviation};
use crate::analysis::noted::Noted;
use crate::analysis::pairing::Pairing;
use crate::analysis::pushing::Modelled;
use crate::analysis::stretches::{EarthMark, Stretch, changes, earth_mark};
use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;
use crate::figure::{Figure, Mark};
use crate::plain::Shown as _;
use crate::plot;
use crate::report;
use crate::session::{MarkRow, Session, State, replace_file};
use crate::sheet::Sheet;

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    if let Some(other) = &args.other {
        return sheets::run(args, other);
    }
    let session = open(&args.session)?;
    let build = args
        .build
        .as_deref()
        .map(sheet::read)
        .transpose()?
        .map(|(_, text)| text);
    let sheet = sheet_in_force(&session, build.as_deref())?;
    if args.fit.to.is_some() {
        good_day::allow(&session, args.fit.force)?;
    }
    let (plan, doubts) = judge(args, &session, sheet.as_ref())?;
    let mut compared = compare(&session, plan)?;
    compared.warnings.extend(doubts);
    compared.pushing = pushing::modelled(sheet.as_ref(), &compared);
    let explained = match (args.fit.to, &sheet) {
        (Some(to), Some(sheet)) => {
            let found = good_day::explain(sheet, &compared.comparison, to)?;
            Some((found, sheet))
        }
        (Some(_), None) => return Err(no_sheet("--fit")),
        (None, _) => None,
    };
    let found = explained.as_ref().map(|(found, _)| found);
    // A sheet that was named is the person's own choice.
    let sheet_state = if args.build.is_none() && session.build_sheet_changed() {
        SheetState::Changed
    } else {
        SheetState::SheetInForce
    };
    output::result(&told(args.format, &session, sheet_state, &compared, found))?;
    if let Some((found, sheet)) = &explained {
        output::note(&good_day::keep(&session, sheet, found)?);
    }
    for warning in &compared.warnings {
        output::note(warning);
    }
    if !args.no_plots {
        let ratio = if args.ppm {
            RatioUnit::Ppm
        } else {
            RatioUnit::Percent
        };
        let dir = args
            .plots
            .clone()
            .unwrap_or_else(|| session.dir().join("plots"));
        for path in draw(&session, &compared, ratio, &dir)? {
            output::note(&format!("drawn to {}", path.shown()));
        }
    }
    if args.strict && !is_inside(&compared.comparison) {
        return Ok(Outcome(ANSWER_IS_NO));
    }
    Ok(Outcome::DONE)
}

/// The stretches of the session with what each is judged against, and what is odd about it.
fn judge(
    args: &CompareArgs,
    session: &Session,
    sheet: Option<&Sheet>,
) -> Result<(Vec<Stretch>, Vec<String>), Failure> {
    match (sheet, &args.good_day) {
        (Some(sheet), Some(path)) => {
            let kept = good_day::read(path)?;
            let doubt = good_day::doubt(&kept, session, sheet)?;
            let (plan, mut doubts) = planned(session, Some(sheet), |sheet| {
                let resonance = kept.day.resonance(&sheet.coil_spec());
                resonance.map_err(|error| Failure::from_error(USAGE, &error))
            })?;
            doubts.extend(doubt);
            Ok((plan, doubts))
        }
        (None, Some(_)) => Err(no_sheet("--good-day")),
        (sheet, None) => planned(session, sheet, |sheet| Ok(sheet.prediction()?.resonance)),
    }
}

/// The stretches of a session by its marks, each with the model in its earth state; marks that name no state are told.
fn planned(
    session: &Session,
    sheet: Option<&Sheet>,
    model: impl Fn(&Sheet) -> Result<Resonance, Failure>,
) -> Result<(Vec<Stretch>, Vec<String>), Failure> {
    let mut doubts = Vec::new();
    let mut states = Vec::new();
    for mark in marks_of(session)? {
        match earth_mark(&mark.text) {
            Some(EarthMark::State(state)) => states.push((mark.elapsed_s, state)),
            Some(EarthMark::Unknown(word)) => doubts.push(format!(
                "the mark at {} s names no earth state: found {word:?}; standing, held, clipped or earthed is wanted",
                mark.elapsed_s
            )),
            None => {}
        }
    }
    // Marks may be corrected later, by hand and in any order.
    states.sort_by(|one, other| one.0.total_cmp(&other.0));
    let at_start = sheet.map_or_else(|| told_earth(session), |sheet| Some(sheet.earth));
    let plan = changes(at_start, states)
        .into_iter()
        .map(|(from_s, earth)| {
            let model = sheet.map(|sheet| {
                let mut there = sheet.clone();
                there.earth = earth.unwrap_or(sheet.earth);
                model(&there)
            });
            Ok(Stretch {
                from_s,
                earth,
                model: model.transpose()?,
            })
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    Ok((plan, doubts))
}

fn marks_of(session: &Session) -> Result<Vec<MarkRow>, Failure> {
    session
        .marks()
        .map_err(|error| Failure::from_error(USAGE, &error))
}

/// The earth state that the session says it was in.
fn told_earth(session: &Session) -> Option<EarthState> {
    let told = session.meta.earth.as_deref();
    let known = EarthState::WORDS.iter();
    known
        .into_iter()
        .find(|(word, _)| Some(*word) == told)
        .map(|(_, state)| *state)
}

fn no_sheet(option: &str) -> Failure {
    Failure::new(
        USAGE,
        format!("{option}: found no build sheet in the session, one is wanted"),
    )
    .hint("name the build's sheet with --build")
}

/// Whether the session's own sheet is still the one that was recorded with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum SheetState {
    SheetInForce,
    Changed,
}

/// The result in the form that was asked for.
fn told(
    format: Format,
    session: &Session,
    sheet: SheetState,
    compared: &Compared,
    explained: Option<&Explained>,
) -> String {
    let Compared {
        comparison,
        lamps,
        pushing,
        ..
    } = compared;
    match format {
        Format::Text => {
            let explained = explained.map_or_else(String::new, |found| {
                report::compare::explained::text(&found.fit, found.level.mean_hz, found.earth)
            });
            let text = report::compare::text(comparison);
            let pushing = pushing.as_ref().map_or_else(String::new, |modelled| {
                report::compare::pushing::text(comparison, modelled)
            });
            let lamps = report::compare::lamp::text(lamps);
            let changed = match sheet {
                SheetState::SheetInForce => "",
                SheetState::Changed => CHANGED_SHEET,
            };
            let heading = heading(session);
            format!("{heading}{changed}{text}{pushing}{lamps}{explained}")
        }
        Format::Json => {
            let mut value = report::compare::json(comparison);
            value["build_sheet_changed"] = (sheet == SheetState::Changed).into();
            value["lamps"] = report::compare::lamp::json(lamps);
            value["modelled_pushing"] =
                report::compare::pushing::json(comparison, pushing.as_ref());
            value["explained"] = explained.map_or(Value::Null, |found| {
                report::compare::explained::json(&found.fit, found.level.mean_hz, found.earth)
            });
            format!("{value:#}\n")
        }
    }
}

/// Opens a session folder.
pub(super) fn open(dir: &Path) -> Result<Session, Failure> {
    Session::open(dir).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("name the folder that record made, the one with session.toml in it")
    })
}

/// The stretches of the session, each with the modelled resonance of its build in its earth state.
pub(super) fn stretches(session: &Session) -> Result<Vec<Stretch>, Failure> {
    let sheet = sheet_in_force(session, None)?;
    let (plan, _) = planned(session, sheet.as_ref(), |sheet| {
        Ok(sheet.prediction()?.resonance)
    })?;
    Ok(plan)
}

/// The session's build in the earth state of the session; `None` without a sheet.
pub(super) fn sheet_in_force(
    session: &Session,
    other_sheet: Option<&str>,
) -> Result<Option<Sheet>, Failure> {
    let Some(text) = other_sheet.or(session.build_sheet.as_deref()) else {
        return Ok(None);
    };
    let mut sheet = sheet::parse(text, &session.dir().join("build.toml").shown())?;
    sheet.earth = told_earth(session).unwrap_or(sheet.earth);
    Ok(Some(sheet))
}

/// A comparison with what the pictures need.
#[derive(Debug)]
pub(super) struct Compared {
    pub(super) comparison: Comparison,
    pub(super) lamps: Vec<Sighting>,
    pub(super) pushing: Option<Modelled>,
    pub(super) traces: Traces,
    pub(super) warnings: Vec<String>,
}

/// Reads a session once and compares each stretch with its model.
pub(super) fn compare(session: &Session, plan: Vec<Stretch>) -> Result<Compared, Failure> {
    let unreadable = |error: &crate::session::SessionError| Failure::from_error(USAGE, error);
    let mut reader = session.rows().map_err(|error| unreadable(&error))?;
    let mut accumulator = Compare::in_stretches(plan, Pairing::new());
    let marks = session.marks().map_err(|error| unreadable(&error))?;
    let noted = marks
        .iter()
        .map(|mark| Noted::new(mark.elapsed_s, mark.text.clone()));
    accumulator.note(noted.collect());
    let mut lamps = Lamps::new(marks.iter().map(|mark| (mark.elapsed_s, &*mark.text)));
    let mut rows = Vec::new();
    while reader
        .next_chunk(&mut rows)
        .map_err(|error| unreadable(&error))?
    {
        accumulator.push(&rows);
        lamps.push(&rows);
    }
    let skipped = reader.skipped();
    let mut warnings = Vec::new();
    if let Some(line) = skipped.first_bad_line {
        warnings.push(format!(
            "{} lines of samples.csv are no rows and were skipped, the first is line {line}",
            skipped.bad_lines
        ));
    }
    if skipped.torn_end {
        warnings.push("the last line of samples.csv was cut off and is not counted".to_owned());
    }
    if session.meta.state == State::Recording {
        warnings.push(
            "this session was not closed: it is still being recorded, or the recording was cut off"
                .to_owned(),
        );
    }
    let of_lamps = lamps.faults().iter();
    warnings.extend(of_lamps.map(|fault| format!("marks.csv: {fault}; correct it there")));
    let comparison = accumulator.report();
    Ok(Compared {
        lamps: lamps.sightings(comparison.pairing.window_s),
        comparison,
        pushing: None,
        traces: accumulator.traces(),
        warnings,
    })
}

/// Stands below the heading where the model is that of another sheet than the one recorded with.
const CHANGED_SHEET: &str = "\
sheet      build.toml was changed after this session was recorded: its checksum in session.toml differs.
           The model below is that of the changed sheet; an evening on an altered build is another session.
";

fn heading(session: &Session) -> String {
    let meta = &session.meta;
    let simulated = if meta.simulated {
        ", simulated: invented, not measured"
    } else {
        ""
    };
    format!("{}, {}{simulated}\n", meta.build, date(&meta.started))
}

/// `2026-01-31 19:04 UTC` of an RFC 3339 time.
fn date(started: &str) -> String {
    match (started.get(..10), started.get(11..16)) {
        (Some(day), Some(time)) => format!("{day} {time} UTC"),
        _ => started.to_owned(),
    }
}

fn notes(session: &Session) -> Result<Notes, Failure> {
    let meta = &session.meta;
    let instruments: Vec<String> = meta
        .instruments
        .iter()
        .map(|one| {
            one.identity
                .clone()
                .unwrap_or_else(|| format!("{} ({})", one.label, one.profile))
        })
        .collect();
    let marks = marks_of(session)?;
    Ok(Notes {
        build: meta.build.clone(),
        date: date(&meta.started),
        instruments: instruments.join("; "),
        simulated: meta
            .simulated
            .then(|| "invented by a virtual bench, not measured".to_owned()),
        marks: marks
            .into_iter()
            .map(|mark| Mark {
                at: mark.elapsed_s,
                text: mark.text,
            })
            .collect(),
    })
}

/// Draws the pictures of a session into a folder; the files made.
pub(super) fn draw(
    session: &Session,
    compared: &Compared,
    ratio: RatioUnit,
    dir: &Path,
) -> Result<Vec<PathBuf>, Failure> {
    let notes = notes(session)?;
    let Compared {
        comparison, traces, ..
    } = compared;
    let curve = match &compared.pushing {
        Some(Modelled::Curve { read, .. }) => Some(read),
        _ => None,
    };
    let mut pictures: Vec<(&str, Figure)> = vec![
        (
            "frequency-and-battery-over-time",
            figures::over_time(traces, comparison, &notes),
        ),
        (
            "frequency-against-battery",
            figures::against_voltage(traces, comparison, curve, &notes),
        ),
    ];
    pictures.extend(
        figures::deviation(traces, comparison, &notes, ratio)
            .map(|figure| ("deviation-from-model", figure)),
    );
    let cannot_write = |error: std::io::Error| {
        Failure::new(
            CANNOT_WRITE,
            format!("cannot make {}: {error}", dir.shown()),
        )
        .hint("name a folder for the plots with --plots, or draw none with --no-plots")
    };
    std::fs::create_dir_all(dir).map_err(cannot_write)?;
    let mut made = Vec::new();
    for (name, figure) in pictures {
        let path = dir.join(format!("{name}.png"));
        let size = plot::usual_size(&figure);
        let png =
            plot::png(&figure, size).map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
        replace_file(&path, &png).map_err(|error| {
            Failure::from_error(CANNOT_WRITE, &error)
                .hint("name a folder for the plots with --plots, or draw none with --no-plots")
        })?;
        made.push(path);
    }
    Ok(made)
}

/// Whether the coil resonates inside the model's band, judged at the start, when the battery is fresh.
fn is_inside(comparison: &Comparison) -> bool {
    match (&comparison.model, comparison.start.or(comparison.whole)) {
        (Some(model), Some(level)) => {
            Deviation::of(level.mean_hz, model).place == BandPlace::Inside
        }
        _ => false,
    }
}
