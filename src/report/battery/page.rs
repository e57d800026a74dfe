//! Batteries as text: the list of all, and one with its runs and the time it has left.

use std::fmt::Write as _;

use super::outlook::outlook;
use super::words::{counted, minutes, span};
use crate::battery::charge::{Gap, mean_volts_v};
use crate::battery::finished::Start;
use crate::battery::kind::Kind;
use crate::battery::logbook::{Due, Entry, Logbook};
use crate::battery::outlook::Outlook;
use crate::battery::peukert::Peukert;
use crate::caution::Caution;
use crate::report::compare::interruptions::clock;
use crate::report::layout::{list as items, told, under};
use crate::units::{Unit, rounded};

/// The words in place of the next run of a battery that is used once.
const NO_NEXT: &str = "none: a new one of this type, under a label of its own";

/// Gaps that are named; the rest is counted.
const GAPS_SHOWN: usize = 5;

fn known(value: Option<f64>, unit: Unit) -> String {
    value.map_or_else(|| "-".to_owned(), |value| rounded(value, unit, 3))
}

/// Returns all batteries, one per line, from the sessions in `place`.
pub fn list(books: &[Logbook], place: &str) -> String {
    if books.is_empty() {
        return format!(
            "no session in {place} names a battery; name one with: sagtrace record --battery LABEL\n"
        );
    }
    let mut out = String::new();
    let width = books.iter().map(|book| label(book).chars().count());
    let width = width.max().unwrap_or(0).max(12);
    // Writing to a String cannot fail, here and below.
    writeln!(
        out,
        "{:width$} {:15} {:>8} {:>9} {:>9} {:>10} {:>10}  next full run",
        "battery", "kind", "sessions", "full runs", "last full", "charge", "resistance"
    )
    .ok();
    for book in books {
        let full = book.full_runs_s();
        let charge_ah = book.entries.iter().rev().find_map(Entry::full_ah);
        let ohm = book.entries.iter().rev().find_map(|one| one.resistance_ohm);
        writeln!(
            out,
            "{:width$} {:15} {:>8} {:>9} {:>9} {:>10} {:>10}  {}",
            label(book),
            book.kind().map_or("not known", Kind::name),
            book.entries.len(),
            full.len(),
            full.last()
                .map_or_else(|| "-".to_owned(), |run_s| minutes(*run_s)),
            known(charge_ah, Unit::AmpereHour),
            known(ohm, Unit::Ohm),
            next_run(book)
        )
        .ok();
    }
    let due: Vec<String> = books
        .iter()
        .filter_map(|book| Some(format!("{}: {}", label(book), due_words(book.due()?))))
        .collect();
    items(&mut out, "Due for replacement", &due);
    out
}

/// The name of a battery; invented sessions never pass for measured ones.
pub(super) fn label(book: &Logbook) -> String {
    let simulated = if book.is_simulated { ", simulated" } else { "" };
    format!("{}{simulated}", book.battery)
}

pub(super) fn next_run(book: &Logbook) -> String {
    if book.kind().is_some_and(Kind::is_primary) && !book.full_runs_s().is_empty() {
        return NO_NEXT.to_owned();
    }
    match (book.next_run_s(), book.lower_bound_s()) {
        (Some((low_s, middle_s, high_s)), _) => {
            format!("{}, middle {}", span(low_s, high_s), minutes(middle_s))
        }
        (None, Some(bound_s)) => format!("at least {}", minutes(bound_s)),
        (None, None) => "-".to_owned(),
    }
}

pub(super) fn due_words(due: Due) -> String {
    match due {
        Due::GivesLess(share) => format!(
            "its last full run gave {} of its best",
            rounded(share, Unit::Percent, 2)
        ),
        Due::Resists(times) => format!("its resistance is {times:.1} times its least"),
    }
}

/// The account of one battery.
#[derive(Debug, Clone, Copy)]
pub struct Page<'a> {
    /// Its sessions.
    pub book: &'a Logbook,
    /// Gaps of the last session, by its own time.
    pub gaps: &'a [Gap],
    /// The outlook of the last session; `None` if that came to its end, or none is known.
    pub looked: Option<&'a Outlook>,
    /// A current asked for, with the law of the runs if they give one.
    pub peukert: Option<(f64, Option<Peukert>)>,
}

/// Returns the page of one battery: its runs, their prediction, and the time left.
pub fn one(page: &Page<'_>) -> String {
    let book = page.book;
    let mut out = String::new();
    let kind = book.kind().map_or("kind not known", Kind::name);
    told(&mut out, "battery", &format!("{}, {kind}", label(book)));
    if let Some(last) = book.last() {
        told(&mut out, "end", &end(last));
    }
    runs(&mut out, book);
    summary(&mut out, book);
    gaps(&mut out, page);
    if let Some((current_a, law)) = page.peukert {
        told(&mut out, "at a current", &at_current(current_a, law));
    }
    match (page.looked, book.last()) {
        (Some(looked), Some(last)) => outlook(&mut out, looked, last),
        (None, Some(last)) if last.reached_s.is_none() => {
            told(&mut out, "time left", "none: the coil stopped for good");
        }
        _ => told(&mut out, "time left", "none: the last run came to its end"),
    }
    cautions(&mut out, book);
    out
}

fn gaps(out: &mut String, page: &Page<'_>) {
    let missing_s: f64 = page.book.entries.iter().map(|entry| entry.missing_s).sum();
    if missing_s > 0.0 {
        let words = "without readings, counted as time under load but not as charge or energy: those marked ≥ are at least \
                     so large";
        told(
            out,
            "gaps",
            &format!("{} {words}", rounded(missing_s, Unit::Second, 3)),
        );
    }
    for gap in page.gaps.iter().take(GAPS_SHOWN) {
        let length = rounded(gap.to_s - gap.from_s, Unit::Second, 3);
        under(
            out,
            &format!("at {} of the last session for {length}", clock(gap.from_s)),
        );
    }
    if page.gaps.len() > GAPS_SHOWN {
        under(out, &format!("and {} more", page.gaps.len() - GAPS_SHOWN));
    }
}

fn end(last: &Entry) -> String {
    let Some(end_v) = last.end_v else {
        return if last.kind.is_some_and(Kind::has_converter) {
            "its step down or its cut-off; its voltage shows no end".to_owned()
        } else {
            "no voltage known at which it is empty".to_owned()
        };
    };
    let end_point = last.kind.and_then(Kind::end_point);
    let volts = rounded(end_v, Unit::Volt, 3);
    match end_point {
        Some(point) if (point.value_v * f64::from(last.series) - end_v).abs() < 1e-9 => {
            format!("{volts} for {} in series ({})", last.series, point.source)
        }
        _ if last.series > 1 => format!(
            "{volts} for {} in series, as asked for or as the weakest of them wants",
            last.series
        ),
        _ => format!("{volts}, as asked for"),
    }
}

/// The run-time table.
fn runs(out: &mut String, book: &Logbook) {
    writeln!(
        out,
        "\n{:16} {:7} {:>10} {:11} {:>16} {:>8} {:>8} {:>7} {:>7}",
        "session", "start", "under load", "", "volts", "charge", "energy", "mean V", "current"
    )
    .ok();
    for entry in &book.entries {
        let start = match entry.start {
            Start::Full => "full",
            Start::Unknown => "unknown",
        };
        let ended = match (entry.reached_s, entry.stopped, entry.closed) {
            (Some(_), ..) | (_, Some(_), _) if entry.is_empty_from_the_start() => "began empty",
            (Some(_), ..) => "to the end",
            (None, Some(_), _) => "coil stops",
            (None, None, true) => "stopped",
            (None, None, false) => "not closed",
        };
        let mean_v = entry
            .charge_ah
            .zip(entry.energy_wh)
            .map(|(charge_ah, energy_wh)| mean_volts_v(charge_ah, energy_wh));
        writeln!(
            out,
            "{:16} {start:7} {:>10} {ended:11} {:>16} {:>8} {:>8} {:>7} {:>7}",
            entry
                .started
                .get(..16)
                .unwrap_or(&entry.started)
                .replace('T', " "),
            minutes(entry.ended_s().unwrap_or(entry.running_s)),
            format!(
                "{} to {}",
                known(entry.first_v, Unit::Volt),
                known(entry.last_v, Unit::Volt)
            ),
            at_least(entry, known(entry.charge_ah, Unit::AmpereHour)),
            at_least(
                entry,
                entry
                    .energy_wh
                    .map_or_else(|| "-".to_owned(), |energy_wh| format!("{energy_wh:.2} Wh")),
            ),
            known(mean_v, Unit::Volt),
            known(entry.current_a, Unit::Ampere)
        )
        .ok();
    }
    out.push('\n');
}

/// Returns charge or energy in words; the share given while readings were missing comes on top of it.
fn at_least(entry: &Entry, words: String) -> String {
    if entry.missing_s > 0.0 && words != "-" {
        format!("≥{words}")
    } else {
        words
    }
}

fn summary(out: &mut String, book: &Logbook) {
    let full = book.full_runs_s().len();
    told(
        out,
        "next full run",
        &format!(
            "{} ({})",
            next_run(book),
            counted(full, "full run", "full runs")
        ),
    );
    let estimated = book.entries.iter().filter(|entry| entry.estimated).count();
    if estimated > 0 {
        let words = "estimated, not measured, and with it charge, energy and resistance, in";
        told(
            out,
            "current",
            &format!("{words} {estimated} of {} sessions", book.entries.len()),
        );
    }
    if let Some(trend) = book.charge_trend() {
        told(
            out,
            "charge",
            &format!("{} from the first full run to the last", signed(trend)),
        );
    }
    let resistance = book
        .entries
        .iter()
        .rev()
        .find_map(|one| Some((one.resistance_ohm?, one.pulse_s)));
    if let Some((ohm, pulse_s)) = resistance {
        let trend = book.resistance_trend().map_or_else(String::new, |trend| {
            format!("; {} from the first session to the last", signed(trend))
        });
        told(
            out,
            "resistance",
            &format!(
                "{}, {} after the load went off{trend}",
                rounded(ohm, Unit::Ohm, 3),
                known(pulse_s, Unit::Second)
            ),
        );
    }
    if let Some(due) = book.due() {
        told(out, "due", &format!("replace it: {}", due_words(due)));
    }
}

fn signed(share: f64) -> String {
    let sign = if share > 0.0 { "+" } else { "" };
    format!("{sign}{}", rounded(share, Unit::Percent, 2))
}

fn at_current(current_a: f64, law: Option<Peukert>) -> String {
    let Some(law) = law else {
        return "not known: needs full runs without gaps at two currents a fifth apart".to_owned();
    };
    match law
        .time_h(current_a)
        .and_then(|hours| Ok((hours, law.charge_ah(current_a)?)))
    {
        Ok((hours, charge_ah)) => format!(
            "{} in {} at {} (Peukert, exponent {:.2}, fitted from {} to {})",
            rounded(charge_ah, Unit::AmpereHour, 3),
            minutes(3600.0 * hours),
            rounded(current_a, Unit::Ampere, 3),
            law.k,
            rounded(law.least_a, Unit::Ampere, 3),
            rounded(law.most_a, Unit::Ampere, 3)
        ),
        Err(outside) => format!("not known: {outside}"),
    }
}

/// Returns the possible damage from running a battery below its end, where it was.
pub(super) fn run_down(last: &Entry) -> Option<String> {
    let (least_v, end_v) = (last.least_v?, last.end_v?);
    let several = if last.series > 1 {
        " or a whole weak battery"
    } else {
        ""
    };
    (least_v < end_v).then(|| {
        format!(
            "It was run down to {}, below its end: a weak cell{several} may have been reversed. Stop at {}.",
            rounded(least_v, Unit::Volt, 3),
            rounded(end_v, Unit::Volt, 3)
        )
    })
}

fn cautions(out: &mut String, book: &Logbook) {
    let mut cautions: Vec<String> = book.last().and_then(run_down).into_iter().collect();
    let of_kind: &[Caution] = match book.kind() {
        Some(kind) if kind.is_primary() => &[Caution::ChargePrimary, Caution::ShortCircuit],
        Some(kind) if kind.has_converter() => &[Caution::Ripple, Caution::ChargeOwn],
        _ => &[Caution::ChargeOwn, Caution::HotBattery],
    };
    cautions.push(Caution::together(of_kind));
    if book.is_simulated {
        cautions.push(
            "These sessions are simulated: invented, not measured. They predict nothing about a real battery."
                .to_owned(),
        );
    }
    items(out, "Cautions", &cautions);
}
