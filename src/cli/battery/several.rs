//! `battery N2 N5`: several batteries beside each other.

use std::path::Path;

use super::books::known;
use crate::analysis::figures::battery::{Overlay, side_by_side};
use crate::battery::logbook::{Entry, Logbook};
use crate::cli::args::{BatteryArgs, Format};
use crate::cli::command_line::typed;
use crate::cli::exit::{Failure, Outcome, USAGE};
use crate::cli::{output, pictures};
use crate::logbook::{Rule, reread, shown};
use crate::plain::Shown as _;
use crate::report;
use crate::report::battery::answer;
use crate::units::{Unit, rounded};

/// The number of batteries that one picture can show apart.
const MOST: usize = 8;

pub(super) fn run(
    args: &BatteryArgs,
    dir: &Path,
    rule: &Rule,
    books: &[Logbook],
) -> Result<Outcome, Failure> {
    if args.labels.len() > MOST {
        return Err(Failure::new(
            USAGE,
            format!(
                "found {} batteries to compare: expected at most {MOST}",
                args.labels.len()
            ),
        )
        .hint("name fewer, or none for a list of all"));
    }
    if args.coil_stop || args.at.is_some() {
        let said = "--coil-stop and --at: for one battery, several are named";
        return Err(Failure::new(USAGE, said).hint("name one battery"));
    }
    let mut chosen: Vec<Logbook> = Vec::new();
    for label in &args.labels {
        let book = known(books, label, dir)?;
        if !chosen.iter().any(|one| one.battery == book.battery) {
            chosen.push(book.clone());
        }
    }
    output::result(&match args.format {
        Format::Text if args.detail => {
            output::account(report::battery::list(&chosen, &dir.shown()))
        }
        Format::Text => answer::list(
            &chosen,
            &dir.shown(),
            &typed(&args.labels),
            true,
            output::width(),
        ),
        Format::Json => output::json(&report::battery::json::List::new(&chosen))?,
    })?;
    if args.no_plots {
        return Ok(Outcome::DONE);
    }
    let mut overlays = Vec::new();
    for book in &chosen {
        let Some(entry) = shown(book) else { continue };
        let run = reread(dir, entry, rule.load)?;
        overlays.push(Overlay::new(name(book, entry), &run));
    }
    let shown: Vec<&Entry> = chosen.iter().filter_map(shown).collect();
    let figure = side_by_side(&shown, &overlays);
    let usual = chosen.first().and_then(Logbook::last);
    let usual = usual.map_or_else(
        || dir.to_path_buf(),
        |last| dir.join(&last.folder).join("plots"),
    );
    let plots = args.plots.clone().unwrap_or(usual);
    let figures = [("batteries-compared", figure)];
    pictures::tell(&pictures::draw(&figures, &plots, pictures::PLOTS)?);
    Ok(Outcome::DONE)
}

fn name(book: &Logbook, entry: &Entry) -> String {
    let day = entry.started.get(..10).unwrap_or(&entry.started);
    let current = entry.current_a.map_or_else(String::new, |current_a| {
        format!(", {}", rounded(current_a, Unit::Ampere, 2))
    });
    let full = if entry.full_s().is_some() {
        ""
    } else {
        ", no full run"
    };
    format!("{} {day}{current}{full}", book.battery)
}
