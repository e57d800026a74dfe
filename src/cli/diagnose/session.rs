//! A recorded run as evidence.

use std::path::Path;

use super::super::exit::{Failure, USAGE};
use super::super::sheet;
use crate::analysis::compare::{Compare, Comparison};
use crate::analysis::pairing::Pairing;
use crate::battery::kind::Kind;
use crate::circuit::outlook::Outlook;
use crate::diagnosis::evidence::Evidence;
use crate::diagnosis::session::{self, Finding, SessionBattery, Standstill, Thresholds};
use crate::plain::Shown as _;
use crate::session::{Session, SessionError};
use crate::sheet::Sheet;

/// A session and its contents.
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
    let mut standstill = Standstill::default();
    let rows = session.each_chunk(|rows| {
        compare.push(rows);
        for row in rows {
            standstill.push(row);
        }
    });
    rows.map_err(failed)?;
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
                    self.session.dir().shown()
                ),
            )
            .hint("name one: sagtrace diagnose SHEET --session SESSION")
        })?;
        sheet::parse(text, "in the session")
    }

    /// The kind of battery that was in use, where the session names one.
    fn battery_kind(&self) -> Option<Kind> {
        let word = self.session.meta.battery_kind.as_deref();
        word.and_then(Kind::of_word)
    }

    /// Puts the battery that was in use in the place of a sheet's; returns in words which, where it is another.
    pub(super) fn battery_into(&self, sheet: &mut Sheet) -> Option<String> {
        let of_sheet = sheet.battery.kind;
        let kind = self.battery_kind().filter(|kind| *kind != of_sheet)?;
        sheet.battery.kind = kind;
        let label = self.session.meta.battery.as_deref();
        let label = label.map_or_else(String::new, |label| format!("{label}, "));
        Some(format!(
            "the session's own is used: {label}{}; the sheet has {}",
            kind.name(),
            of_sheet.name()
        ))
    }

    /// Returns the evidence of its end; the battery's kind is the session's, or else the sheet's.
    pub(super) fn evidence(&self, of_sheet: Kind) -> Evidence {
        let battery = SessionBattery {
            kind: Some(self.battery_kind().unwrap_or(of_sheet)),
            each_v: self.session.meta.battery_each_v.clone(),
        };
        session::evidence(&self.comparison, self.standstill, &battery)
    }

    /// Returns its events, with the thresholds predicted for the circuit of a sheet.
    pub(super) fn findings(&self, sheet: &Sheet) -> Result<(Vec<Finding>, Thresholds), Failure> {
        let outlook = sheet
            .circuit_sets(&sheet.prediction()?)
            .ok()
            .and_then(|sets| Outlook::of(&sets.specs).ok());
        let thresholds = outlook.map_or_else(Thresholds::default, |outlook| Thresholds {
            starts_v: outlook.margins.supply_v.threshold,
            keeps_running_v: outlook.descent.keeps_running_v,
        });
        Ok((session::findings(&self.comparison, thresholds), thresholds))
    }
}
