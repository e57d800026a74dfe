//! TOML files that people write, read so that all faults are listed together: line, key, the text found, the text expected.
//!
//! A file is walked as parsed tables with their places, not derived, because a derived reader stops at the first fault.

mod fault;
mod near;

pub use fault::{Fault, Faults};
pub use near::nearest;

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use fault::Lines;

use crate::plain;
use crate::units::{self, Unit};

/// Parses a file and lets `walk` take the values it needs from its top table.
///
/// # Errors
/// [`Faults`] with every fault of the file: those of its form alone if it is not TOML, else all that `walk` met.
pub fn read<T>(text: &str, walk: impl FnOnce(&Table<'_>) -> Option<T>) -> Result<T, Faults> {
    let lines = Lines::of(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut faults: Vec<Fault> = errors
        .iter()
        .map(|error| Fault {
            line: lines.at(error.span().map_or(0, |span| span.start)),
            key: String::new(),
            found: plain::line(&error.message().trim().replace('\n', "; ")).into_owned(),
            allowed: "expected a TOML file".to_owned(),
        })
        .collect();
    if faults.is_empty() {
        let context = Context {
            text,
            lines,
            faults: RefCell::default(),
        };
        let top = Table::new(&context, String::new(), 1, document.get_ref());
        let value = walk(&top);
        top.close();
        drop(top);
        faults = context.faults.into_inner();
        if let (Some(value), true) = (value, faults.is_empty()) {
            return Ok(value);
        }
    }
    Err(Faults::of(faults))
}

#[derive(Debug)]
struct Context<'t> {
    text: &'t str,
    lines: Lines,
    faults: RefCell<Vec<Fault>>,
}

impl Context<'_> {
    fn push(&self, line: usize, key: &str, found: &str, allowed: &str) {
        // A key or a text may hold line ends, and each fault has one line.
        let shown = |text: &str| plain::line(text).into_owned();
        self.faults.borrow_mut().push(Fault {
            line,
            key: shown(key),
            found: shown(found),
            allowed: shown(allowed),
        });
    }
}

/// A table of the file, which remembers the keys that were asked for.
#[derive(Debug)]
pub struct Table<'t> {
    context: &'t Context<'t>,
    path: String,
    line: usize,
    entries: &'t DeTable<'t>,
    asked: RefCell<Vec<&'static str>>,
}

impl<'t> Table<'t> {
    fn new(context: &'t Context<'t>, path: String, line: usize, entries: &'t DeTable<'t>) -> Self {
        Self {
            context,
            path,
            line,
            entries,
            asked: RefCell::default(),
        }
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// The entry under a key, if there is one.
    pub fn entry(&self, key: &'static str) -> Option<Entry<'t>> {
        self.asked.borrow_mut().push(key);
        let (name, value) = self
            .entries
            .iter()
            .find(|(name, _)| name.get_ref() == key)?;
        let line = self.context.lines.at(name.span().start);
        Some(Entry {
            context: self.context,
            path: self.path_of(key),
            line,
            value,
        })
    }

    /// The entry under a key that must be there.
    pub fn need(&self, key: &'static str, allowed: &str) -> Option<Entry<'t>> {
        let entry = self.entry(key);
        if entry.is_none() {
            self.context
                .push(self.line, &self.path_of(key), "missing", allowed);
        }
        entry
    }

    /// The table under a key, if there is one.
    pub fn table(&self, key: &'static str) -> Option<Self> {
        self.entry(key).and_then(|entry| entry.table())
    }

    /// The table under a key that must be there.
    pub fn need_table(&self, key: &'static str) -> Option<Self> {
        self.need(key, &format!("expected a [{}] table", self.path_of(key)))
            .and_then(|entry| entry.table())
    }

    /// The tables under a key that is written `[[key]]`; none if it is not there.
    pub fn tables(&self, key: &'static str) -> Vec<Self> {
        let Some(entry) = self.entry(key) else {
            return Vec::new();
        };
        let Some(items) = entry.value.get_ref().as_array() else {
            entry.fault(&format!("expected [[{}]] tables", entry.path));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let line = self.context.lines.at(item.span().start);
            let path = format!("{}[{}]", entry.path, index + 1);
            let entry = Entry {
                context: self.context,
                path,
                line,
                value: item,
            };
            tables.extend(entry.table());
        }
        tables
    }

    /// Returns all entries of a table whose keys are the file's own choice, in the order of their names.
    pub fn entries(&self) -> Vec<(&'t str, Entry<'t>)> {
        let entries = self.entries.iter().map(|(name, value)| {
            let key: &'t str = name.get_ref();
            let entry = Entry {
                context: self.context,
                path: self.path_of(key),
                line: self.context.lines.at(name.span().start),
                value,
            };
            (key, entry)
        });
        entries.collect()
    }

    /// Reports a fault of the table as a whole.
    pub fn fault(&self, found: &str, allowed: &str) {
        self.context.push(self.line, &self.path, found, allowed);
    }

    /// Reports every key that nobody asked for; to be called once all keys were asked for.
    pub fn close(&self) {
        let asked = self.asked.borrow();
        let present: BTreeSet<&str> = self
            .entries
            .keys()
            .map(|name| name.get_ref().as_ref())
            .collect();
        // A key that is there already was not meant by another.
        let free: Vec<&str> = asked
            .iter()
            .copied()
            .filter(|key| !present.contains(key))
            .collect();
        for name in self.entries.keys() {
            let key: &str = name.get_ref();
            if !asked.contains(&key) {
                let line = self.context.lines.at(name.span().start);
                let allowed = match nearest(key, free.iter().copied()) {
                    Some(near) => format!("did you mean {near}?"),
                    None => format!("expected one of {}", asked.join(", ")),
                };
                self.context
                    .push(line, &self.path_of(key), "unknown key", &allowed);
            }
        }
    }
}

/// One value of the file with its place.
#[derive(Debug)]
pub struct Entry<'t> {
    context: &'t Context<'t>,
    path: String,
    line: usize,
    value: &'t Spanned<DeValue<'t>>,
}

impl<'t> Entry<'t> {
    /// The value as it is written in the file.
    pub fn written(&self) -> String {
        let text = self.context.text.get(self.value.span()).unwrap_or("");
        let mut line: String = text.lines().next().unwrap_or("").chars().take(60).collect();
        if line.len() < text.len() {
            line.push('…');
        }
        line
    }

    /// Reports that this value is not one that may stand here. If it is a number with a decimal comma, that is its fault.
    pub fn fault(&self, allowed: &str) {
        let text = self.value.get_ref().as_str();
        let better = text.and_then(|text| units::with_point(text.trim()));
        let better = better.map(|better| format!("write {better}, with a point"));
        self.context.push(
            self.line,
            &self.path,
            &format!("found {}", self.written()),
            better.as_deref().unwrap_or(allowed),
        );
    }

    fn or_fault<T>(&self, value: Option<T>, allowed: &str) -> Option<T> {
        if value.is_none() {
            self.fault(allowed);
        }
        value
    }

    /// The value as a table.
    pub fn table(&self) -> Option<Table<'t>> {
        let entries = self.or_fault(self.value.get_ref().as_table(), "expected a table")?;
        Some(Table::new(
            self.context,
            self.path.clone(),
            self.line,
            entries,
        ))
    }

    /// The value as text.
    pub fn text(&self) -> Option<&'t str> {
        self.or_fault(self.value.get_ref().as_str(), "expected a text in quotes")
    }

    /// Whether the value is this text.
    pub fn says(&self, text: &str) -> bool {
        self.value.get_ref().as_str() == Some(text)
    }

    /// The value as a list of texts, where one text alone is such a list too.
    pub fn text_or_texts(&self) -> Option<Vec<String>> {
        match self.value.get_ref().as_str() {
            Some(text) => Some(vec![text.to_owned()]),
            None => self.texts(),
        }
    }

    /// The value as a list of texts.
    pub fn texts(&self) -> Option<Vec<String>> {
        let items = self.value.get_ref().as_array().map(|items| {
            items
                .iter()
                .map(|item| item.get_ref().as_str().map(str::to_owned))
                .collect::<Option<Vec<_>>>()
        });
        self.or_fault(items.flatten(), "expected a list of texts in quotes")
    }

    /// Whether the value is a text.
    pub fn is_text(&self) -> bool {
        self.value.get_ref().is_str()
    }

    /// Whether the value is a table.
    pub fn is_table(&self) -> bool {
        self.value.get_ref().is_table()
    }

    /// Returns the values of a list, each with its place; a value that is no list stands for a list of itself.
    pub fn each(self) -> Vec<Self> {
        let Some(items) = self.value.get_ref().as_array() else {
            return vec![self];
        };
        let entry = |(index, item): (usize, &'t Spanned<DeValue<'t>>)| Self {
            context: self.context,
            path: format!("{}[{}]", self.path, index + 1),
            line: self.context.lines.at(item.span().start),
            value: item,
        };
        items.iter().enumerate().map(entry).collect()
    }

    /// The value as true or false.
    pub fn flag(&self) -> Option<bool> {
        self.or_fault(self.value.get_ref().as_bool(), "expected true or false")
    }

    /// The value as one of a list of words.
    pub fn choice<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        let found = self.value.get_ref().as_str();
        let value = words
            .iter()
            .find(|(word, _)| Some(*word) == found)
            .map(|(_, value)| *value);
        let known = words
            .iter()
            .map(|(word, _)| format!("\"{word}\""))
            .collect::<Vec<_>>()
            .join(", ");
        self.or_fault(value, &format!("expected one of {known}"))
    }

    /// The value as a whole number within a range.
    pub fn integer(&self, range: RangeInclusive<i64>) -> Option<i64> {
        let value = self
            .value
            .get_ref()
            .as_integer()
            .and_then(|number| i64::from_str_radix(number.as_str(), number.radix()).ok());
        let (low, high) = (range.start(), range.end());
        let allowed = if low == high {
            format!("expected {low}")
        } else {
            format!("expected a whole number from {low} to {high}")
        };
        self.or_fault(value.filter(|value| range.contains(value)), &allowed)
    }

    /// The value as a plain number (a ratio, a count that need not be whole) within a range.
    pub fn number(&self, range: RangeInclusive<f64>) -> Option<f64> {
        let value = self.value.get_ref();
        let text = value.as_float().map(toml::de::DeFloat::as_str);
        let text = text.or_else(|| value.as_integer().map(toml::de::DeInteger::as_str));
        let value = text
            .and_then(|text| text.parse().ok())
            .filter(|value| range.contains(value));
        self.or_fault(
            value,
            &format!(
                "expected a number from {} to {}",
                range.start(),
                range.end()
            ),
        )
    }

    /// The value as a quantity with its unit in quotes, within a range in the SI unit.
    pub fn quantity(&self, unit: Unit, range: RangeInclusive<f64>) -> Option<f64> {
        let example = unit.example();
        let Some(text) = self.value.get_ref().as_str() else {
            self.fault(&format!(
                "expected a quantity with its unit in quotes, such as \"{example}\""
            ));
            return None;
        };
        match units::parse(text, unit) {
            Ok(value) if range.contains(&value) => Some(value),
            Ok(_) => {
                let (low, high) = (
                    units::exact(*range.start(), unit),
                    units::exact(*range.end(), unit),
                );
                self.fault(&format!("expected from {low} to {high}"));
                None
            }
            Err(error) => {
                self.fault(&error.expected());
                None
            }
        }
    }
}

#[cfg(test)]
mod tests;
