//! Lines that come unasked, each read in the light of those before it.

use crate::instrument::line::columns::{ColumnMap, columns, missing_names};
use crate::instrument::line::field::Field;
use crate::instrument::line::habits::Habits;
use crate::instrument::line::reading::Reading;
use crate::instrument::line::stream::{BoardMoment, LineCount, Spot, Ticks, millionths, whole};
use crate::instrument::line::{fields, places};
use crate::instrument::profile::{Form, Profile};
use crate::instrument::refusal::Refusal;
use crate::reading::Status;

/// The outcome of one line.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// A reading, or why there is none.
    Row(Reading),
    /// Names of columns.
    Names,
    /// News of the board, proven by its checksum.
    Notice(Notice),
    /// A line that does not begin as the profile says.
    NotOurs,
}

/// A proven line without any value of the profile.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Notice {
    /// The board's name and version, if it says them.
    pub identity: Option<String>,
    /// The note that the board has begun anew, if it says so.
    pub restart: Option<String>,
    /// The line without its checksum, if it says neither and has not said the like before.
    pub other: Option<String>,
}

/// A line and its bookkeeping.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// Its outcome.
    pub line: Line,
    /// A sentence about missing lines before it, if its counter shows any.
    pub missing: Option<String>,
    /// The board's time.
    pub board: Option<BoardMoment>,
}

impl From<Line> for Heard {
    fn from(line: Line) -> Self {
        Self {
            line,
            missing: None,
            board: None,
        }
    }
}

/// Names of fields by which a board says that it has begun anew.
const RESTARTS: [&str; 6] = [
    "reset",
    "restart",
    "reboot",
    "boot",
    "reset_cause",
    "reset_reason",
];

/// Names of fields by which a board says who it is.
const NAMES: [&str; 6] = ["name", "board", "fw", "firmware", "version", "ver"];

/// Other notices that are shown, each once. Chosen: a board with news in every line is not to fill the screen.
const NOTICES: usize = 20;

/// Reads the lines of one instrument.
#[derive(Debug, Clone, Default)]
pub struct LineReader {
    /// The places of the columns; `None` until they are known.
    map: Option<ColumnMap>,
    /// The names of the columns.
    names: Vec<String>,
    /// The names that the last line of names lacked, in words.
    lacking: Option<String>,
    habits: Habits,
    count: LineCount,
    ticks: Ticks,
    told: Vec<String>,
}

impl LineReader {
    /// Returns a reader for the lines of an instrument with this profile.
    pub fn new(profile: &Profile) -> Self {
        let map = match &profile.form {
            Form::Columns(layout) if !layout.header => {
                ColumnMap::by_position(&profile.values, layout)
            }
            _ => None,
        };
        Self {
            map,
            ..Self::default()
        }
    }

    /// Returns whether a line is whole even if it is the first after opening: it proves itself, begins as all do, or has the
    /// length.
    pub fn is_whole(profile: &Profile, bytes: &[u8]) -> bool {
        if let Form::Places(layout) = &profile.form {
            return bytes.len() == layout.length;
        }
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        let is_begun =
            profile.stream.first.is_some() && profile.stream.behind_first(text).is_some();
        let has_names = match &profile.form {
            Form::Columns(layout) if layout.header => {
                ColumnMap::by_header(text, &profile.values, layout).is_some()
            }
            _ => false,
        };
        is_begun || has_names || profile.form.is_proven(text)
    }

    /// Reads the next line, which came `elapsed_s` seconds after the session began.
    pub fn hear(&mut self, profile: &Profile, bytes: &[u8], elapsed_s: f64) -> Heard {
        if let Form::Places(layout) = &profile.form {
            return Line::Row(places::read(bytes, layout, &profile.values)).into();
        }
        let Ok(text) = std::str::from_utf8(bytes) else {
            return garbled(&Refusal::NoText).into();
        };
        match &profile.form {
            Form::Fields(_) => self.fields(profile, text, elapsed_s),
            Form::Columns(_) => self.columns(profile, text, elapsed_s),
            Form::Answers | Form::Places(_) => garbled("an answer that nobody asked for").into(),
        }
    }

    fn fields(&mut self, profile: &Profile, text: &str, elapsed_s: f64) -> Heard {
        let Form::Fields(seal) = &profile.form else {
            return Line::NotOurs.into();
        };
        let is_proven = seal.proves(text);
        let is_ours = profile.stream.behind_first(text).is_some();
        // News of the board need not begin as its readings do.
        if !is_ours && !is_proven {
            return Line::NotOurs.into();
        }
        let body = match seal.open(text) {
            Ok(body) => body,
            Err(why) => return garbled(&why).into(),
        };
        let body = profile.stream.behind_first(body).unwrap_or(body);
        let rules = &profile.values;
        let split = fields::split_any(body, rules).and_then(|fields| {
            let found = fields::places(&fields, rules)?;
            Ok((fields, found))
        });
        let (fields, found) = match split {
            Ok(split) => split,
            Err(_) if !is_ours => return Line::NotOurs.into(),
            Err(why) => return garbled(&why).into(),
        };
        let is_news = !fields.is_empty() && found.iter().all(Option::is_none);
        if is_proven && is_news {
            return Line::Notice(self.notice(body, &fields)).into();
        }
        if !is_ours {
            return Line::NotOurs.into();
        }
        let mut reading = fields::read(&fields, &found, rules);
        if reading.status != Status::Garbled {
            self.habits
                .judge(&fields, &found, profile, is_proven, &mut reading);
        }
        self.kept(profile, is_proven, elapsed_s, reading, |spot| {
            spot.in_fields(&fields)
        })
    }

    fn columns(&mut self, profile: &Profile, text: &str, elapsed_s: f64) -> Heard {
        let Form::Columns(layout) = &profile.form else {
            return Line::NotOurs.into();
        };
        let rules = &profile.values;
        if layout.header {
            if let Some(map) = ColumnMap::by_header(text, rules, layout) {
                // A line of names can come again when the board restarts, in another order too.
                self.map = Some(map);
                self.names = layout.cells(text).unwrap_or_default();
                self.lacking = profile.stream.lacks(&self.names);
                return Line::Names.into();
            }
            if let Some(lacking) = missing_names(text, rules, layout) {
                self.lacking = Some(lacking);
            }
        }
        if profile.stream.behind_first(text).is_none() {
            return Line::NotOurs.into();
        }
        let reading = match (&self.map, &self.lacking) {
            // Where the last line of names lacks one, the columns of the one before it mean nothing any more.
            (_, Some(lacking)) => Reading::failed(Status::Garbled, lacking),
            (Some(map), None) => columns(text, rules, layout, map),
            (None, None) => Reading::failed(
                Status::Garbled,
                "no line of names has come yet: restart the board, or give each value its position",
            ),
        };
        let stream = &profile.stream;
        if stream.counter.is_none() && stream.clock.is_none() {
            return Line::Row(reading).into();
        }
        let is_proven = profile.form.is_proven(text);
        let cells = layout.cells(text).unwrap_or_default();
        let names = std::mem::take(&mut self.names);
        let heard = self.kept(profile, is_proven, elapsed_s, reading, |spot| {
            spot.in_cells(&cells, &names)
        });
        self.names = names;
        heard
    }

    /// The reading with its bookkeeping; a garbled line's counter proves nothing.
    fn kept<'l>(
        &mut self,
        profile: &Profile,
        is_proven: bool,
        elapsed_s: f64,
        reading: Reading,
        text: impl Fn(&Spot) -> Option<&'l str>,
    ) -> Heard {
        let (mut missing, mut board) = (None, None);
        if reading.status != Status::Garbled {
            let stream = &profile.stream;
            if let Some(rule) = &stream.counter
                && let Some(count) = text(&rule.spot).and_then(whole)
            {
                missing = self.count.take(count, rule, is_proven);
            }
            if let Some(rule) = &stream.clock
                && let Some(ticks) = text(&rule.spot).and_then(millionths)
            {
                board = self.ticks.take(elapsed_s, ticks, rule);
            }
        }
        Heard {
            line: Line::Row(reading),
            missing,
            board,
        }
    }

    /// Reads a board's notice of itself.
    fn notice(&mut self, body: &str, fields: &[Field<'_>]) -> Notice {
        let is_one = |field: &&Field<'_>, known: &[&str]| {
            known
                .iter()
                .any(|name| name.eq_ignore_ascii_case(field.name))
        };
        let names: Vec<&str> = fields
            .iter()
            .filter(|field| is_one(field, &NAMES))
            .map(|field| field.text)
            .collect();
        let restart = fields.iter().find(|field| is_one(field, &RESTARTS));
        if restart.is_some() {
            self.count.forget();
            self.ticks.forget();
        }
        let mut notice = Notice {
            identity: (!names.is_empty()).then(|| names.join(" ")),
            restart: restart
                .map(|field| format!("the board restarted: {}={}", field.name, field.text)),
            other: None,
        };
        if notice == Notice::default() {
            // The like is said again when its fields are the same.
            let names: Vec<&str> = fields.iter().map(|field| field.name).collect();
            let names = names.join(" ");
            if self.told.len() < NOTICES && !self.told.contains(&names) {
                self.told.push(names);
                notice.other = Some(body.to_owned());
            }
        }
        notice
    }
}

fn garbled(why: &(impl ToString + ?Sized)) -> Line {
    Line::Row(Reading::failed(Status::Garbled, why))
}

#[cfg(test)]
mod tests;
