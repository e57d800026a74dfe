//! A battery's last session, laid on its earlier ones or on those of others of its kind.

use std::path::Path;

use super::ends::{self, Sources};
use super::runs::{Rule, finished, of_another, reread};
use crate::analysis::discharge::Discharge;
use crate::analysis::figures::battery::Overlay;
use crate::battery::end;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::{Outlook, Run, outlook};
use crate::session::{Session, SessionError};
use crate::sheet;

/// Runs drawn behind the last one.
const DRAWN: usize = 4;

/// Returns the look at the battery's last session, of which `now` is the discharge; `None` where it has none.
///
/// # Errors
/// [`SessionError`] when an earlier one can't be read any more.
pub fn look(
    dir: &Path,
    rule: &Rule,
    books: &[Logbook],
    book: &Logbook,
    now: &Discharge,
) -> Result<Option<Outlook>, SessionError> {
    let Some(last) = book.last() else {
        return Ok(None);
    };
    let samples = now.samples();
    let own = finished(dir, book, rule)?;
    let of_kind = books.iter().filter(|other| {
        own.is_empty()
            && other.battery != book.battery
            && other.is_simulated == book.is_simulated
            && other.kind() == last.kind
    });
    let mut others = Vec::new();
    for other in of_kind {
        others.extend(of_another(dir, other, rule)?);
    }
    let sheet = Session::open(&dir.join(&last.folder))
        .ok()
        .and_then(|session| sheet::parse(&session.build_sheet?).ok());
    let sources = Sources {
        asked_v: last.asked_v,
        empty_v: last.end_v,
        kind: last.kind,
        book: Some(book),
    };
    let run = Run {
        so_far: &samples,
        start: last.start,
        kind: last.kind,
        series: last.series,
        end: ends::of(sources, sheet.as_ref()).first(end::run_down_to_v(&samples)),
        rated_ah: last.rated_ah,
        resistance_ohm: last.resistance_ohm,
    };
    Ok(Some(outlook(&run, &own, &others)))
}

/// The last runs of a battery, the newest first, of which `now` is the discharge.
///
/// # Errors
/// [`SessionError`] when one can't be read any more.
pub fn last_runs(
    dir: &Path,
    rule: &Rule,
    book: &Logbook,
    now: &Discharge,
) -> Result<Vec<Overlay>, SessionError> {
    let label = |entry: &Entry| {
        let to_minute = |entry: &Entry| entry.started.get(..16).map(str::to_owned);
        let same = book
            .entries
            .iter()
            .filter(|one| to_minute(one) == to_minute(entry));
        // Two runs that began in one minute differ by their seconds.
        let length = if same.count() > 1 { 19 } else { 16 };
        let day = entry.started.get(..length).unwrap_or(&entry.started);
        day.replace('T', " ")
    };
    let mut made = Vec::new();
    for (age, entry) in book.entries.iter().rev().take(1 + DRAWN).enumerate() {
        made.push(if age == 0 {
            Overlay::new(label(entry), now)
        } else {
            Overlay::new(label(entry), &reread(dir, entry, rule.load)?)
        });
    }
    Ok(made)
}

/// The run that stands for a battery: its last full one, else its last.
pub fn shown(book: &Logbook) -> Option<&Entry> {
    let full = book.entries.iter().rfind(|one| one.full_s().is_some());
    full.or_else(|| book.last())
}
