//! Batteries for other programs.

use crate::battery::finished::Start;
use crate::battery::forecast::TimeLeft;
use crate::battery::kind::Kind;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::{Basis, Outlook};
use crate::battery::question::Claim;
use crate::report::form::{Form, part};

part! {
    /// All batteries.
    pub struct List<'a>(books: &'a [Logbook]) {
        batteries: Vec<BookPart<'a>> = books.iter().map(BookPart::new).collect(),
    }
}

impl Form for List<'_> {}

part! {
    /// One battery with the outlook of its last run.
    pub struct One<'a>(book: &'a Logbook, looked: Option<&'a Outlook>) {
        battery: BookPart<'a> = BookPart::new(book),
        outlook: Option<OutlookPart> = looked.map(OutlookPart::new),
    }
}

impl Form for One<'_> {}

part! {
    struct BookPart<'a>(book: &'a Logbook) with {
        let is_primary = book.kind().is_some_and(Kind::is_primary);
    } {
        label: &'a str = &book.battery,
        simulated: bool = book.is_simulated,
        kind: Option<&'static str> = book.kind().map(Kind::name),
        next_full_run: Option<NextPart> =
            book.next_run_s().filter(|_| !is_primary).map(NextPart::new),
        lasts_at_least_s: Option<f64> = book.lower_bound_s(),
        charge_trend: Option<f64> = book.charge_trend(),
        resistance_trend: Option<f64> = book.resistance_trend(),
        is_due: bool = book.due().is_some(),
        sessions: Vec<EntryPart<'a>> = book.entries.iter().map(EntryPart::new).collect(),
    }
}

part! {
    struct NextPart(next: (f64, f64, f64)) {
        low_s: f64 = next.0,
        middle_s: f64 = next.1,
        high_s: f64 = next.2,
    }
}

part! {
    struct EntryPart<'a>(entry: &'a Entry) {
        folder: &'a str = &entry.folder,
        started: &'a str = &entry.started,
        start: &'static str = if entry.start == Start::Full { "full" } else { "unknown" },
        simulated: bool = entry.simulated,
        closed: bool = entry.closed,
        end_v: Option<f64> = entry.end_v,
        running_s: f64 = entry.running_s,
        end_reached_s: Option<f64> = entry.reached_s,
        coil_stopped_s: Option<f64> = entry.stopped.map(|stop| stop.running_s),
        coil_stopped_v: Option<f64> = entry.stopped.map(|stop| stop.volts_v),
        build: Option<&'a str> = entry.build.as_deref(),
        first_v: Option<f64> = entry.first_v,
        last_v: Option<f64> = entry.last_v,
        least_v: Option<f64> = entry.least_v,
        charge_ah: Option<f64> = entry.charge_ah,
        energy_wh: Option<f64> = entry.energy_wh,
        charge_and_energy_are_at_least: bool = entry.missing_s > 0.0,
        current_a: Option<f64> = entry.current_a,
        current_is_estimated: bool = entry.estimated,
        missing_s: f64 = entry.missing_s,
        resistance_ohm: Option<f64> = entry.resistance_ohm,
        pulse_s: Option<f64> = entry.pulse_s,
    }
}

part! {
    struct OutlookPart(looked: &Outlook) with {
        let said = looked.said.as_ref().ok();
    } {
        low_s: Option<f64> = said.map(|said| said.low_s),
        middle_s: Option<f64> = said.and_then(TimeLeft::middle_said_s),
        high_s: Option<f64> = said.map(|said| said.high_s),
        elapsed_s: Option<f64> = said.map(|said| said.elapsed_s),
        refused: Option<String> = looked.said.as_ref().err().map(ToString::to_string),
        at_least_only: Option<bool> = said.map(TimeLeft::is_too_wide),
        until: Option<&'static str> = looked.end.map(|end| end.until.word()),
        until_v: Option<f64> = looked.end.map(|end| end.volts_v),
        full_start_doubted: Option<bool> = said.map(|said| said.claim == Claim::Disagrees),
        full_start_believed: Option<bool> = said.map(|said| said.claim == Claim::Agrees),
        basis: &'static str = looked.basis.word(),
        curves: usize = match looked.basis {
            Basis::Own(count) | Basis::SameKind(count) | Basis::Shipped(count, _) => count,
            Basis::Nothing => 0,
        },
        widened_by: f64 = looked.widening,
        by_log_low_s: Option<f64> = looked.by_log_s.map(|band| band.low),
        by_log_high_s: Option<f64> = looked.by_log_s.map(|band| band.high),
        stepped_down_s: Option<f64> = looked.stepped_s,
        past_knee: bool = looked.past_knee,
    }
}
