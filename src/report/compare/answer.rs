//! The first lines of `compare`: where the coil runs, whether it stopped, how far it moved, the doubts, and the next step.

use super::change::{self, Change, lasting, times};
use super::explained;
use super::interruptions::{clock, missing};
use super::notes;
use super::pushing::stops_beside;
use crate::analysis::compare::Comparison;
use crate::analysis::estimate::to_place_of;
use crate::analysis::events::{Kept, Stop};
use crate::analysis::level::{BandPlace, Deviation, Level};
use crate::analysis::multiple::Multiple;
use crate::analysis::pushing::{Modelled, contradicted_stops};
use crate::analysis::stretches::Judged;
use crate::analysis::summary::SourceSummary;
use crate::circuit::pushing::Ceases;
use crate::coil::Resonance;
use crate::logbook::Compared;
use crate::logbook::good_day::Explained;
use crate::reading::Status;
use crate::report::layout::{kept, shell_word};
use crate::report::short::Short;
use crate::session::Meta;
use crate::units::{Unit, rounded};

/// The session, and how it was asked for.
#[derive(Debug, Clone, Copy)]
pub struct Of<'a> {
    /// The session's own description.
    pub meta: &'a Meta,
    /// Its folder as it was typed.
    pub dir: &'a std::path::Path,
    /// Whether the sheet in it was changed after the recording.
    pub is_sheet_changed: bool,
    /// Whether a good day is kept in it, or was just asked for.
    pub has_good_day: bool,
}

/// The answer in at most twelve lines of `width` columns.
pub fn answer(of: Of<'_>, compared: &Compared, found: Option<&Explained>, width: usize) -> String {
    let comparison = &compared.comparison;
    let mut short = Short::default();
    short.say(super::session::heading(of.meta).trim_end());
    if of.is_sheet_changed {
        short.say(
            "build.toml was changed after this recording: the model is that of the changed sheet.",
        );
    }
    let place = place(comparison);
    short.say(format!("{place} {}", stops(comparison)).trim_end());
    if let Some(found) = found {
        short.say(explained::sentence(&found.fit, found.earth));
    }
    short.say_all(stretches(comparison));
    let change = Change::of(comparison, &compared.traces);
    if comparison.start.is_some() {
        short.say(change::sentence(comparison, change.as_ref()));
    }
    short.say_all(change::rate(comparison, change.as_ref()));
    if let Some(ceases) = ceases(compared.pushing.as_ref()) {
        short.say_all(stops_beside(comparison, ceases));
    }
    short.say_all(trouble(comparison));
    notes::nearby(comparison)
        .into_iter()
        .chain(notes::lamps(&compared.lamps))
        .chain(notes::jumps(comparison))
        .for_each(|one| short.say(one));
    let (why, command) = next(of, compared);
    short.next(why, &command);
    short.more(format!("sagtrace compare {} --detail", shell_word(of.dir)));
    short.printed(width)
}

/// A frequency known so well that a digit more than the band's shows.
fn beside_band(value_hz: f64, model: &Resonance) -> String {
    kept(&to_place_of(value_hz, band_hz(model) / 10.0, Unit::Hertz))
}

/// The band's width, for its digits. A measured resonance may have no band; it is then known to four digits.
fn band_hz(model: &Resonance) -> f64 {
    (model.high_hz - model.low_hz).max(1e-3 * model.value_hz)
}

/// `5.81 to 6.73 MHz`.
fn band(model: &Resonance) -> String {
    let end = |value_hz| to_place_of(value_hz, band_hz(model), Unit::Hertz);
    let (low, high) = (end(model.low_hz), end(model.high_hz));
    if low == high {
        return kept(&low);
    }
    match (low.split_once(' '), high.split_once(' ')) {
        (Some((number, unit)), Some((_, same))) if unit == same => {
            kept(&format!("{number} to {high}"))
        }
        _ => kept(&format!("{low} to {high}")),
    }
}

/// How far a level lies from the predicted value, to no more digits than the band is known.
fn off(level: &Level, model: &Resonance) -> String {
    let ratio = Deviation::of(level.mean_hz, model).ratio;
    let half = band_hz(model) / 2.0 / model.value_hz;
    // A twentieth of the last digit that is shown.
    if ratio.abs() < half / 100.0 {
        return "at the predicted value".to_owned();
    }
    let share = kept(&to_place_of(
        ratio.abs(),
        half.max(ratio.abs()),
        Unit::Percent,
    ));
    let side = if ratio > 0.0 { "above" } else { "below" };
    let predicted = kept(&to_place_of(model.value_hz, band_hz(model), Unit::Hertz));
    format!("{share} {side} the predicted {predicted}")
}

/// Returns where it runs against the model, in one or two sentences.
fn place(comparison: &Comparison) -> String {
    let Some(start) = &comparison.start else {
        return unread(comparison);
    };
    let Some(model) = &comparison.model else {
        let runs = kept(&rounded(start.mean_hz, Unit::Hertz, 4));
        return format!("Runs at {runs}. There is no build sheet to compare it with.");
    };
    let (runs, band) = (beside_band(start.mean_hz, model), band(model));
    if let Some(multiple) = Multiple::of(start.mean_hz, model) {
        let times = match multiple {
            Multiple::Half => "half",
            Multiple::Double => "twice",
            Multiple::Triple => "three times",
        };
        return format!(
            "The instrument reads {runs}, about {times} what the model expects ({band}). It looks like a harmonic, or a gate \
             setting; it says nothing against the coil."
        );
    }
    let off = off(start, model);
    let share = comparison.inside_share.unwrap_or(f64::NAN);
    match Deviation::of(start.mean_hz, model).place {
        BandPlace::Inside if share < 1.0 => format!(
            "Begins at {runs}, where the model expects it ({band}), {off}. Of all readings, {} lie inside.",
            percent(share)
        ),
        BandPlace::Inside => format!("Runs at {runs}, where the model expects it ({band}), {off}."),
        outside => {
            let side = if outside == BandPlace::Above {
                "above"
            } else {
                "below"
            };
            let later = if share > 0.0 {
                format!(" Of all readings, {} lie inside.", percent(share))
            } else {
                String::new()
            };
            format!(
                "Runs at {runs}, {side} the band that the model expects ({band}): {off}.{later}"
            )
        }
    }
}

/// A share in whole per cents, never 0 or 100 where it is neither.
fn percent(share: f64) -> String {
    match (share * 100.0).round() {
        0.0 => kept("less than 1 %"),
        100.0 => kept("more than 99 %"),
        whole => kept(&format!("{whole} %")),
    }
}

/// Why there is no frequency.
fn unread(comparison: &Comparison) -> String {
    let summary = &comparison.summary;
    if summary.rows() == 0 {
        return "Nothing was recorded: the session has no row.".to_owned();
    }
    let rows = |wanted: Status| -> usize {
        let sources = summary.sources().iter();
        let statuses = sources.flat_map(SourceSummary::statuses);
        statuses
            .filter(|(status, _)| *status == wanted)
            .map(|(_, rows)| rows)
            .sum()
    };
    let over = lasting(summary.duration_s());
    match rows(Status::NoSignal) {
        0 => format!("No frequency was read in {over}: see what the instruments answered."),
        dark => format!(
            "No frequency was read in {over}: {dark} of {} rows say \"no signal\". The coil was dark, or its \
             pick-up too far away.",
            summary.rows()
        ),
    }
}

/// Whether it ever stopped.
fn stops(comparison: &Comparison) -> String {
    let (stops, restarts) = (comparison.events.stops(), comparison.events.restarts());
    let Some(first) = stops.entries.first() else {
        return match (&comparison.start, comparison.events.outages().count()) {
            (None, _) => String::new(),
            (_, 0) => "It never stopped.".to_owned(),
            _ => "It never stopped while data came.".to_owned(),
        };
    };
    let battery = first.battery_from_v.map_or_else(String::new, |volts| {
        format!(" at {}", kept(&rounded(volts, Unit::Volt, 3)))
    });
    let after = lasting(first.from_s);
    let count = stops.count();
    let again = match (count, restarts) {
        (1, 1) => "and started again",
        (1, _) => "and did not start again",
        (_, 0) => "and never started again",
        (count, restarts) if restarts >= count => "and started again each time",
        _ => "and did not start again the last time",
    };
    let first = if count == 1 { "" } else { "first " };
    format!(
        "It stopped {}, {first}after {after}{battery}, {again}.",
        times(count)
    )
}

/// Each stretch where the earth state changed.
fn stretches(comparison: &Comparison) -> Vec<String> {
    if comparison.stretches.len() < 2 {
        return Vec::new();
    }
    let said = |one: &Judged| {
        let start = one.start?;
        let earth = one
            .stretch
            .earth
            .map_or("in an unknown earth state", |earth| earth.name());
        let from = clock(one.stretch.from_s.max(0.0));
        let against = one
            .stretch
            .model
            .as_ref()
            .map_or_else(String::new, |model| {
                let place = match Deviation::of(start.mean_hz, model).place {
                    BandPlace::Below => "below",
                    BandPlace::Inside => "inside",
                    BandPlace::Above => "above",
                };
                format!(", {place} its band ({})", band(model))
            });
        let runs = kept(&rounded(start.mean_hz, Unit::Hertz, 4));
        Some(format!("From {from}, {earth}: {runs}{against}."))
    };
    comparison.stretches.iter().filter_map(said).collect()
}

/// Where a prediction has the circuit cease to run.
fn ceases(modelled: Option<&Modelled>) -> Option<&Ceases> {
    match modelled {
        Some(Modelled::Curve { ceases, .. } | Modelled::NotRunning { ceases, .. }) => {
            ceases.as_ref()
        }
        _ => None,
    }
}

/// Whether every stop was where the battery was predicted to end it.
fn stops_are_expected(compared: &Compared) -> bool {
    let comparison = &compared.comparison;
    let is_known = |stop: &Stop| stop.battery_from_v.is_some();
    ceases(compared.pushing.as_ref()).is_some_and(|ceases| {
        comparison.events.stops().entries.iter().all(is_known)
            && contradicted_stops(comparison, ceases).is_empty()
    })
}

/// Missing data and doubted readings.
fn trouble(comparison: &Comparison) -> Option<String> {
    let outages = comparison.events.outages();
    let gaps = match outages.count() {
        0 => "No data are missing".to_owned(),
        count => format!(
            "Data are missing {}, {} in all",
            times(count),
            kept(&missing(outages, comparison.summary.end_s()))
        ),
    };
    let doubts = &comparison.events.doubts().entries;
    let alone: usize = comparison.lone.iter().map(Kept::count).sum();
    let doubted: usize = doubts.iter().map(|doubt| doubt.readings).sum();
    let mut said = match (doubts.first(), alone) {
        (None, 0) if outages.count() == 0 && comparison.start.is_none() => return None,
        (None, 0) => return Some(format!("{gaps}, and no reading is in doubt.")),
        (None, _) => format!("{gaps}."),
        (Some(first), _) => {
            let least = if comparison.events.doubts().more > 0 {
                "at least "
            } else {
                ""
            };
            format!(
                "{gaps}. In doubt: {least}{}, the first at {} ({}).",
                kept(&format!("{doubted} readings")),
                clock(first.from_s),
                first.why
            )
        }
    };
    if alone > 0 {
        let first = comparison.lone.iter().flat_map(|lone| &lone.entries);
        let first = first.min_by(|one, other| one.at_s.total_cmp(&other.at_s));
        let at = first.map_or_else(String::new, |lone| {
            format!(", first at {}", clock(lone.at_s))
        });
        let words = alone_words(alone);
        said = format!("{said} A reading stands {words}{at}, far from its neighbours.");
    }
    Some(said)
}

fn alone_words(count: usize) -> String {
    if count == 1 {
        "alone".to_owned()
    } else {
        format!("alone {}", times(count))
    }
}

/// Returns the next step: its purpose, and the command.
fn next(of: Of<'_>, compared: &Compared) -> (&'static str, String) {
    let comparison = &compared.comparison;
    let dir = shell_word(of.dir);
    let diagnose = format!("sagtrace diagnose --session {dir}");
    let Some(start) = &comparison.start else {
        return match comparison.summary.rows() {
            0 => (
                "to see whether the folder is whole",
                format!("sagtrace check {dir}"),
            ),
            _ => ("to find out why", diagnose),
        };
    };
    let Some(model) = &comparison.model else {
        return (
            "to describe the build",
            "sagtrace sheet new build.toml".to_owned(),
        );
    };
    let instrument = of.meta.instruments.first();
    if Multiple::of(start.mean_hz, model).is_some() {
        let proof = instrument.map(|one| {
            let address = format!("{}@{}", one.profile, one.address);
            format!(
                "sagtrace record -i {} --dry-run",
                shell_word(address.as_ref())
            )
        });
        return (
            "to check what the instrument counts",
            proof.unwrap_or_else(|| "sagtrace ports --identify".to_owned()),
        );
    }
    let place = Deviation::of(start.mean_hz, model).place;
    if comparison.events.stops().count() > 0 && !stops_are_expected(compared) {
        ("to find why it stopped", diagnose)
    } else if place != BandPlace::Inside && !of.has_good_day {
        let thing = if place == BandPlace::Above {
            "earth"
        } else {
            "top"
        };
        (
            "to see what would explain it",
            format!("sagtrace compare {dir} --fit {thing}"),
        )
    } else if place != BandPlace::Inside || comparison.steps.count() > 0 {
        ("to find what changed", diagnose)
    } else if !of.has_good_day {
        (
            "to keep this as the build's good day",
            format!("sagtrace compare {dir} --fit winding"),
        )
    } else if let Some(label) = &of.meta.battery {
        (
            "to see what the battery has left",
            format!("sagtrace battery {}", shell_word(label.as_ref())),
        )
    } else {
        (
            "to see how it should run",
            format!(
                "sagtrace predict {}",
                shell_word(&of.dir.join("build.toml"))
            ),
        )
    }
}
