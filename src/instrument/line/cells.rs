//! Cuts a line at its separators, but never inside quotes.
//!
//! String answers stand in `"` or `'` and may hold any separator: `-113,"Undefined header;BOGUS;"` is two values. A quote inside
//! is doubled (IEEE 488.2, from memory; RFC 4180 has the same for `"`).

use crate::instrument::number::unit::BLANKS;
use crate::instrument::refusal::Refusal;

/// One value of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::instrument) struct Cell {
    /// Its text without blanks around it; without its quotes if it is a string.
    pub(in crate::instrument) text: String,
    /// Which of the units, which `;` parts, it stands in; counted from 0.
    pub(in crate::instrument) unit: usize,
    /// It stood in quotes.
    pub(in crate::instrument) is_quoted: bool,
}

impl AsRef<str> for Cell {
    fn as_ref(&self) -> &str {
        &self.text
    }
}

/// Cuts `line` at every separator outside quotes; the second kind also begins a new unit.
///
/// # Errors
/// [`Refusal::OpenQuote`].
pub(in crate::instrument) fn cut(
    line: &str,
    separator: Option<char>,
    unit_separator: Option<char>,
) -> Result<Vec<Cell>, Refusal> {
    let mut cells = Vec::new();
    let (mut start, mut unit) = (0, 0);
    let mut quote: Option<char> = None;
    for (at, c) in line.char_indices() {
        match quote {
            Some(open) if c == open => quote = None,
            // A quote opens a string only where a value begins: an apostrophe inside a word is a letter.
            None if matches!(c, '"' | '\'') && begins(line, start, at) => quote = Some(c),
            None if Some(c) == separator || Some(c) == unit_separator => {
                cells.push(cell(line.get(start..at).unwrap_or(""), unit));
                start = at + c.len_utf8();
                unit += usize::from(Some(c) == unit_separator);
            }
            Some(_) | None => {}
        }
    }
    if quote.is_some() {
        return Err(Refusal::OpenQuote);
    }
    cells.push(cell(line.get(start..).unwrap_or(""), unit));
    Ok(cells)
}

/// Whether nothing, a header (`WORD `) or the first half of a doubled quote stands between a value's start and here.
fn begins(line: &str, start: usize, at: usize) -> bool {
    let before = line.get(start..at).unwrap_or("");
    before.trim_matches(BLANKS).is_empty() || before.ends_with([' ', '\t', '"', '\''])
}

fn cell(text: &str, unit: usize) -> Cell {
    let text = text.trim_matches(BLANKS);
    let inner = |quote: char| text.strip_prefix(quote)?.strip_suffix(quote);
    let (text, is_quoted) = match (inner('"'), inner('\'')) {
        (Some(inner), _) => (inner.replace("\"\"", "\""), true),
        (None, Some(inner)) => (inner.replace("''", "'"), true),
        (None, None) => (text.to_owned(), false),
    };
    Cell {
        text,
        unit,
        is_quoted,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn texts(line: &str) -> Vec<String> {
        let cells = cut(line, Some(','), Some(';')).unwrap();
        cells.into_iter().map(|cell| cell.text).collect()
    }

    /// The first line is the reply of a public SCPI parser to an unknown header; the doubled quotes are RFC 4180's.
    #[test]
    fn a_separator_inside_quotes_separates_nothing() {
        assert_eq!(
            texts("-113,\"Undefined header;BOGUS;\""),
            ["-113", "Undefined header;BOGUS;"]
        );
        assert_eq!(
            texts("\"a \"\"b\"\", c\",'it''s; so',3"),
            ["a \"b\", c", "it's; so", "3"]
        );
        assert_eq!(texts("\"\",''"), ["", ""]);
        assert_eq!(texts("don't, 2"), ["don't", "2"]);
    }

    #[test]
    fn units_are_counted() {
        let cells = cut("1,2;3", Some(','), Some(';')).unwrap();
        let units: Vec<usize> = cells.iter().map(|cell| cell.unit).collect();
        assert_eq!(units, [0, 0, 1]);
    }

    #[test]
    fn a_string_whose_end_is_missing_is_refused() {
        assert_eq!(
            cut("-113,\"Undef", Some(','), Some(';')),
            Err(Refusal::OpenQuote)
        );
        assert_eq!(cut("'it''", Some(','), None), Err(Refusal::OpenQuote));
    }

    proptest! {
        #[test]
        fn a_quoted_text_comes_back_whole(text in "[ -~]{0,20}", number in 0_u32..1000) {
            for quote in ['"', '\''] {
                let doubled = text.replace(quote, &format!("{quote}{quote}"));
                let line = format!("{number},{quote}{doubled}{quote};{number}");
                let cells = cut(&line, Some(','), Some(';')).unwrap();
                prop_assert_eq!(cells.len(), 3);
                prop_assert_eq!(&cells[1].text, &text);
                prop_assert!(cells[1].is_quoted);
            }
        }

        #[test]
        fn any_line_is_cut_without_panic(line in "\\PC{0,40}") {
            cut(&line, Some(','), Some(';')).ok();
        }
    }
}
