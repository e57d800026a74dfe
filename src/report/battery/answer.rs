//! Short answers about batteries: how long the next run lasts, whether one is due, and the next step.

use super::backtest::Table;
use super::outlook::{log_it, until};
use super::page::{Page, due_words, label, next_run, run_down};
use super::test::Test;
use super::words::{counted, minutes, span};
use crate::battery::kind::Kind;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::Outlook;
use crate::battery::resistance::{Verdict, sag_v};
use crate::caution::Caution;
use crate::report::layout::kept;
use crate::report::short::Short;
use crate::units::{Unit, rounded};

/// Batteries named in the short list.
const NAMED: usize = 6;

/// All batteries from the sessions in a folder; `typed` is the command that was typed, without labels; `is_chosen` where
/// these were named in it.
pub fn list(books: &[Logbook], place: &str, typed: &str, is_chosen: bool, width: usize) -> String {
    let mut short = Short::default();
    if books.is_empty() {
        short.say(format!("No session in {place} names a battery."));
        short.next(
            "name one when you record",
            "sagtrace record --battery A1 --battery-start full",
        );
        return short.printed(width);
    }
    let due: Vec<String> = books
        .iter()
        .filter_map(|book| Some(format!("{}: {}", label(book), why_replace(book)?)))
        .collect();
    for one in due.iter().take(NAMED) {
        short.say(format!("Replace {one}."));
    }
    if due.is_empty() {
        let count = counted(books.len(), "battery", "batteries");
        short.say(format!(
            "{}, none known to be due for replacement.",
            kept(&count)
        ));
    }
    for book in books.iter().take(NAMED) {
        let kind = book.kind().map_or("kind not known", Kind::name);
        short.say(format!("{} ({kind}): {}", label(book), run_words(book)));
    }
    if books.len() > NAMED {
        short.say(format!("and {} more", books.len() - NAMED));
    }
    if let Some(first) = books.first() {
        let command = format!("{typed} {}", quoted(&first.battery));
        short.next("one of them", &command);
    }
    let labels: Vec<String> = if is_chosen {
        books
            .iter()
            .map(|book| format!(" {}", quoted(&book.battery)))
            .collect()
    } else {
        Vec::new()
    };
    short.more(format!("{typed}{} --detail", labels.concat()));
    short.printed(width)
}

/// Why a battery is to be replaced: it is due, or one that is not rechargeable had its run.
fn why_replace(book: &Logbook) -> Option<String> {
    match book.due() {
        Some(due) => Some(due_words(due)),
        None => used_once(book).map(|_| "it is used up".to_owned()),
    }
}

/// How long a full run of a battery lasts.
fn run_words(book: &Logbook) -> String {
    if let Some(used) = used_once(book) {
        return used;
    }
    let full = book.full_runs_s().len();
    if full == 0 {
        return "no full run yet, so how long one lasts is not known.".to_owned();
    }
    let words = next_run(book);
    if words == "-" {
        return "no run long enough to say how long it lasts.".to_owned();
    }
    let of = kept(&counted(full, "full run", "full runs"));
    format!("a full run lasts {}, from {of}.", kept(&words))
}

/// Returns the last run of a battery that can be used once, and the warning never to charge it.
fn used_once(book: &Logbook) -> Option<String> {
    let runs_s = book.full_runs_s();
    let last_s = runs_s
        .last()
        .filter(|_| book.kind().is_some_and(Kind::is_primary))?;
    let lasted = kept(&minutes(*last_s));
    Some(format!(
        "its last full run lasted {lasted}; it is not rechargeable."
    ))
}

/// One battery: the time left or the next run, whether it is due, and the next step.
pub fn one(page: &Page<'_>, typed: &str, width: usize) -> String {
    let book = page.book;
    let mut short = Short::default();
    if let Some(words) = book.last().and_then(run_down) {
        short.say(words);
    }
    let kind = book.kind().map_or("kind not known", Kind::name);
    let about = format!("{} ({kind})", label(book));
    let next = next_run(book);
    let full = kept(&counted(book.full_runs_s().len(), "full run", "full runs"));
    let used = used_once(book);
    short.say(match (&used, next.as_str()) {
        (Some(used), _) => format!("{about}: {used}"),
        (None, "-") => format!("{about}: how long a full run lasts is not known yet."),
        (None, next) => format!(
            "{about}: the next full run lasts {}, by {full}.",
            kept(next)
        ),
    });
    match (page.looked, book.last()) {
        (Some(looked), Some(last)) => left(&mut short, looked, last),
        (None, Some(last)) if last.reached_s.is_none() => {
            short.say("Its last run is over: the coil stopped for good.");
        }
        _ => short.say("Its last run came to its end."),
    }
    short.say(match why_replace(book) {
        Some(why) => format!("Replace it: {why}."),
        None if book.full_runs_s().len() < 2 => {
            "Whether it is due cannot be said before two full runs.".to_owned()
        }
        None => "It is not due for replacement.".to_owned(),
    });
    if book.is_simulated {
        short.say("These sessions are simulated: they say nothing about a real battery.");
    }
    let is_primary = book.kind().is_some_and(Kind::is_primary);
    short.warn(if is_primary {
        Caution::ChargePrimary.words()
    } else {
        Caution::ChargeOwn.words()
    });
    let (why, label) = if used.is_some() || is_primary {
        ("with a new one", "NEW-LABEL".to_owned())
    } else {
        ("when it is full", quoted(&book.battery))
    };
    short.next(
        why,
        &format!("sagtrace record --battery {label} --battery-start full"),
    );
    short.more(format!("{typed} --detail"));
    short.printed(width)
}

fn left(short: &mut Short, looked: &Outlook, last: &Entry) {
    if looked.stepped_s.is_some() {
        short.say("Its output stepped down: it is nearly empty. Finish now.");
    }
    if looked.past_knee {
        short.say("The voltage turns down: minutes left.");
    }
    match &looked.said {
        Ok(said) => {
            let end = looked
                .end
                .map_or_else(String::new, |end| format!(" {}", until(end)));
            let left = match said.middle_said_s() {
                None => format!("at least {}", kept(&minutes(said.low_s))),
                Some(_) => kept(&span(said.low_s, said.high_s)),
            };
            short.say(format!("Left of the last run: {left}{end}."));
        }
        Err(refused) => {
            let by_log = looked.by_log_s.map_or_else(
                || log_it(last.kind).to_owned(),
                |left_s| {
                    format!(
                        "By its log {} are left.",
                        kept(&span(left_s.low, left_s.high))
                    )
                },
            );
            short.say(format!("Time left not known: {refused}. {by_log}"));
        }
    }
}

/// A test of two readings: whether to take the battery.
pub fn test(test: &Test, typed: &str, width: usize) -> String {
    let mut short = Short::default();
    let ohm = test.resistance.ohm;
    let known = |value, unit, digits| kept(&rounded(value, unit, digits));
    if test.kind == Some(Kind::UsbConverter) {
        short.say("These readings cannot judge it: its converter holds the voltage until it stops. Charge it fully before the show.");
    } else {
        short.say(match test.verdict() {
            Verdict::Take => "Take it: it holds its voltage under this load.",
            Verdict::WithSpare => "Take it, and a spare: it is part used.",
            Verdict::Leave => "Leave it home: it falls too far under this load.",
        });
    }
    let digits = if test
        .resistance
        .uncertainty_ohm
        .is_some_and(|off| off < 0.01 * ohm)
    {
        3
    } else {
        2
    };
    let step_a = test.heavy.current_a - test.light.current_a;
    short.say(format!(
        "Its resistance is {}: at {} it falls by {} to {}.",
        known(ohm, Unit::Ohm, digits),
        known(test.heavy.current_a, Unit::Ampere, 2),
        known(sag_v(ohm, step_a), Unit::Volt, 2),
        known(test.heavy.volts_v, Unit::Volt, 3)
    ));
    if let Some(words) = test.open_words() {
        short.say(words);
    }
    short.next(
        "log its run",
        "sagtrace record --battery A1 --battery-start full",
    );
    short.more(format!("{typed} --detail"));
    short.printed(width)
}

/// How well runs are predicted, a line per table.
pub fn backtest(tables: &[Table], typed: &str, width: usize) -> String {
    let mut short = Short::default();
    short.say("Runs whose end is known, forecast half-way from other runs:");
    for table in tables {
        short.say(table.half_way());
    }
    short.say("No shipped curve is measured: your own full runs are the better basis.");
    short.next(
        "your own",
        "sagtrace record --battery A1 --battery-start full",
    );
    short.more(format!("{typed} --detail"));
    short.printed(width)
}

/// A label as a shell takes it.
fn quoted(label: &str) -> String {
    crate::report::layout::shell_text(label)
}
