//! The short answer: the parts to switch off, the likeliest causes, the cure and the next check, on half a screen.

use super::command::{Command, typed};
use super::session;
use super::told::Told;
use crate::diagnosis::advice;
use crate::diagnosis::answer::{Belief, Cause, Group};
use crate::diagnosis::checks::{Check, CheckId};
use crate::diagnosis::concern::Concern;
use crate::diagnosis::fault::Family;
use crate::diagnosis::quantity::Reading;
use crate::diagnosis::situation::Situation;
use crate::report::hazards;
use crate::report::layout::{filled, kept};
use crate::report::short::most_lines;
use crate::units::{Unit, rounded};

/// Lines that the command for the full account takes at the most.
const COMMAND_LINES: usize = 2;
/// Less probable causes are left to the full account.
const LEAST: f64 = 0.05;
/// A cause more probable than this is very likely.
const VERY: f64 = 0.9;

/// How much is said, so that all of it fits.
#[derive(Debug, Clone, Copy)]
struct Size {
    width: usize,
    /// Causes that are named of those that share a place.
    named: usize,
    /// Whether the cure is said of causes that each need another.
    is_cure_said: bool,
    /// Whether the command for the full account is written out.
    is_command_whole: bool,
}

/// The lines that are never left out, those said where there is room, and those that come last.
#[derive(Default)]
struct Parts {
    first: String,
    room: Vec<String>,
    last: String,
}

fn rows(text: &str) -> usize {
    text.lines().count()
}

/// The short answer, no line of it wider than `width`.
pub fn answer(told: &Told<'_>, command: &Command, width: usize) -> String {
    let sizes = [
        (3, true, true),
        (3, true, false),
        (2, true, false),
        (1, true, false),
        (1, false, false),
    ];
    let sizes = sizes.map(|(named, is_cure_said, is_command_whole)| Size {
        width,
        named,
        is_cure_said,
        is_command_whole,
    });
    let [all @ .., least] = sizes.map(|size| Parts::new(told, command, size));
    let most = most_lines(width);
    let fits = |parts: &Parts| rows(&parts.first) + rows(&parts.last) <= most;
    let parts = all.into_iter().find(fits).unwrap_or(least);
    let mut out = parts.first;
    for one in parts.room {
        if rows(&out) + rows(&one) + rows(&parts.last) <= most {
            out.push_str(&one);
        }
    }
    out + &parts.last
}

impl Parts {
    fn new(told: &Told<'_>, command: &Command, size: Size) -> Self {
        let mut parts = Self::default();
        warnings(&mut parts.first, told, size.width);
        if let Some((findings, thresholds)) = told.run {
            let words = session::brief(findings, *thresholds);
            filled(&mut parts.first, size.width, 0, &words);
        }
        causes(&mut parts, told, size);
        notes(&mut parts.room, told, size.width);
        next(&mut parts.last, told, command, size.width);
        more(&mut parts.last, command, size);
        parts
    }
}

/// Every danger, the gravest first: one that was read, a build that must not be switched on, then the rest by number.
fn warnings(out: &mut String, told: &Told<'_>, width: usize) {
    let danger = told.answer.danger.as_ref();
    let is_new = |one: &Concern| danger.is_none() || !matches!(one, Concern::OverCurrent { .. });
    let concerns: Vec<Concern> = told.concerns().into_iter().filter(is_new).collect();
    let burns = |one: &&Concern| matches!(one, Concern::Hot { .. } | Concern::OverCurrent { .. });
    let must_stay_off = told
        .hazards
        .is_some_and(|found| found.first_rating().is_some());
    let brief = |one: &Concern| hazards::brief_concern(one, must_stay_off);
    let hot = concerns.iter().filter(burns).map(brief);
    let mut urgent = danger.map(hazards::switch_off).into_iter().chain(hot);
    let mut others = concerns.iter().filter(|one| !burns(one)).map(brief);
    let predicted = hazards::gravest_and_others(told.hazards);
    let mut shown: Vec<String> = urgent.next().into_iter().collect();
    let mut count = urgent.count();
    if let Some((words, rest)) = predicted {
        count += rest;
        // A build that must not be switched on says so, whatever else was read of it.
        if must_stay_off && danger.is_none() || shown.is_empty() && concerns.is_empty() {
            shown.push(words);
        } else {
            count += 1;
        }
    }
    if danger.is_none() && shown.len() < 2 {
        shown.extend(others.next());
    }
    count += others.count();
    if shown.is_empty() {
        return;
    }
    let count = match count {
        0 => String::new(),
        1 => " (1 more warning: --detail)".to_owned(),
        others => format!(" ({} warnings: --detail)", kept(&format!("{others} more"))),
    };
    filled(out, width, 0, &(shown.join(" ") + &count));
}

fn belief(probability: f64) -> &'static str {
    match Belief::of(probability) {
        Belief::Likely if probability >= VERY => "Very likely",
        Belief::Likely => "Likely",
        Belief::Possible => "Possible",
        Belief::Unlikely => "Nothing stands out; first",
    }
}

fn causes(parts: &mut Parts, told: &Told<'_>, size: Size) {
    let Size { width, named, .. } = size;
    let Some((first, others)) = told.answer.groups.split_first() else {
        return;
    };
    let members = members(told, first);
    let Some(leader) = members.first() else {
        return;
    };
    let about = if told.evidence.observations.is_empty() {
        format!("{}, nothing read yet. ", told.build)
    } else {
        format!("{}. ", told.build)
    };
    let belief = belief(first.probability);
    let names = listed(told, &members, named);
    let belief = match belief {
        "Possible" if members.len() > 1 => "Possibly",
        belief => belief,
    };
    let words = if members.len() == 1 {
        format!("{about}{belief}: {names}.")
    } else {
        format!("{about}{belief} one of these: {names}.")
    };
    filled(&mut parts.first, width, 0, &words);
    let cure = told.advice(leader);
    let is_one = members.iter().all(|one| told.advice(one) == cure);
    let is_fault = leader.fault.family != Family::Sound;
    let cure = match (is_one, is_fault) {
        (true, true) => format!("Cure: {cure}."),
        (true, false) => format!("So: {cure}."),
        (false, _) => format!("Cure for the first cause: {cure}."),
    };
    if is_one || size.is_cure_said {
        filled(&mut parts.first, width, 0, &cure);
    }
    let possible: Vec<&Cause> = others
        .iter()
        .filter(|group| group.probability >= LEAST)
        .flat_map(|group| self::members(told, group))
        .collect();
    // A fault that does damage if it is left on is named, however many causes stand before it.
    let urgent = told.answer.causes.iter().find(|one| {
        let is_named = possible
            .iter()
            .take(named)
            .any(|shown| shown.fault.id == one.fault.id)
            || members
                .iter()
                .take(named)
                .any(|shown| shown.fault.id == one.fault.id);
        advice::is_urgent(one.fault.id) && one.probability >= LEAST && !is_named
    });
    if let Some(urgent) = urgent {
        let words = format!("Switch off at once if it is this: {}.", told.words(urgent));
        filled(&mut parts.first, width, 0, &words);
    }
    if !possible.is_empty() {
        let mut words = String::new();
        filled(
            &mut words,
            width,
            0,
            &format!("Possible too: {}.", listed(told, &possible, named)),
        );
        parts.room.push(words);
    }
}

fn members<'a>(told: &Told<'a>, group: &Group) -> Vec<&'a Cause> {
    let causes = &told.answer.causes;
    let all = group
        .members
        .iter()
        .filter_map(|&member| causes.get(member));
    all.collect()
}

/// The first causes by their names, and the number of the others.
fn listed(told: &Told<'_>, causes: &[&Cause], named: usize) -> String {
    let name = |cause: &&Cause| {
        let at_once = if advice::is_urgent(cause.fault.id) {
            " (then switch off at once)"
        } else {
            ""
        };
        format!("{}{at_once}", told.words(cause))
    };
    let mut names: Vec<String> = causes.iter().take(named).map(name).collect();
    if causes.len() > named {
        names.push(format!(
            "and {}",
            kept(&format!("{} more", causes.len() - named))
        ));
    }
    names.join("; ")
}

/// Collects the other remarks on the answer, the weightiest first.
fn notes(room: &mut Vec<String>, told: &Told<'_>, width: usize) {
    let mut say = |words: &str| {
        let mut set = String::new();
        filled(&mut set, width, 0, words);
        room.push(set);
    };
    if told.is_reversed {
        say("As the sheet has it, the primary works against the base: look at that first.");
    }
    if !told.starts {
        say("As drawn, this build is not expected to start: sagtrace predict says what it lacks.");
    }
    for clash in told.evidence.clashes() {
        say(&format!("Two readings disagree: {clash}."));
    }
    if let Some(multiple) = told.answer.multiple
        && let Reading::Value { value, .. } = multiple.observation.reading
    {
        let own = kept(&rounded(value / multiple.times, Unit::Hertz, 4));
        say(&format!(
            "The counter probably read a harmonic: {own} fits."
        ));
    }
    if let Some(words) = told.other_battery {
        say(&format!("Battery: {words}."));
    }
}

/// Writes the next step: the one that has to come before any check, then the check, how it is made, and its caution.
fn next(out: &mut String, told: &Told<'_>, command: &Command, width: usize) {
    let (evidence, answer) = (told.evidence, told.answer);
    let mut say = |words: &str| filled(out, width, 0, words);
    let first = answer.next.first().map(|one| one.check);
    if advice::is_to_put_back(evidence)
        && first.is_none_or(|check| check.id != CheckId::SwappedCurrent)
    {
        say("First put the two primary wires back, battery out: swapped they did not help.");
    }
    let history = "--ran-before\u{a0}yes (or never)";
    let Some(check) = first else {
        say("Next: no check known here would narrow the list.");
        if evidence.asks_history() {
            say(&format!("Say whether it ever ran: add {history}."));
        }
        return;
    };
    let forbids = told
        .hazards
        .is_some_and(|found| found.first_rating().is_some());
    // A build that must not be switched on is first put right, whatever a check would show.
    let next = if forbids && !check.is_unpowered() {
        "Next, once that is put right"
    } else {
        "Next"
    };
    say(&format!("{next}: {}. {}.", check.words, capital(check.how)));
    if !check.caution.is_empty() {
        say(&format!("Mind: {}", check.caution));
    }
    if command.is_asking {
        return;
    }
    let then = readings(told, check);
    if evidence.asks_history() {
        say(&format!("Then add: {history} {then}"));
    } else {
        say(&format!("Then add: {then}"));
    }
}

/// Returns the readings of a check, as they are typed.
fn readings(told: &Told<'_>, check: &Check) -> String {
    let is_swapped = advice::runs_in(told.evidence, Situation::LeadsSwapped);
    let situation = match check.situation {
        Situation::AsFound if is_swapped && !check.is_unpowered() => Situation::LeadsSwapped,
        other => other,
    };
    let open = check
        .reads
        .iter()
        .filter(|&&quantity| told.evidence.reading(situation, quantity).is_none());
    let each: Vec<String> = open.map(|&quantity| typed(situation, quantity)).collect();
    each.join(" ")
}

fn more(out: &mut String, command: &Command, size: Size) {
    let rows = command.lines("more:", size.width, "--detail");
    let most = if size.is_command_whole {
        COMMAND_LINES
    } else {
        1
    };
    let rows = if rows.len() > most {
        vec!["more: the same command with --detail".to_owned()]
    } else {
        rows
    };
    for row in rows {
        out.push_str(&row);
        out.push('\n');
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
