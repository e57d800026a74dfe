//! A profile's TOML file, read into a checked [`Profile`]; `devices/README.md` is its description for people.
//!
//! A file with any fault gives no profile, so the stand-in for a faulty value here is never used.

mod keys;
mod lines;
mod places;
mod port;
mod stream;
mod unit;
mod waveform;

use std::time::Duration;

use crate::faults::{self, Entry, Faults, Table};
use crate::instrument::file::keys::{count_of, usual, whole};
use crate::instrument::file::lines::form;
use crate::instrument::file::port::port;
use crate::instrument::file::unit::{is_period, scale, thousands, unit_cell};
use crate::instrument::file::waveform::Taken;
use crate::instrument::number::marks::Marks;
use crate::instrument::number::rule::NumberRule;
use crate::instrument::number::value::Multiplier;
use crate::instrument::profile::layout::ColumnLayout;
use crate::instrument::profile::port::WireEnd;
use crate::instrument::profile::unit_cell::UnitCell;
use crate::instrument::profile::{
    Belief, ChannelRule, Errors, Form, Manner, Place, Profile, Resync, Timing,
};
use crate::reading::Channel;
use crate::units::Unit;

/// The form of profile files that this program reads.
const SCHEMA: i64 = 1;

impl Profile {
    /// Reads a profile; `stem` is its file's name without `.toml`, which must be the name in it.
    ///
    /// # Errors
    /// Every fault of the file with its line and key.
    pub fn parse(stem: &str, text: &str) -> Result<Self, Faults> {
        faults::read(text, |top| profile(stem, top))
    }
}

fn profile(stem: &str, top: &Table<'_>) -> Option<Profile> {
    let schema = top
        .need("schema", "expected schema = 1")
        .and_then(|entry| entry.integer(SCHEMA..=SCHEMA));
    let name = top
        .need("name", "expected the profile's name")
        .and_then(|entry| name(&entry, stem));
    let about = top
        .need("about", "expected one line that describes it")
        .and_then(|entry| entry.text());
    let manner = top
        .need("manner", "expected \"asked\" or \"unasked\"")
        .and_then(|entry| entry.choice(&[("asked", Manner::Asked), ("unasked", Manner::Unasked)]));
    let port = port(top.table("port").as_ref(), manner);
    let timing = timing(top.table("timing").as_ref());
    let (gate_time, averaging) = measures(top.table("measures").as_ref());
    let (start, identity) = start(top.table("start").as_ref(), manner);
    let resync = pair(top.table("resync").as_ref(), "ask", "answer")
        .map(|(ask, answer)| Resync { ask, answer });
    let errors =
        pair(top.table("errors").as_ref(), "ask", "none").map(|(ask, none)| Errors { ask, none });
    let marks = marks(top.table("marks").as_ref());
    let decimal_sign = top
        .entry("decimal_sign")
        .map_or(Some('.'), |entry| entry.choice(&[(".", '.'), (",", ',')]));
    let (form, stream) = form(top.table("lines").as_ref(), manner, decimal_sign, top).unzip();
    let thousands = thousands(top, decimal_sign, form.as_ref());
    let tables = top.tables("value");
    if tables.is_empty() {
        top.fault("no [[value]]", "expected at least one");
    }
    let shared = Shared {
        form: form.clone(),
        marks,
        decimal_sign,
        thousands,
    };
    let values: Vec<Option<ChannelRule>> =
        tables.iter().map(|table| value(table, &shared)).collect();
    let values = values.into_iter().collect::<Option<Vec<_>>>();
    twice(&tables, values.as_deref());
    let waveform = waveform::of_profile(top, manner, port.as_ref(), values.as_deref());
    schema?;
    let mut port = port?;
    if let Some(Form::Places(layout)) = &form
        && layout.is_counted
    {
        port.received_end = WireEnd::Counted(u8::try_from(layout.length).ok()?);
    }
    Some(Profile {
        name: name?,
        about: about?.to_owned(),
        manner: manner?,
        port,
        timing: timing?,
        gate_time: gate_time?,
        averaging: averaging?,
        start: start?,
        identity,
        resync,
        errors,
        form: form?,
        stream: stream?,
        waveform,
        values: values?,
    })
}

fn name(entry: &Entry<'_>, stem: &str) -> Option<String> {
    let name = entry.text()?;
    if name != stem {
        entry.fault(&format!("expected the name of its file, \"{stem}\""));
        return None;
    }
    Some(name.to_owned())
}

fn timing(table: Option<&Table<'_>>) -> Option<Timing> {
    let time = |key, usual_s: f64, low_s: f64, high_s: f64| {
        usual(table, key, usual_s, |entry| {
            entry.quantity(Unit::Second, low_s..=high_s)
        })
        .map(Duration::from_secs_f64)
    };
    let every = time("every", 1.0, 0.001, 86_400.0);
    let timeout = time("timeout", 2.0, 0.001, 600.0);
    let settle = time("settle", 0.0, 0.0, 60.0);
    let pause = time("pause", 0.0, 0.0, 60.0);
    let silence = time("silence", 5.0, 0.01, 3600.0);
    if let Some(table) = table {
        table.close();
    }
    Some(Timing {
        every: every?,
        timeout: timeout?,
        settle: settle?,
        pause: pause?,
        silence: silence?,
    })
}

fn measures(table: Option<&Table<'_>>) -> (Option<String>, Option<String>) {
    let word = |key| {
        usual(table, key, "unknown".to_owned(), |entry| {
            entry.text().map(str::to_owned)
        })
    };
    let found = (word("gate_time"), word("averaging"));
    if let Some(table) = table {
        table.close();
    }
    found
}

fn start(
    table: Option<&Table<'_>>,
    manner: Option<Manner>,
) -> (Option<Vec<String>>, Option<String>) {
    let send = usual(table, "send", Vec::new(), Entry::texts);
    let identity = table
        .and_then(|table| table.entry("identity"))
        .filter(|entry| {
            let has_answer = manner != Some(Manner::Unasked);
            if !has_answer {
                entry.fault(
                    "a question for the name is for asked profiles: its answer would stand among the lines",
                );
            }
            has_answer
        })
        .and_then(|entry| entry.text().map(str::to_owned));
    if let Some(table) = table {
        table.close();
    }
    (send, identity)
}

/// A table of two texts that must both be there, if it is there at all; a missing one is a fault.
fn pair(
    table: Option<&Table<'_>>,
    one: &'static str,
    other: &'static str,
) -> Option<(String, String)> {
    let table = table?;
    let text = |key| {
        table
            .need(key, "expected a text in quotes")
            .and_then(|entry| entry.text())
            .map(str::to_owned)
    };
    let found = (text(one), text(other));
    table.close();
    Some((found.0?, found.1?))
}

fn marks(table: Option<&Table<'_>>) -> Option<Marks> {
    let no_signal = usual(table, "no_signal", Vec::new(), Entry::texts);
    let overload = usual(table, "overload", Vec::new(), Entry::texts);
    let unsteady = usual(table, "unsteady", Vec::new(), Entry::texts);
    if let Some(table) = table {
        table.close();
    }
    Some(Marks {
        no_signal: no_signal?,
        overload: overload?,
        unsteady: unsteady?,
    })
}

/// The keys that all values of a profile have in common.
struct Shared {
    form: Option<Form>,
    marks: Option<Marks>,
    decimal_sign: Option<char>,
    thousands: Option<char>,
}

fn value(table: &Table<'_>, shared: &Shared) -> Option<ChannelRule> {
    let channels = Channel::ALL.map(|channel| (channel.column(), channel));
    let channel = table
        .need("channel", "expected a column's name")
        .and_then(|entry| entry.choice(&channels));
    let input = table.entry("input").map(|entry| entry.text());
    let factor = usual(Some(table), "factor", 1.0, |entry| entry.number(1e-9..=1e9));
    let is_period = is_period(table, channel);
    let unit = match is_period {
        Some(true) => Some(Unit::Second),
        Some(false) => channel.map(Channel::unit),
        None => None,
    };
    let also = usual(Some(table), "also", Vec::new(), Entry::texts);
    let (place, unit_cell, scale) = match waveform::place(table, channel) {
        Taken::Waveform(place) => (place, Some(UnitCell::Nowhere), None),
        Taken::Elsewhere => {
            let form = shared.form.as_ref();
            let place = place(table, channel, form);
            let unit_cell = unit_cell(table, form);
            let has_unit = matches!(form, None | Some(Form::Fields(_) | Form::Places(_)))
                || matches!(unit_cell, Some(UnitCell::At(_) | UnitCell::Named(_)));
            (place, unit_cell, scale(table, channel, unit, has_unit))
        }
    };
    let belief = belief(table, channel);
    table.close();
    let channel = channel?;
    let place = place?;
    let input = match input {
        Some(text) => text?.to_owned(),
        None => match &place {
            Place::Named(name) => name.clone(),
            _ => channel.column().to_owned(),
        },
    };
    let number = NumberRule {
        unit: unit?,
        scale,
        multiplier: Multiplier::new(factor?),
        decimal_sign: shared.decimal_sign?,
        thousands: shared.thousands,
        marks: shared.marks.clone()?,
        is_period: is_period?,
    };
    Some(ChannelRule {
        channel,
        input,
        place,
        also: also?,
        unit_cell: unit_cell?,
        number,
        belief: belief?,
    })
}

fn belief(table: &Table<'_>, channel: Option<Channel>) -> Option<Belief> {
    let bound = |key| {
        let entry = table.entry(key);
        match (entry, channel) {
            (None, _) => Some(None),
            // Without its channel a bound has no unit; that fault was reported.
            (Some(_), None) => None,
            (Some(entry), Some(channel)) => entry.quantity(channel.unit(), -1e12..=1e12).map(Some),
        }
    };
    let (at_least, at_most) = (bound("at_least"), bound("at_most"));
    let stale_after = usual(Some(table), "stale_after", None, |entry| {
        whole(entry, 0, 1_000_000).map(Some)
    });
    if let (Some(Some(low)), Some(Some(high))) = (at_least, at_most)
        && low >= high
    {
        table.fault("at_least is not below at_most", "a value must fit between");
        return None;
    }
    Some(Belief {
        at_least: at_least?,
        at_most: at_most?,
        stale_after: stale_after?,
    })
}

fn place(table: &Table<'_>, channel: Option<Channel>, form: Option<&Form>) -> Option<Place> {
    match form {
        Some(Form::Places(layout)) => return places::shown(table, channel, layout),
        Some(_) => {}
        // Its fault is reported already; keys that belong to it are none.
        None => places::KEYS.into_iter().for_each(|key| {
            table.entry(key);
        }),
    }
    let ask = table.entry("ask").map(|entry| entry.text());
    let name = table.entry("name").map(|entry| entry.text());
    let position = table
        .entry("position")
        .map(|entry| whole::<usize>(&entry, 1, 1000));
    if matches!(form?, Form::Answers)
        && name.is_none()
        && let Some(codes) = table.entry("codes")
    {
        let ask = match ask {
            Some(ask) => Some(ask?),
            None => None,
        };
        return waveform::block_place(table, &codes, ask, position.unwrap_or(Some(1))?);
    }
    match (form?, ask, name, position) {
        (Form::Answers, Some(ask), None, position) => {
            answer_place(table, ask?, position.unwrap_or(Some(1))?)
        }
        (
            Form::Fields(_) | Form::Columns(ColumnLayout { header: true, .. }),
            None,
            Some(name),
            None,
        ) => Some(Place::Named(name?.to_owned())),
        (Form::Columns(_), None, None, Some(position)) => position.map(Place::Column),
        (form, ..) => {
            let allowed = match form {
                Form::Answers => {
                    "a value of an asked profile has ask, and position where an answer holds several"
                }
                Form::Fields(_) | Form::Places(_) => "a value of named fields has name, and also",
                Form::Columns(ColumnLayout { header: true, .. }) => "a column has name or position",
                Form::Columns(ColumnLayout { header: false, .. }) => {
                    "a column has position, or name where header = true"
                }
            };
            table.fault("its place is not clear", allowed);
            None
        }
    }
}

/// A value in an answer; other values of the same answer that are not used are counted by `of`.
fn answer_place(table: &Table<'_>, ask: &str, position: usize) -> Option<Place> {
    let of = count_of(table, position)?;
    if ask.trim().is_empty() {
        table.fault(
            "an empty ask",
            "expected the question; for lines that come by themselves manner = \"unasked\"",
        );
        return None;
    }
    let header = match table.entry("header") {
        Some(entry) => Some(entry.text()?.trim().to_owned()),
        None => None,
    };
    Some(Place::Answer {
        ask: ask.to_owned(),
        position,
        of,
        header,
    })
}

/// A channel has one column, and so one value.
fn twice(tables: &[Table<'_>], values: Option<&[ChannelRule]>) {
    let values = values.unwrap_or(&[]);
    for (index, (table, rule)) in tables.iter().zip(values).enumerate() {
        if values
            .iter()
            .take(index)
            .any(|earlier| earlier.channel == rule.channel)
        {
            table.fault(
                &format!("channel {} a second time", rule.channel.column()),
                "expected each channel once",
            );
        }
    }
}

#[cfg(test)]
mod tests;
