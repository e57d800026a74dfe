//! The instrument's own complaints: `SYST:ERR?` answers `-113,"Undefined header"`, oldest first, `0,"No error"` at the end.

use crate::instrument::line::answer::without_header;
use crate::instrument::line::cells;
use crate::instrument::profile::Errors;

/// The outcome of one question for complaints.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Complaint {
    /// There is none left.
    None,
    /// One, in the instrument's words: its number, then its text.
    Some(String),
    /// The answer is none to this question.
    Unreadable,
}

/// Reads the answer to the question for the oldest complaint.
///
/// The text may hold `;` and `,` (SCPI-1999 21.8 as public parsers have it: description, then information of the device).
pub fn read_complaint(answer: &str, errors: &Errors) -> Complaint {
    let answer = without_header(answer, &errors.ask).unwrap_or(answer);
    let Ok(parts) = cells::cut(answer, Some(','), None) else {
        return Complaint::Unreadable;
    };
    let mut parts = parts.into_iter().map(|part| part.text);
    let whole = |text: &str| text.trim_start_matches('+').parse::<i64>().ok();
    let Some(number) = parts.next().and_then(|text| whole(&text)) else {
        return Complaint::Unreadable;
    };
    if whole(&errors.none) == Some(number) {
        return Complaint::None;
    }
    let text: Vec<String> = parts.filter(|text| !text.is_empty()).collect();
    Complaint::Some(if text.is_empty() {
        number.to_string()
    } else {
        format!("{number}, {}", text.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(answer: &str) -> Complaint {
        let errors = Errors {
            ask: "SYST:ERR?".to_owned(),
            none: "0".to_owned(),
        };
        read_complaint(answer, &errors)
    }

    /// The first answer is the reply of a public SCPI parser; `0,"No error"` is SCPI-1999's as guides quote it.
    #[test]
    fn a_complaint_is_read_whole() {
        let some = |text: &str| Complaint::Some(text.to_owned());
        assert_eq!(
            read("-113,\"Undefined header;BOGUS;\""),
            some("-113, Undefined header;BOGUS;")
        );
        assert_eq!(
            read(":SYST:ERR -222,\"Data out of range\""),
            some("-222, Data out of range")
        );
        assert_eq!(read("-350"), some("-350"));
        for none in [
            "0,\"No error\"",
            "+0,\"No error\"",
            "0",
            "ERR 0,\"No error\"",
        ] {
            assert_eq!(read(none), Complaint::None, "{none}");
        }
        for other in ["+6.2E+06", "-113,\"Undefined", "", "ready"] {
            assert_eq!(read(other), Complaint::Unreadable, "{other}");
        }
    }
}
