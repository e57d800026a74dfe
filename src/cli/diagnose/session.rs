//! A recorded run as evidence.

use std::path::Path;

use super::super::exit::{Failure, USAGE};
use super::super::{predict, sheet};
use crate::analysis::compare::{Compare, Comparison};
use crate::analysis::pairing::Pairing;
use crate::circuit::outlook::Outlook;
use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::session::{self, Finding, Standstill, Thresholds};
use crate::session::{Session, SessionError};
use crate::sheet::Sheet;

/// A session and what is in it.
pub(super) struct Recorded {
    session: Session,
    comparison: Comparison,
    standstill: Standstill,
}

/// Reads a session.
pub(super) fn read(dir: &Path) -> Result<Recorded, Failure> {
    let failed = |error: SessionError| {
        Failure::from_error(USAGE, &error).hint("name the folder of a session: see sagtrace record")
    };
    let session = Session::open(dir).map_err(failed)?;
    let mut compare = Compare::new(None, Pairing::new());
    let mut rows = session.rows().map_err(failed)?;
    let mut chunk = Vec::new();
    let mut standstill = Standstill::default();
    while rows.next_chunk(&mut chunk).map_err(failed)? {
        compare.push(&chunk);
        for row in &chunk {
            standstill.push(row);
        }
    }
    let comparison = compare.report();
    Ok(Recorded {
        session,
        comparison,
        standstill,
    })
}

impl Recorded {
    /// The build sheet in the session.
    pub(super) fn sheet(&self) -> Result<Sheet, Failure> {
        let text = self.session.build_sheet.as_deref().ok_or_else(|| {
            Failure::new(
                USAGE,
                format!(
                    "session {}: no build sheet in it",
                    self.session.dir().display()
                ),
            )
            .hint("name one: sagtrace diagnose SHEET --session SESSION")
        })?;
        sheet::parse(text, "in the session")
    }

    /// What its end says.
    pub(super) fn evidence(&self) -> Evidence {
        session::evidence(&self.comparison, self.standstill)
    }

    /// What happened in it, beside what the circuit of a sheet should do.
    pub(super) fn findings(&self, sheet: &Sheet) -> Result<(Vec<Finding>, Thresholds), Failure> {
        let prediction = predict::prediction(sheet)?;
        let outlook = sheet
            .circuit_sets(&prediction)
            .and_then(|sets| Outlook::of(&sets.specs).ok());
        let thresholds = outlook.map_or_else(Thresholds::default, |outlook| Thresholds {
            starts_v: outlook.margins.supply_v.threshold,
            keeps_running_v: outlook.descent.keeps_running_v,
        });
        Ok((session::findings(&self.comparison, thresholds), thresholds))
    }
}
