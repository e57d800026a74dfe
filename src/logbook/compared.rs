//! A session of a build against its model.

use super::error::LogbookError;
use super::pushing::modelled;
use crate::analysis::compare::{Compare, Comparison, Traces};
use crate::analysis::lamp::{LampError, Lamps, Sighting};
use crate::analysis::level::{BandPlace, Deviation};
use crate::analysis::noted::Noted;
use crate::analysis::pairing::Pairing;
use crate::analysis::pushing::Modelled;
use crate::analysis::stretches::{EarthMark, Stretch, changes, earth_mark};
use crate::coil::predict::predict;
use crate::coil::surroundings::EarthState;
use crate::plain::Shown as _;
use crate::session::{Session, SessionError, Skipped};
use crate::sheet::good_day::KeptDay;
use crate::sheet::{self, Sheet};

/// The stretches of a session, each with the model or good day that it is judged against.
#[derive(Debug)]
pub struct Planned {
    /// The stretches, from the first.
    pub stretches: Vec<Stretch>,
    /// Marks that speak of an earth state and name none: at which second, and the word.
    pub unknown_states: Vec<(f64, String)>,
}

/// Returns the stretches of a session by its marks. Each has the model of its build in its earth state, or the one that a good
/// day gives.
///
/// # Errors
/// [`LogbookError`] where the marks can't be read, or the coil has no prediction.
pub fn planned(
    session: &Session,
    sheet: Option<&Sheet>,
    good_day: Option<&KeptDay>,
) -> Result<Planned, LogbookError> {
    let mut unknown_states = Vec::new();
    let mut states = Vec::new();
    for mark in session.marks()? {
        match earth_mark(&mark.text) {
            Some(EarthMark::State(state)) => states.push((mark.elapsed_s, state)),
            Some(EarthMark::Unknown(word)) => unknown_states.push((mark.elapsed_s, word)),
            None => {}
        }
    }
    // Marks may be corrected later, by hand and in any order.
    states.sort_by(|one, other| one.0.total_cmp(&other.0));
    let at_start = sheet.map_or_else(|| told_earth(session), |sheet| Some(sheet.earth));
    let mut stretches = Vec::new();
    for (from_s, earth) in changes(at_start, states) {
        let model = sheet.map(|sheet| {
            let mut spec = sheet.coil_spec();
            spec.earth = earth.unwrap_or(sheet.earth);
            match good_day {
                Some(kept) => kept.day.resonance(&spec),
                None => predict(&spec).map(|found| found.resonance),
            }
        });
        stretches.push(Stretch {
            from_s,
            earth,
            model: model.transpose()?,
        });
    }
    Ok(Planned {
        stretches,
        unknown_states,
    })
}

/// The earth state that the session says it was in.
fn told_earth(session: &Session) -> Option<EarthState> {
    let told = session.meta.earth.as_deref();
    let mut known = EarthState::WORDS.iter();
    known
        .find(|(word, _)| Some(*word) == told)
        .map(|(_, state)| *state)
}

/// The session's build, or that of another sheet's text, in the earth state of the session; `None` without a sheet.
///
/// # Errors
/// [`LogbookError::Sheet`] with all faults of the sheet.
pub fn sheet_in_force(
    session: &Session,
    other_sheet: Option<&str>,
) -> Result<Option<Sheet>, LogbookError> {
    let Some(text) = other_sheet.or(session.build_sheet.as_deref()) else {
        return Ok(None);
    };
    let mut sheet = sheet::parse(text).map_err(|faults| LogbookError::Sheet {
        origin: session.dir().join("build.toml").shown(),
        faults,
    })?;
    sheet.earth = told_earth(session).unwrap_or(sheet.earth);
    Ok(Some(sheet))
}

/// A comparison with the data that the pictures need.
#[derive(Debug)]
pub struct Compared {
    /// The comparison.
    pub comparison: Comparison,
    /// The lamps that were lit, and from how far.
    pub lamps: Vec<Sighting>,
    /// Marks that speak of a lamp and can't be read.
    pub lamp_faults: Vec<LampError>,
    /// The modelled pushing; `None` without a sheet, or where none was measured.
    pub pushing: Option<Modelled>,
    /// The series for the pictures.
    pub traces: Traces,
    /// Lines of the table that were no rows.
    pub skipped: Skipped,
}

impl Compared {
    /// Reads a session once and compares each stretch with its model.
    ///
    /// # Errors
    /// [`SessionError`] when it can't be read.
    pub fn of(
        session: &Session,
        stretches: Vec<Stretch>,
        sheet: Option<&Sheet>,
    ) -> Result<Self, SessionError> {
        let mut accumulator = Compare::in_stretches(stretches, Pairing::new());
        let marks = session.marks()?;
        let noted = marks
            .iter()
            .map(|mark| Noted::new(mark.elapsed_s, mark.text.clone()));
        accumulator.note(noted.collect());
        let mut lamps = Lamps::new(marks.iter().map(|mark| (mark.elapsed_s, &*mark.text)));
        let skipped = session.each_chunk(|rows| {
            accumulator.push(rows);
            lamps.push(rows);
        })?;
        let comparison = accumulator.report();
        let traces = accumulator.traces();
        Ok(Self {
            lamps: lamps.sightings(comparison.pairing.window_s),
            lamp_faults: lamps.faults().to_vec(),
            pushing: modelled(sheet, &comparison, &traces),
            comparison,
            traces,
            skipped,
        })
    }

    /// Whether the coil resonates inside the model's band, judged at the start, when the battery is fresh.
    pub fn is_inside(&self) -> bool {
        let comparison = &self.comparison;
        match (&comparison.model, comparison.start.or(comparison.whole)) {
            (Some(model), Some(level)) => {
                Deviation::of(level.mean_hz, model).place == BandPlace::Inside
            }
            _ => false,
        }
    }
}

/// `2026-01-31 19:04 UTC` of an RFC 3339 time.
pub fn date(started: &str) -> String {
    match (started.get(..10), started.get(11..16)) {
        (Some(day), Some(time)) => format!("{day} {time} UTC"),
        _ => started.to_owned(),
    }
}
