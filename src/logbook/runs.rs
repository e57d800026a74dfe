//! A battery's sessions read again: the load it is taken to have, its discharge, its last full runs.

use std::path::Path;

use crate::analysis::discharge::Discharge;
use crate::battery::charge::Load;
use crate::battery::finished::Finished;
use crate::battery::kind::Kind;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::series;
use crate::session::{Session, SessionError};
use crate::sheet;

/// Full runs that a forecast is laid on; older ones show a younger battery.
const LAID_ON: usize = 20;

/// How the load was named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Loading {
    /// It is given by itself.
    As(Load),
    /// It is the supply current that the build's circuit is predicted to draw.
    Build,
}

impl Loading {
    /// The load in a session; none is estimated where its build says nothing.
    pub fn in_session(self, session: &Session) -> Load {
        match self {
            Self::As(load) => load,
            Self::Build => session
                .build_sheet
                .as_deref()
                .and_then(|text| sheet::parse(text).ok())
                .and_then(|sheet| sheet.predicted_load().ok())
                .unwrap_or(Load::Measured),
        }
    }
}

/// The settings that decide how a session is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// The end voltage, in volts; `None` for the session's own, or its kind's.
    pub end_v: Option<f64>,
    /// The kind of battery; `None` for the session's own.
    pub kind: Option<Kind>,
    /// The load.
    pub load: Loading,
}

/// The discharge of a session.
pub(super) fn discharge(session: &Session, load: Loading) -> Result<Discharge, SessionError> {
    let mut discharge = Discharge::new(load.in_session(session));
    session.each_chunk(|rows| discharge.push(rows))?;
    Ok(discharge)
}

/// The end point of batteries of a kind together; `None` where the kind has none.
pub fn end_v(kind: Kind, series: u32, each_v: &[f64]) -> Option<f64> {
    let one_end_v = kind.end_point()?.value_v;
    Some(if each_v.is_empty() {
        f64::from(series) * one_end_v
    } else {
        series::end_together_v(each_v, one_end_v)
    })
}

/// A session of a battery, read again.
///
/// # Errors
/// [`SessionError`] when it can't be read any more.
pub fn reread(dir: &Path, entry: &Entry, load: Loading) -> Result<Discharge, SessionError> {
    Session::open(&dir.join(&entry.folder)).and_then(|session| discharge(&session, load))
}

/// The last full runs of a logbook with their samples.
///
/// # Errors
/// The errors of [`reread`].
pub fn finished(dir: &Path, book: &Logbook, rule: &Rule) -> Result<Vec<Finished>, SessionError> {
    let full: Vec<&Entry> = book.full_runs().collect();
    let mut runs = Vec::new();
    for entry in full.iter().skip(full.len().saturating_sub(LAID_ON)) {
        let Some(run_s) = entry.full_s() else {
            continue;
        };
        let mut samples = reread(dir, entry, rule.load)?.samples();
        samples.retain(|sample| sample.running_s <= run_s);
        let last_v = samples.last().map_or(0.0, |last| last.volts_v);
        runs.push(Finished {
            samples,
            run_s,
            // A converter has no end voltage, and the voltage it stood at is as good: no forecast is laid on it.
            end_v: match (entry.reached_s, entry.stopped) {
                (None, Some(stop)) => stop.volts_v,
                _ => entry.end_v.unwrap_or(last_v),
            },
            start: entry.start,
            group: entry.folder.clone(),
        });
    }
    Ok(runs)
}

/// The same of another battery of the kind: a back-test leaves all its runs out together.
///
/// # Errors
/// The errors of [`reread`].
pub fn of_another(dir: &Path, book: &Logbook, rule: &Rule) -> Result<Vec<Finished>, SessionError> {
    // Where another battery's coil stopped is no end of this one's.
    let mut emptied = book.clone();
    emptied.entries.retain(|entry| entry.reached_s.is_some());
    let mut runs = finished(dir, &emptied, rule)?;
    for run in &mut runs {
        run.group.clone_from(&book.battery);
    }
    Ok(runs)
}
