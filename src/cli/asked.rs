//! Reading the answers of a person who is asked, one line at a time.

use std::io::BufRead;

use super::output;
use crate::report::layout::fitted;

/// How each question may be answered.
pub(super) const MANNERS: &str = "Enter alone for what you don't know, ? explains, back returns to the question before, quit ends.";

/// A line that was typed.
pub(super) enum Line {
    Text(String),
    /// Back to the question before.
    Back,
    /// Nobody answers any more.
    Over,
}

/// The lines that somebody types, or a test.
pub(super) struct Lines<R>(R);

impl<R: BufRead> Lines<R> {
    pub(super) const fn new(input: R) -> Self {
        Self(input)
    }

    /// The answer to a question; `?` is answered with why it is asked.
    pub(super) fn answer(&mut self, why: &str) -> Line {
        loop {
            match self.line() {
                Line::Text(line) if line == "?" => output::note(&fitted(output::width(), why)),
                line => return line,
            }
        }
    }

    fn line(&mut self) -> Line {
        let mut line = String::new();
        match self.0.read_line(&mut line) {
            Ok(read) if read > 0 => match line.trim() {
                "back" => Line::Back,
                "quit" => Line::Over,
                line => Line::Text(line.to_owned()),
            },
            _ => Line::Over,
        }
    }
}
