//! Two columns of text, broken where a terminal ends.

use std::fmt::Write as _;

/// Width of the first column.
const COLUMN: usize = 13;

/// Where a long line is broken, so that it stands whole on a terminal of 100 columns.
const WIDTH: usize = 98;

/// A name in the first column, words in the second.
pub(super) fn line(out: &mut String, name: &str, words: &str) {
    // Writing to a String cannot fail, here and below.
    writeln!(out, "{name:COLUMN$} {words}").ok();
}

/// A name in the first column, words in the second, broken where a terminal ends.
pub(super) fn told(out: &mut String, name: &str, words: &str) {
    let mut rows = String::new();
    under(&mut rows, words);
    write!(out, "{name:COLUMN$}{}", rows.get(COLUMN..).unwrap_or("")).ok();
}

/// Words under the second column.
pub(super) fn under(out: &mut String, words: &str) {
    wrapped(out, COLUMN + 1, words);
}

/// Words broken at spaces, each line set in by `indent`; the last without its end.
pub fn broken(indent: usize, words: &str) -> String {
    let mut out = String::new();
    wrapped(&mut out, indent, words);
    out.pop();
    out
}

/// Words broken at spaces, each line set in by `indent`.
pub(super) fn wrapped(out: &mut String, indent: usize, words: &str) {
    let mut row = String::new();
    for word in words.split(' ') {
        if !row.is_empty() && indent + row.chars().count() + 1 + word.chars().count() > WIDTH {
            writeln!(out, "{:indent$}{row}", "").ok();
            row.clear();
        }
        if !row.is_empty() {
            row.push(' ');
        }
        row.push_str(word);
    }
    writeln!(out, "{:indent$}{row}", "").ok();
}

/// A heading with one line or more for each item; nothing if there is none.
pub(super) fn list<T: ToString>(out: &mut String, heading: &str, items: &[T]) {
    if !items.is_empty() {
        writeln!(out, "\n{heading}").ok();
    }
    for item in items {
        wrapped(out, 2, &item.to_string());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_is_broken_at_spaces_and_stays_in_its_column() {
        let mut out = String::new();
        line(&mut out, "name", "value");
        under(&mut out, &"word ".repeat(30));
        for row in out.lines() {
            assert!(row.chars().count() <= WIDTH, "{row}");
            assert!(
                row.starts_with("name") || row.starts_with(&" ".repeat(COLUMN + 1)),
                "{row}"
            );
        }
        assert_eq!(out.matches("word").count(), 30);
    }

    #[test]
    fn what_is_told_begins_beside_its_name_and_goes_on_below_itself() {
        let mut out = String::new();
        told(&mut out, "name", &"word ".repeat(30));
        assert!(out.starts_with("name          word word"), "{out}");
        assert!(out.lines().count() > 1 && out.lines().all(|row| row.chars().count() <= WIDTH));
    }

    #[test]
    fn a_word_longer_than_the_line_is_kept_whole() {
        let mut out = String::new();
        wrapped(&mut out, 2, &"x".repeat(WIDTH + 5));
        assert_eq!(out, format!("  {}\n", "x".repeat(WIDTH + 5)));
    }

    #[test]
    fn an_empty_list_has_no_heading() {
        let mut out = String::new();
        list::<String>(&mut out, "heading", &[]);
        assert_eq!(out, "");
    }
}
