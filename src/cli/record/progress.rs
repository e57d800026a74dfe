//! One line on a terminal that says how the recording goes; elsewhere one plain line per minute.

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
    Line(Line),
    Plain(Deadline),
}

/// The line that is drawn again and again.
#[derive(Debug)]
struct Line {
    bar: ProgressBar,
    /// Columns of the window when it was last drawn.
    window: usize,
}

impl Line {
    fn new() -> Self {
        let target = ProgressDrawTarget::stderr_with_hz(REDRAWS);
        let style = ProgressStyle::with_template("{msg}");
        let style = style.unwrap_or_else(|_| ProgressStyle::default_spinner());
        Self {
            bar: ProgressBar::with_draw_target(None, target).with_style(style),
            window: 0,
        }
    }

    fn draw(&mut self, going: &Going) {
        let window = output::watched_width();
        if window < self.window {
            // The line was filled up to the window's edge. A window that became narrower has broken it; the rows above its last
            // one are taken away.
            let above = (self.window - 1) / window.max(1);
            self.bar.suspend(|| output::take_back(above));
        }
        self.window = window;
        // The last column stays free: a terminal may break behind it.
        let text = plain::line(&going.line(window.saturating_sub(1))).into_owned();
        self.bar.set_message(text);
    }
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
            Manner::Line(Line::new())
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
            Manner::Line(line) => line.draw(&self.going),
            Manner::Plain(due) if due.is_over() => {
                *due = Deadline::after(PLAIN_EVERY);
                output::note(&self.going.line(usize::MAX));
            }
            Manner::Plain(_) | Manner::Quiet => {}
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
            Manner::Line(line) => line.bar.suspend(|| output::note(&text)),
            Manner::Plain(_) => output::note(&text),
        }
    }
}

impl Drop for Progress {
    /// Takes the line away.
    fn drop(&mut self) {
        if let Manner::Line(line) = &self.manner {
            line.bar.finish_and_clear();
        }
    }
}
