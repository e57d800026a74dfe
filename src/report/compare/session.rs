//! The words of `compare` on a session.

use super::explained::{self, ExplainedPart};
use super::{Beside, Json, lamp, pushing};
use crate::logbook::good_day::{Doubt, Explained, Keeping};
use crate::logbook::{Compared, date};
use crate::plain::Shown as _;
use crate::session::{Meta, Session, State};

/// Stands below the heading where the model is that of another sheet than the one recorded with.
const CHANGED_SHEET: &str = "\
sheet      build.toml was changed after this session was recorded: its checksum in session.toml differs.
           The model below is that of the changed sheet; an evening on an altered build is another session.
";

/// The result for people.
pub fn text(
    session: &Session,
    is_sheet_changed: bool,
    compared: &Compared,
    found: Option<&Explained>,
) -> String {
    let comparison = &compared.comparison;
    let explained = found.map_or_else(String::new, |found| {
        explained::text(&found.fit, found.level.mean_hz, found.earth)
    });
    let pushing = compared
        .pushing
        .as_ref()
        .map_or_else(String::new, |modelled| pushing::text(comparison, modelled));
    let heading = heading(&session.meta);
    let changed = if is_sheet_changed { CHANGED_SHEET } else { "" };
    let text = super::text(comparison);
    let lamps = lamp::text(&compared.lamps);
    format!("{heading}{changed}{text}{pushing}{lamps}{explained}")
}

/// The result for other programs.
pub fn form<'a>(
    is_sheet_changed: bool,
    compared: &'a Compared,
    found: Option<&Explained>,
) -> Json<'a> {
    let beside = Beside {
        is_sheet_changed,
        lamps: &compared.lamps,
        pushing: compared.pushing.as_ref(),
        explained: found
            .map(|found| ExplainedPart::new(&found.fit, found.level.mean_hz, found.earth)),
    };
    Json::new(&compared.comparison, beside)
}

/// Which build, when, and whether it was invented.
pub(super) fn heading(meta: &Meta) -> String {
    let simulated = if meta.simulated {
        ", simulated: invented, not measured"
    } else {
        ""
    };
    format!("{}, {}{simulated}\n", meta.build, date(&meta.started))
}

/// Returns what is odd about a session that was read.
pub fn warnings(session: &Session, compared: &Compared) -> Vec<String> {
    let mut warnings = Vec::new();
    let skipped = &compared.skipped;
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
    let of_lamps = compared.lamp_faults.iter();
    warnings.extend(of_lamps.map(|fault| format!("marks.csv: {fault}; correct it there")));
    warnings
}

/// Marks that speak of an earth state and name none.
pub fn unknown_states(marks: &[(f64, String)]) -> impl Iterator<Item = String> + '_ {
    marks.iter().map(|(at_s, word)| {
        format!(
            "the mark at {at_s} s names no earth state: found {word:?}: expected standing, held, clipped or earthed"
        )
    })
}

/// Returns what is odd about judging by a good day.
pub fn doubt(doubt: Doubt) -> String {
    match doubt {
        Doubt::TakesAsFloating(earth) => format!(
            "the good day takes as floating a circuit that was recorded as {}: make another with --fit winding --force",
            earth.name()
        ),
        Doubt::Invented => {
            "the good day was invented by a virtual bench, this session was measured".to_owned()
        }
    }
}

/// Returns the outcome of an explanation in words.
pub fn keeping(keeping: &Keeping) -> String {
    match keeping {
        Keeping::Kept { path, before } => {
            let before = before.as_ref().map_or_else(String::new, |before| {
                format!("; the one before is now {}", before.shown())
            });
            format!("kept as the build's good day in {}{before}", path.shown())
        }
        Keeping::NotKept {
            contradicts,
            may_be_winding,
        } => {
            let why = contradicts.map_or_else(
                || "it is not plausible".to_owned(),
                |earth| {
                    format!(
                        "the session was recorded as {}, and this takes the circuit as floating",
                        earth.name()
                    )
                },
            );
            let instead = if *may_be_winding {
                "; winding and model alone may do it: --fit winding"
            } else {
                ""
            };
            format!("not kept as a good day: {why}{instead}")
        }
    }
}
