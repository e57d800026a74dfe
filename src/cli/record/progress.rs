//! One line on a terminal that says how the recording goes; elsewhere one plain line a minute.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::cli::output;
use crate::clock::Deadline;
use crate::plain;
use crate::reading::{Channel, Chunk, Readings, Status};
use crate::units;

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
    rows: u64,
    elapsed_s: f64,
    /// The newest value of each channel, and the newest status of each instrument.
    values: Readings,
    states: BTreeMap<Arc<str>, Status>,
    doubted: Doubted,
    /// How long the battery lasts, in words; empty where that is not asked.
    left: String,
}

/// Rows whose readings were doubted.
#[derive(Debug, Clone, Copy, Default)]
struct Doubted {
    suspect: u64,
    stale: u64,
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
            rows: 0,
            elapsed_s: 0.0,
            values: Readings::default(),
            states: BTreeMap::new(),
            doubted: Doubted::default(),
            left: String::new(),
        }
    }

    /// Takes rows that were written.
    pub(super) fn push(&mut self, rows: &Chunk) {
        for row in rows {
            self.rows += 1;
            self.elapsed_s = self.elapsed_s.max(row.stamp.elapsed_s());
            match self.states.get_mut(&row.source) {
                Some(state) => *state = row.status,
                None => drop(self.states.insert(Arc::clone(&row.source), row.status)),
            }
            self.doubted.suspect += u64::from(row.status == Status::Suspect);
            self.doubted.stale += u64::from(row.status == Status::Stale);
            for channel in Channel::ALL {
                match row.readings.get(channel) {
                    Some(value) => self.values.set(channel, value),
                    // A silent coil has no frequency, and an old one must not stand for it.
                    None if row.status == Status::NoSignal && channel == Channel::FrequencyHz => {
                        self.values.clear(channel);
                    }
                    None => {}
                }
            }
        }
        match &mut self.manner {
            Manner::Line(_) => {}
            Manner::Plain(due) if due.is_over() => *due = Deadline::after(PLAIN_EVERY),
            Manner::Plain(_) | Manner::Quiet => return,
        }
        let text = self.text();
        match &self.manner {
            Manner::Line(bar) => bar.set_message(plain::line(&text).into_owned()),
            Manner::Plain(_) => output::note(&text),
            Manner::Quiet => {}
        }
    }

    fn text(&self) -> String {
        line(
            self.rows,
            self.elapsed_s,
            &self.values,
            &self.left,
            &self.states,
            self.doubted,
        )
    }

    /// How long the battery lasts, in words for the line.
    pub(super) fn left(&mut self, words: String) {
        self.left = words;
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

fn line(
    rows: u64,
    elapsed_s: f64,
    values: &Readings,
    left: &str,
    states: &BTreeMap<Arc<str>, Status>,
    doubted: Doubted,
) -> String {
    let mut parts = vec![clock_face(elapsed_s), format!("{rows} rows")];
    for channel in Channel::ALL {
        let digits = if channel == Channel::FrequencyHz {
            7
        } else {
            4
        };
        let shown = |value| units::rounded(value, channel.unit(), digits);
        parts.extend(values.get(channel).map(shown));
    }
    if !left.is_empty() {
        parts.push(left.to_owned());
    }
    for (source, status) in states {
        if *status != Status::Ok {
            parts.push(format!("{source}: {status}"));
        }
    }
    for (count, word) in [(doubted.suspect, "suspect"), (doubted.stale, "stale")] {
        if count > 0 {
            parts.push(format!("{count} {word}"));
        }
    }
    parts.join("  ")
}

/// Elapsed time as `h:mm:ss`.
fn clock_face(elapsed_s: f64) -> String {
    let whole = Duration::from_secs_f64(elapsed_s.max(0.0)).as_secs();
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_says_what_a_person_at_the_bench_wants() {
        let mut values = Readings::default();
        values.set(Channel::BatteryV, 8.9123);
        values.set(Channel::FrequencyHz, 6_231_234.5);
        let states = BTreeMap::from([
            (Arc::from("counter"), Status::Ok),
            (Arc::from("meter"), Status::Silent),
        ]);
        insta::assert_snapshot!(line(731, 3751.2, &values, "", &states, Doubted::default()),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  meter: silent");
        let doubted = Doubted {
            suspect: 2,
            stale: 15,
        };
        insta::assert_snapshot!(line(731, 3751.2, &values, "", &states, doubted),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  meter: silent  2 suspect  15 stale");
        insta::assert_snapshot!(line(731, 3751.2, &values, "12 to 19 min left, middle 15 min", &states, Doubted::default()),
            @"1:02:31  731 rows  6.231234 MHz  8.912 V  12 to 19 min left, middle 15 min  meter: silent");
    }
}
