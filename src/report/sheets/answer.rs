//! Two sheets in a first reading: which difference matters most for starting, and which for the resonance.

use std::path::Path;

use crate::plain::Shown as _;
use crate::report::layout::{kept, numbers_kept, shell_word};
use crate::report::short::Short;
use crate::sheet::differences::{Difference, Outcome, Walk};
use crate::units::{Unit, rounded};

/// A resonance that moves by less than this share is called unmoved. Chosen: well inside any band.
const UNMOVED: f64 = 1e-3;
/// A margin that moves by less than this share is called the same. Chosen, as its second digit.
const SAME_MARGIN: f64 = 0.02;

/// A sheet: its build's name, and its file as it was typed.
pub type Named<'a> = (&'a str, &'a Path);

/// The answer in at most twelve lines of `width` columns.
pub fn answer(mine: Named<'_>, theirs: Named<'_>, walk: &Walk, width: usize) -> String {
    let mut short = Short::default();
    // Builds of one name are named by their files.
    let by_file = [mine.1.shown(), theirs.1.shown()];
    let (mine, theirs) = if mine.0 == theirs.0 {
        (
            (by_file[0].as_str(), mine.1),
            (by_file[1].as_str(), theirs.1),
        )
    } else {
        (mine, theirs)
    };
    let (my_path, their_path) = (shell_word(mine.1), shell_word(theirs.1));
    short.more(format!("sagtrace compare {my_path} {their_path} --detail"));
    let (from, to) = match (&walk.mine, &walk.theirs) {
        (Ok(from), Ok(to)) => (from, to),
        (from, to) => {
            let named = [(mine, from), (theirs, to)];
            for ((name, _), found) in named {
                match found {
                    Ok(one) => short.say(format!("{name} {}.", starts(one))),
                    Err(why) => short.say(format!("{name} cannot be computed: {why}.")),
                }
            }
            let (_, path) = if walk.mine.is_err() { mine } else { theirs };
            short.next(
                "to find what is missing",
                &format!("sagtrace sheet check {}", shell_word(path)),
            );
            return short.printed(width);
        }
    };
    short.say(format!(
        "{} {}; {} {}.",
        mine.0,
        starts(from),
        theirs.0,
        starts(to)
    ));
    short.say("The margin is that of the start, with typical parts: above 1 it starts.");
    if walk.differences.is_empty() {
        short.say("No difference bears on the start or on the resonance.");
    } else {
        short.say(for_the_start(walk, from));
        short.say(for_the_resonance(walk, from));
        if walk.differences.len() > 1 {
            short.say(together(walk.differences.len(), from, to));
        }
        short.say_all(not_alone(walk));
    }
    let is_dark = |one: &Outcome| one.growth_per_s <= 0.0;
    if is_dark(to) {
        short.next(
            "to see what would start it",
            &format!("sagtrace diagnose {their_path}"),
        );
    } else if is_dark(from) {
        short.next(
            "to see what would start it",
            &format!("sagtrace diagnose {my_path}"),
        );
    } else {
        short.next(
            "to see how it runs",
            &format!("sagtrace predict {their_path}"),
        );
    }
    short.printed(width)
}

fn together(count: usize, from: &Outcome, to: &Outcome) -> String {
    let share = to.resonance_hz / from.resonance_hz - 1.0;
    let (before, after) = (hertz(from), hertz(to));
    if share.abs() < UNMOVED {
        return format!("With all {count} differences together the resonance stays at {before}.");
    }
    let moved = kept(&format!("{:+.0} %", share * 100.0));
    format!(
        "With all {count} differences together the resonance goes from {before} to {after} ({moved}). Effects do not add up."
    )
}

fn hertz(of: &Outcome) -> String {
    kept(&rounded(of.resonance_hz, Unit::Hertz, 4))
}

fn starts(of: &Outcome) -> String {
    match (of.start_margin, of.growth_per_s > 0.0) {
        (Some(margin), true) => format!("starts (margin {})", digits(margin)),
        (Some(margin), false) => format!("does not start (margin {})", digits(margin)),
        (None, true) => "starts at any speed of the transistor".to_owned(),
        (None, false) => "starts at no speed of the transistor".to_owned(),
    }
}

/// A margin to two digits.
fn digits(margin: f64) -> String {
    let decimals = usize::from(margin.abs() < 9.95);
    let text = format!("{margin:.decimals$}");
    // Beside the threshold a digit more says on which side it lies.
    if text == "1.0" {
        format!("{margin:.2}")
    } else {
        text
    }
}

/// Returns a difference in words: the part that differs, and its two values.
fn named(one: &Difference) -> String {
    numbers_kept(&format!("{} ({} → {})", one.what, one.mine, one.theirs))
}

/// Returns the difference that matters most for starting: one that decides it alone, else that with the greatest effect.
fn for_the_start(walk: &Walk, from: &Outcome) -> String {
    let computed = || {
        walk.differences
            .iter()
            .filter_map(|one| Some((one, one.outcome.as_ref().ok()?)))
    };
    let decides = |one: &Outcome| (one.growth_per_s > 0.0) != (from.growth_per_s > 0.0);
    // The greatest effect on the growth stands first.
    let most = computed()
        .find(|(_, now)| decides(now))
        .or_else(|| computed().next());
    let Some((one, now)) = most else {
        return "For starting, no difference can be computed alone.".to_owned();
    };
    let name = named(one);
    if decides(now) {
        let does = if now.growth_per_s > 0.0 {
            "makes the circuit start"
        } else {
            "keeps the circuit from starting"
        };
        return format!("For starting, this matters most: {name}. Alone it {does}.");
    }
    match (from.start_margin, now.start_margin) {
        (Some(before), Some(after)) if (after / before - 1.0).abs() >= SAME_MARGIN => format!(
            "For starting, this matters most: {name}. Alone it takes the margin from {} to {}.",
            digits(before),
            digits(after)
        ),
        _ => format!("For starting, no difference matters much; the first is {name}."),
    }
}

/// Returns the difference that moves the resonance most.
fn for_the_resonance(walk: &Walk, from: &Outcome) -> String {
    let share = |now: &Outcome| now.resonance_hz / from.resonance_hz - 1.0;
    let computed = walk
        .differences
        .iter()
        .filter_map(|one| Some((one, one.outcome.as_ref().ok()?)));
    let most =
        computed.max_by(|(_, one), (_, other)| share(one).abs().total_cmp(&share(other).abs()));
    match most {
        Some((one, now)) if share(now).abs() >= UNMOVED => {
            let by = share(now) * 100.0;
            let decimals = usize::from(by.abs() < 9.95);
            format!(
                "For the resonance, this matters most: {}. Alone it takes {} to {} ({}).",
                named(one),
                hertz(from),
                hertz(now),
                kept(&format!("{by:+.decimals$} %"))
            )
        }
        _ => "No difference moves the resonance by itself.".to_owned(),
    }
}

/// Differences that can't be computed alone.
fn not_alone(walk: &Walk) -> Option<String> {
    let failed = walk.differences.iter().filter(|one| one.outcome.is_err());
    let names: Vec<&str> = failed.map(|one| one.what).collect();
    (!names.is_empty()).then(|| format!("Not computed alone: {}.", names.join("; ")))
}

#[cfg(test)]
mod tests {
    use super::super::tests::walk;
    use super::*;
    use crate::sheet::drive::WhyNone;

    fn said(walk: &Walk) -> String {
        let text = answer(
            ("ours", "a.toml".as_ref()),
            ("theirs", "b c.toml".as_ref()),
            walk,
            80,
        );
        assert!(text.lines().count() <= 12, "{text}");
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        text
    }

    #[test]
    fn what_decides_the_start_and_what_moves_the_resonance_are_named() {
        insta::assert_snapshot!(said(&walk()), @"
        ours starts (margin 2.0); theirs does not start (margin 0.9).
        The margin is that of the start, with typical parts: above 1 it starts.
        For starting, this matters most: primary: turns (3 → 1). Alone it keeps the
        circuit from starting.
        No difference moves the resonance by itself.
        With all 2 differences together the resonance goes from 6.217 MHz to 6.100 MHz
        (-2 %). Effects do not add up.
        Not computed alone: secondary: wire.
        next, to see what would start it: sagtrace diagnose 'b c.toml'
        more: sagtrace compare a.toml 'b c.toml' --detail
        ");
    }

    #[test]
    fn the_greatest_of_some_that_decide_nothing_is_named_with_what_it_does() {
        let mut walk = walk();
        for (one, now) in walk
            .differences
            .iter_mut()
            .zip([(4.86, 6.224e6), (9.21, 3.944e6)])
        {
            one.outcome = Ok(Outcome {
                start_margin: Some(now.0),
                growth_per_s: 1e5,
                resonance_hz: now.1,
            });
        }
        insta::assert_snapshot!(said(&walk), @"
        ours starts (margin 2.0); theirs does not start (margin 0.9).
        The margin is that of the start, with typical parts: above 1 it starts.
        For starting, this matters most: primary: turns (3 → 1). Alone it takes the
        margin from 2.0 to 4.9.
        For the resonance, this matters most: secondary: wire (0.2 mm → 0.5 mm). Alone
        it takes 6.217 MHz to 3.944 MHz (-37 %).
        With all 2 differences together the resonance goes from 6.217 MHz to 6.100 MHz
        (-2 %). Effects do not add up.
        next, to see what would start it: sagtrace diagnose 'b c.toml'
        more: sagtrace compare a.toml 'b c.toml' --detail
        ");
    }

    #[test]
    fn sheets_that_do_not_differ_and_one_that_cannot_be_computed_say_so() {
        let mut walk = walk();
        walk.differences.clear();
        let same = said(&walk);
        walk.theirs = Err(WhyNone.into());
        insta::assert_snapshot!(same + "\n" + &said(&walk), @"
        ours starts (margin 2.0); theirs does not start (margin 0.9).
        The margin is that of the start, with typical parts: above 1 it starts.
        No difference bears on the start or on the resonance.
        next, to see what would start it: sagtrace diagnose 'b c.toml'
        more: sagtrace compare a.toml 'b c.toml' --detail

        ours starts (margin 2.0).
        theirs cannot be computed: the coil as the circuit sees it is not known.
        next, to find what is missing: sagtrace sheet check 'b c.toml'
        more: sagtrace compare a.toml 'b c.toml' --detail
        ");
    }
}
