//! The pictures of a session.

use super::compared::{Compared, date};
use crate::analysis::figures::{self, Notes, RatioUnit};
use crate::analysis::pushing::Modelled;
use crate::figure::{Figure, Mark};
use crate::session::{Session, SessionError};

/// The pictures of a session, each with the name of its file.
///
/// # Errors
/// [`SessionError::Read`] when its marks can't be read.
pub fn pictures(
    session: &Session,
    compared: &Compared,
    ratio: RatioUnit,
) -> Result<Vec<(&'static str, Figure)>, SessionError> {
    let notes = notes(session)?;
    let Compared {
        comparison, traces, ..
    } = compared;
    let curve = match &compared.pushing {
        Some(Modelled::Curve { read, .. }) => Some(read),
        _ => None,
    };
    let mut pictures = vec![
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
    Ok(pictures)
}

fn notes(session: &Session) -> Result<Notes, SessionError> {
    let meta = &session.meta;
    let named = meta.instruments.iter().map(|one| {
        let identity = one.identity.clone();
        identity.unwrap_or_else(|| format!("{} ({})", one.label, one.profile))
    });
    let marks = session.marks()?.into_iter().map(|mark| Mark {
        at: mark.elapsed_s,
        text: mark.text,
    });
    Ok(Notes {
        build: meta.build.clone(),
        date: date(&meta.started),
        instruments: named.collect::<Vec<_>>().join("; "),
        simulated: meta
            .simulated
            .then(|| "invented by a virtual bench, not measured".to_owned()),
        marks: marks.collect(),
    })
}
