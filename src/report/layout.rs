//! Two columns of text, broken where a terminal ends.

use std::fmt::Write as _;
use std::path::Path;

use crate::plain::Shown as _;

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

/// Words broken at spaces so that they fit into `width`, numbers with their units kept whole; the last line without its end.
pub fn fitted(width: usize, words: &str) -> String {
    let mut out = String::new();
    filled(&mut out, width, 0, &numbers_kept(words));
    out.pop();
    out
}

/// Words broken at spaces, each line set in by `indent`.
pub(super) fn wrapped(out: &mut String, indent: usize, words: &str) {
    filled(out, WIDTH, indent, words);
}

/// Words broken at spaces so that no line is wider than `width`, each line set in by `indent`. Text that is [`kept`] whole is not
/// broken.
pub(super) fn filled(out: &mut String, width: usize, indent: usize, words: &str) {
    let mut row = String::new();
    for word in words.split(' ') {
        if !row.is_empty() && indent + row.chars().count() + 1 + word.chars().count() > width {
            writeln!(out, "{:indent$}{}", "", row.replace(KEPT, " ")).ok();
            row.clear();
        }
        if !row.is_empty() {
            row.push(' ');
        }
        row.push_str(word);
    }
    writeln!(out, "{:indent$}{}", "", row.replace(KEPT, " ")).ok();
}

/// A text with those of its lines broken that are wider than `width`, their ends under the column in which they began.
pub fn refilled(text: &str, width: usize) -> String {
    let mut out = String::new();
    for line in text.lines() {
        if line.chars().count() <= width {
            out.push_str(line);
            out.push('\n');
            continue;
        }
        let blank = line.chars().take_while(|c| *c == ' ').count();
        // A name is filled up to its column and parted from the words by one more blank.
        let has_name = blank == 0 && line.chars().skip(COLUMN - 1).take(2).eq([' ', ' ']);
        let indent = if has_name {
            COLUMN + 1
        } else {
            blank.min(width / 2)
        };
        // A narrow window has no room for the first column.
        let indent = if indent > width / 3 { 2 } else { indent };
        let mut set = String::new();
        let first: String = line.chars().skip(blank).collect();
        filled(
            &mut set,
            width.saturating_sub(indent),
            0,
            &numbers_kept(&first),
        );
        for (number, row) in set.lines().enumerate() {
            let indent = if number == 0 {
                blank.min(indent)
            } else {
                indent
            };
            writeln!(out, "{:indent$}{row}", "").ok();
        }
    }
    out
}

/// A space at which no line is broken; it is printed as any other.
const KEPT: char = '\u{a0}';

/// Words that stay in one line, such as a number and its unit.
pub(super) fn kept(words: &str) -> String {
    words.replace(' ', "\u{a0}")
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

/// Returns words whose numbers stay with the word behind them.
pub(super) fn numbers_kept(words: &str) -> String {
    let mut before = ' ';
    let keep = |c: char| {
        let is_behind_number = c == ' ' && before.is_ascii_digit();
        before = c;
        if is_behind_number { KEPT } else { c }
    };
    words.chars().map(keep).collect()
}

/// A path as a shell takes it for one word, and no command for an option; `-`, which stands for stdin, as it is.
pub fn shell_word(path: &Path) -> String {
    let text = path.shown();
    if text.starts_with('-') && text != "-" {
        shell_text(&format!("./{text}"))
    } else {
        shell_text(&text)
    }
}

/// A word as a shell takes it. POSIX.1-2017, Shell Command Language, 2.2.2: all but `'` is literal between two `'`.
pub fn shell_text(text: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "/._-@:=,%+".contains(c);
    if !text.is_empty() && text.chars().all(is_plain) {
        return text.to_owned();
    }
    format!("'{}'", text.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_lines_are_broken_under_their_column_and_others_stay() {
        let text = "drift         -7.1 kHz/h ± 3.2 kHz/h, if nothing else changed\n              95 %, residuals as AR(1) of means\nshort\n";
        insta::assert_snapshot!(refilled(text, 44), @"
        drift         -7.1 kHz/h ±
                      3.2 kHz/h, if nothing else
                      changed
                      95 %, residuals as AR(1) of
                      means
        short
        ");
        assert!(
            refilled(text, 30)
                .lines()
                .all(|line| line.chars().count() <= 30)
        );
        assert_eq!(refilled(text, 80), text);
    }

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

    #[test]
    fn a_number_stays_with_its_unit() {
        let mut out = String::new();
        let words = format!("it runs at {} and on", kept("6.256 MHz"));
        filled(&mut out, 16, 0, &words);
        assert_eq!(out, "it runs at\n6.256 MHz and on\n");
        let mut out = String::new();
        filled(&mut out, 12, 0, &numbers_kept("not given → 600.0 nH"));
        assert_eq!(out, "not given →\n600.0 nH\n");
    }

    #[test]
    fn a_path_can_be_pasted_into_a_shell_whatever_stands_in_it() {
        for (path, want) in [
            (
                "20260131T190405Z-glow-pillar",
                "20260131T190405Z-glow-pillar",
            ),
            ("/tmp/a b", "'/tmp/a b'"),
            ("it's", r"'it'\''s'"),
            ("-rf", "./-rf"),
            ("-", "-"),
            ("a;b", "'a;b'"),
        ] {
            assert_eq!(shell_word(path.as_ref()), want);
        }
    }
}
