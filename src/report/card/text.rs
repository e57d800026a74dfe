//! The card as text.

use std::fmt::Write as _;

use super::content::{Card, sense_words};
use super::steps::Stage;
use crate::coil::winding::{CollectorEnd, Sense};
use crate::report::hazards::HEADING;
use crate::report::layout::{told, wrapped};

/// Where the expected range stands, and where the blank.
const EXPECTED_AT: usize = 46;
const BLANK_AT: usize = 78;
const BLANK: &str = "____________";

/// The card as it is printed and filled in.
pub fn text(card: &Card) -> String {
    let mut out = format!("{}: wiring and first power-up\n\n", card.name);
    if !card.hazards.is_empty() {
        wrapped(&mut out, 0, HEADING);
        for hazard in &card.hazards {
            wrapped(&mut out, 2, hazard);
        }
        out.push('\n');
    }
    for warning in &card.warnings {
        wrapped(&mut out, 0, &format!("mind: {warning}"));
    }
    if !card.warnings.is_empty() {
        out.push('\n');
    }
    out.push_str(&picture(card));
    out.push('\n');
    let (secondary, primary) = card.senses;
    told(
        &mut out,
        "secondary",
        &format!("{}, {}", card.turns.0, sense_words(secondary)),
    );
    told(
        &mut out,
        "primary",
        &format!("{}, {}", card.turns.1, sense_words(primary)),
    );
    for (joint, words) in &card.wires {
        told(&mut out, joint, words);
    }
    told(&mut out, card.case, card.pinout.words);
    told(&mut out, "enamel", card.enamel);
    let mut number = 0;
    for stage in &card.stages {
        out.push('\n');
        of_stage(&mut out, stage, &mut number);
    }
    out.push('\n');
    for caution in card.cautions {
        wrapped(&mut out, 0, caution.words());
    }
    out
}

fn of_stage(out: &mut String, stage: &Stage, number: &mut usize) {
    wrapped(out, 0, &stage.heading);
    for step in &stage.steps {
        *number += 1;
        let what = format!("{number:3}  {}", step.what);
        let width = BLANK_AT - EXPECTED_AT;
        let fits = what.chars().count() < EXPECTED_AT && step.expected.chars().count() < width;
        // Writing to a String cannot fail, here and below.
        if fits {
            writeln!(out, "{what:EXPECTED_AT$}{:width$}{BLANK}", step.expected).ok();
        } else {
            writeln!(out, "{what:BLANK_AT$}{BLANK}").ok();
            writeln!(out, "{:EXPECTED_AT$}{}", "", step.expected).ok();
        }
    }
    for note in &stage.notes {
        wrapped(out, 5, note);
    }
}

/// The two windings from the side with where their ends go.
fn picture(card: &Card) -> String {
    let turn = |sense: Sense| match sense {
        Sense::Right => '/',
        Sense::Left => '\\',
    };
    let (secondary, primary) = (turn(card.senses.0), turn(card.senses.1));
    let (lower, upper) = match card.collector_end {
        CollectorEnd::TopSide => ("plus", "the collector"),
        CollectorEnd::FootSide => ("the collector", "plus"),
    };
    let mut out = String::new();
    let mut row = |left: String, right: &str| {
        let row = format!("{:4}{left:20}{right}", "");
        writeln!(out, "{}", row.trim_end()).ok();
    };
    let thin = format!("    |{}|", secondary.to_string().repeat(4));
    let wide = format!(
        "{0}{0}{0} |{1}| {0}{0}{0}",
        primary,
        secondary.to_string().repeat(4)
    );
    row("       .".to_owned(), "the top: stays open");
    row(thin.clone(), "");
    row(thin.clone(), "the secondary, seen from the side");
    row(thin, "");
    row(
        wide.clone(),
        &format!("the primary's upper end: to {upper}"),
    );
    row(wide, &format!("the primary's lower end: to {lower}"));
    row("       |".to_owned(), "the foot: to the base");
    out
}
