//! Fills the template of a sheet, line by line, so that its keys and comments stand in one place.

use std::borrow::Cow;
use std::fmt::Write as _;

/// Keys of the template that stay as they are.
const KEPT: [&str; 2] = ["schema", "coil.shape"];

/// Where the template's comments begin.
const COMMENT_COLUMN: usize = 30;

/// A key that is filled in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Filled {
    pub(super) key: &'static str,
    /// The value as TOML; `None` for the template's example.
    pub(super) value: Option<String>,
    pub(super) state: State,
    /// The text before the template's comment.
    pub(super) note: String,
}

/// The state of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    /// It was answered.
    Answered,
    /// It is written, because the sheet must have one.
    Usual,
    /// It stands in for one that was not yet asked.
    Pending,
    /// It is a comment: the sheet's reader assumes it.
    Assumed,
}

/// A line of the template that holds a key, in parts.
#[derive(Debug)]
struct Line<'t> {
    is_live: bool,
    key: &'t str,
    value: &'t str,
    comment: &'t str,
}

impl<'t> Line<'t> {
    fn parse(text: &'t str) -> Option<Self> {
        let (is_live, rest) = match text.strip_prefix("# ") {
            Some(rest) => (false, rest),
            None => (true, text),
        };
        let (key, rest) = rest.split_once(" = ")?;
        let is_key = key.chars().all(|c| c.is_ascii_lowercase() || c == '_');
        let end = match rest.strip_prefix('"') {
            Some(inside) => inside.find('"')? + 2,
            None => rest.find(' ').unwrap_or(rest.len()),
        };
        let (value, comment) = rest.split_at_checked(end)?;
        let comment = comment.trim_start().strip_prefix("# ").unwrap_or("");
        is_key.then_some(Self {
            is_live,
            key,
            value,
            comment,
        })
    }

    /// The line with another value. Where the note says that there is none, it stands alone.
    fn written(&self, is_live: bool, value: Option<&str>, note: &str) -> String {
        let mark = if is_live { "" } else { "# " };
        let body = format!("{mark}{} = {}", self.key, value.unwrap_or(self.value));
        let parts = [note, if value.is_some() { self.comment } else { "" }];
        let said: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        if said.is_empty() {
            return body;
        }
        format!(
            "{body:<w$}# {}",
            said.join("; "),
            w = COMMENT_COLUMN.max(body.chars().count() + 1)
        )
    }
}

/// The name of a table that a line opens, also as a comment.
fn table(line: &str) -> Option<&str> {
    let rest = line.strip_prefix("# ").unwrap_or(line);
    rest.strip_prefix('[')?.strip_suffix(']')
}

fn full<'t>(table: &str, key: &'t str) -> Cow<'t, str> {
    if table.is_empty() {
        key.into()
    } else {
        format!("{table}.{key}").into()
    }
}

/// Returns the template's value of a key, as TOML.
pub(super) fn value<'t>(template: &'t str, key: &str) -> Option<&'t str> {
    let mut inside = "";
    template.lines().find_map(|text| {
        inside = table(text).unwrap_or(inside);
        let line = Line::parse(text)?;
        (full(inside, line.key) == key).then_some(line.value)
    })
}

/// Returns the template with those keys filled in; its other keys become comments.
pub(super) fn fill(template: &str, filled: &[Filled]) -> String {
    let mut out = String::new();
    let mut inside = "";
    for text in template.lines() {
        if let Some(name) = table(text) {
            inside = name;
            let is_used = |one: &Filled| {
                one.state != State::Assumed
                    && one.key.split_once('.').is_some_and(|(of, _)| of == name)
            };
            let is_live = !text.starts_with('#') || filled.iter().any(is_used);
            let mark = if is_live { "" } else { "# " };
            writeln!(out, "{mark}[{name}]").ok();
            continue;
        }
        let row = Line::parse(text).map(|line| {
            let key = full(inside, line.key);
            let one = filled.iter().find(|one| one.key == key);
            match one {
                Some(one) => {
                    line.written(one.state != State::Assumed, one.value.as_deref(), &one.note)
                }
                None if line.is_live && !KEPT.contains(&&*key) => {
                    line.written(false, Some(line.value), "")
                }
                None => text.to_owned(),
            }
        });
        out.push_str(row.as_deref().unwrap_or(text));
        out.push('\n');
    }
    out
}
