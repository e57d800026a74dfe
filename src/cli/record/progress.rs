//! One line on a terminal that says how the recording goes; elsewhere one plain line a minute.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::cli::output;
use crate::clock::Deadline;
use crate::plain;
use crate::reading::Chunk;
use crate::report::record::Going;

/// Redraws a second on a terminal.
const REDRAWS: u8 = 4;

/// How often a plain line is written where nobody watches.
const PLAIN_EVERY: Duration = Duration::from_mins(1);

#[derive(Debug)]
enum Manner {
    Quiet,
    Line(ProgressBar),
    Plain(Deadline),
}

/// Shows how the recording goes.
#[derive(Debug)]
pub(super) struct Progress {
    manner: Manner,
    going: Going,
}

impl Progress {
    pub(super) fn new(quiet: bool) -> Self {
        let manner = if quiet {
            Manner::Quiet
        } else if output::is_watched() {
            let bar =
                ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(REDRAWS));
            Manner::Line(
                bar.with_style(
                    ProgressStyle::with_template("{msg}")
                        .unwrap_or_else(|_| ProgressStyle::default_spinner()),
                ),
            )
        } else {
            Manner::Plain(Deadline::after(PLAIN_EVERY))
        };
        Self {
            manner,
            going: Going::default(),
        }
    }

    /// Takes rows that were written.
    pub(super) fn push(&mut self, rows: &Chunk) {
        self.going.push(rows);
        match &mut self.manner {
            Manner::Line(_) => {}
            Manner::Plain(due) if due.is_over() => *due = Deadline::after(PLAIN_EVERY),
            Manner::Plain(_) | Manner::Quiet => return,
        }
        let text = self.going.line();
        match &self.manner {
            Manner::Line(bar) => bar.set_message(plain::line(&text).into_owned()),
            Manner::Plain(_) => output::note(&text),
            Manner::Quiet => {}
        }
    }

    /// How long the battery lasts, in words for the line.
    pub(super) fn left(&mut self, words: String) {
        self.going.left(words);
    }

    /// Says something above the line, in one line: an instrument's words may hold line ends.
    pub(super) fn say(&self, text: &str) {
        let text = plain::line(text);
        match &self.manner {
            Manner::Quiet => {}
            Manner::Line(bar) => bar.suspend(|| output::note(&text)),
            Manner::Plain(_) => output::note(&text),
        }
    }
}

impl Drop for Progress {
    /// Takes the line away.
    fn drop(&mut self) {
        if let Manner::Line(bar) = &self.manner {
            bar.finish_and_clear();
        }
    }
}
