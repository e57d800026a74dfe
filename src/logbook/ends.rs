//! Where the time left of a battery's run ends, gathered from the options, its logbook, the build sheet and the circuit.

use crate::battery::end::Ends;
use crate::battery::kind::Kind;
use crate::battery::logbook::Logbook;
use crate::sheet::Sheet;

/// The facts known beside the build.
#[derive(Debug, Clone, Copy)]
pub struct Sources<'a> {
    /// The end that was asked for, in volts.
    pub asked_v: Option<f64>,
    /// The voltage at which the battery is empty, in volts.
    pub empty_v: Option<f64>,
    /// Its kind, if known.
    pub kind: Option<Kind>,
    /// Its logbook, if it has one.
    pub book: Option<&'a Logbook>,
}

/// All ends with a build. Its circuit is only computed where nothing better is known.
pub fn of(sources: Sources<'_>, sheet: Option<&Sheet>) -> Ends {
    let build = sheet.map(|sheet| sheet.name.as_str());
    let ends = Ends {
        asked_v: sources.asked_v,
        empty_v: sources.empty_v,
        own_stops: sources.book.and_then(|book| book.own_stops(build)),
        sheet_v: sheet.and_then(|sheet| sheet.known.runs_down_to_v),
        predicted_v: None,
    };
    // No forecast rests on a converter's voltage.
    let is_known = sources.kind.is_some_and(Kind::has_converter)
        || ends.asked_v.is_some()
        || ends.own_stops.is_some()
        || ends.sheet_v.is_some();
    Ends {
        predicted_v: sheet
            .filter(|_| !is_known)
            .and_then(|sheet| sheet.stop_v().ok()?),
        ..ends
    }
}
