//! The only writer to stdout and stderr. Results go to stdout, all else to stderr.
//!
//! Text from outside may be an instrument's words, a mark, a file's key or a folder's name. Only characters that can be shown
//! reach a terminal: see [`crate::plain`].

use std::io::{self, IsTerminal as _, Write as _};

use super::exit::{CANNOT_WRITE, Failure};
use crate::plain;
use crate::report::form::Form;
use crate::report::layout::{broken, refilled};

/// Columns where the window's width is not known.
const USUAL_WIDTH: usize = 80;

/// Narrower windows break lines by themselves.
const LEAST_WIDTH: usize = 30;

/// Wider lines are hard to read.
const MOST_WIDTH: usize = 100;

/// Columns for text on stdout: those of the window, or 80 where there is none.
pub(super) fn width() -> usize {
    let window = terminal_size::terminal_size_of(io::stdout());
    window.map_or(USUAL_WIDTH, |(terminal_size::Width(columns), _)| {
        usize::from(columns).clamp(LEAST_WIDTH, MOST_WIDTH)
    })
}

/// The outcome of a write to stdout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Printed {
    /// It was taken.
    Taken,
    /// Nobody reads any more, which is no fault of ours.
    Closed,
}

/// The full account, its lines broken where the window ends; elsewhere as it is, for a file or another program.
pub(super) fn account(text: String) -> String {
    if io::stdout().is_terminal() {
        refilled(&text, width())
    } else {
        text
    }
}

/// Prints a result.
pub(super) fn result(text: &str) -> Result<Printed, Failure> {
    own(plain::lines(text).as_bytes())
}

/// A result for programs, as it is printed.
pub(super) fn json(form: &impl Form) -> Result<String, Failure> {
    form.json()
        .map_err(|error| Failure::new(CANNOT_WRITE, format!("cannot write it as JSON: {error}")))
}

/// Prints a text that is all our own, as it is: a script for a shell, a page of the manual.
pub(super) fn own(bytes: &[u8]) -> Result<Printed, Failure> {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(bytes).and_then(|()| stdout.flush()) {
        Ok(()) => Ok(Printed::Taken),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(Printed::Closed),
        Err(error) => Err(Failure::new(
            CANNOT_WRITE,
            format!("cannot write to stdout: {error}"),
        )),
    }
}

/// Prints a note beside the result. If stderr is gone, the note is lost, and nobody can be notified.
pub(super) fn note(text: &str) {
    let text = plain::lines(text);
    if is_watched() {
        let set = refilled(&text, watched_width().clamp(LEAST_WIDTH, MOST_WIDTH));
        write!(io::stderr().lock(), "{set}").ok();
    } else {
        writeln!(io::stderr().lock(), "{text}").ok();
    }
}

/// Words in lines for stderr, set in by `indent`, as wide as its window where a person watches.
pub(super) fn set(indent: usize, words: &str) -> String {
    if is_watched() {
        refilled(
            &format!("{:indent$}{words}", ""),
            watched_width().clamp(LEAST_WIDTH, MOST_WIDTH),
        )
        .trim_end_matches('\n')
        .to_owned()
    } else {
        broken(indent, words)
    }
}

/// Prints a failure with its hint.
pub(super) fn failure(failure: &Failure) {
    note(&format!("error: {}", failure.message));
    if let Some(hint) = &failure.hint {
        note(&format!("hint: {hint}"));
    }
}

/// Columns of the window on stderr.
pub(super) fn watched_width() -> usize {
    let window = terminal_size::terminal_size_of(io::stderr());
    window.map_or(USUAL_WIDTH, |(terminal_size::Width(columns), _)| {
        usize::from(columns)
    })
}

/// Takes back this many rows above the cursor on a watched stderr, and all below it (ECMA-48: CUU, ED).
pub(super) fn take_back(rows: usize) {
    if rows > 0 {
        write!(io::stderr().lock(), "\x1b[{rows}A\x1b[J").ok();
    }
}

/// Whether a person watches stderr.
pub(super) fn is_watched() -> bool {
    io::stderr().is_terminal()
}
