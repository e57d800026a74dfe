//! Asking and hearing an instrument outside a recording, with the time that it takes.

use std::collections::VecDeque;
use std::time::Duration;

use super::open::line_end;
use crate::acquire::block_ask;
use crate::clock::{Clock, Deadline};
use crate::frame::{Frame, Splitter};
use crate::instrument::{
    ColumnMap, Complaint, Errors, Form, Preamble, Profile, Reading, Trace, WaveformRule, columns,
    fields, missing_names, read_complaint,
};
use crate::reading::Status;
use crate::transport::{Answer, Keeper, Pipe, read_block};

/// A queue of complaints is emptied at most so far.
const COMPLAINTS: usize = 20;

/// Lines that are remembered.
const HEARD: usize = 64;

/// What an instrument said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Said {
    /// A line.
    Line(Vec<u8>),
    /// A line beyond the limit: its first bytes.
    Overlong(Vec<u8>),
    /// No whole line in time, but perhaps half of one.
    Nothing(Vec<u8>),
    /// The port went away, and what the system says.
    Gone(String),
}

/// An instrument on an open port.
pub(super) struct Trial {
    pipe: Box<dyn Pipe>,
    splitter: Splitter,
    clock: Clock,
    /// What was asked came back before the answer.
    pub(super) has_echo: bool,
    waiting: Vec<Said>,
    heard: VecDeque<Vec<u8>>,
}

impl Trial {
    pub(super) fn new(pipe: Box<dyn Pipe>, profile: &Profile) -> Self {
        Self {
            pipe,
            splitter: Splitter::new(line_end(&profile.port), profile.port.longest_line),
            clock: Clock::real(),
            has_echo: false,
            waiting: Vec::new(),
            heard: VecDeque::new(),
        }
    }

    /// Seconds since the trial began.
    pub(super) fn elapsed_s(&self) -> f64 {
        self.clock.elapsed_s()
    }

    /// Sends what has no answer.
    pub(super) fn tell(&mut self, bytes: &[u8]) -> Result<(), String> {
        self.pipe.write(bytes).map_err(|error| error.to_string())
    }

    /// Asks; what it says, and how long that took. What was there before the question is no answer to it.
    pub(super) fn ask(&mut self, bytes: &[u8], patience: Duration) -> (Said, Duration) {
        self.drop_all(Duration::ZERO);
        let asked = self.clock.now().elapsed_us;
        if let Err(error) = self.tell(bytes) {
            return (Said::Gone(error), Duration::ZERO);
        }
        let deadline = Deadline::after(patience);
        let mut said = self.next(deadline);
        while said == Said::Line(bytes.trim_ascii_end().to_vec()) {
            self.has_echo = true;
            said = self.next(deadline);
        }
        let took_us = self.clock.now().elapsed_us - asked;
        (
            said,
            Duration::from_micros(u64::try_from(took_us).unwrap_or(0)),
        )
    }

    /// Asks for a waveform as a recording does, and reads its values; how many bytes it has, or why there is none.
    pub(super) fn waveform(
        &mut self,
        profile: &Profile,
        rule: &WaveformRule,
        patience: Duration,
        reading: &mut Reading,
    ) -> Result<usize, String> {
        for text in &rule.before {
            self.tell(&profile.to_bytes(text))?;
        }
        let line = match self.ask(&profile.to_bytes(&rule.preamble), patience).0 {
            Said::Line(line) => line,
            Said::Gone(why) => return Err(why),
            Said::Overlong(_) | Said::Nothing(_) => {
                return Err(format!("{} was not answered by a line", rule.preamble));
            }
        };
        let preamble = Preamble::read(&String::from_utf8_lossy(&line), &rule.places)
            .map_err(|why| format!("{}: {why}: {}", rule.preamble, line.escape_ascii()))?;
        let ask = block_ask(profile, rule, preamble, line_end(&profile.port));
        self.tell(&ask.bytes)?;
        let pipe = self.pipe.as_mut();
        let received = read_block(pipe, &ask, &self.clock, &Keeper::default())
            .map_err(|error| error.to_string())?;
        let said = |why: &str| format!("{}: {why}", rule.ask);
        match received.answer {
            Answer::Block(block) => {
                let trace = Trace::new(preamble, &block, rule.codes).map_err(said)?;
                trace.fill(rule, &profile.values, reading);
                Ok(block.len())
            }
            Answer::Broken(why, bytes) => Err(said(&format!("{why}, {} bytes came", bytes.len()))),
            Answer::Line(line) => Err(said(&format!(
                "a line where a block is wanted: {}",
                line.escape_ascii()
            ))),
            _ => Err(said("no block came in time")),
        }
    }

    /// Asks until exactly this answer comes; whether it did.
    pub(super) fn ask_until(&mut self, bytes: &[u8], answer: &[u8], patience: Duration) -> bool {
        if self.tell(bytes).is_err() {
            return false;
        }
        let deadline = Deadline::after(patience);
        loop {
            match self.next(deadline) {
                Said::Line(line) if line == answer => return true,
                Said::Line(_) | Said::Overlong(_) => {}
                Said::Nothing(_) | Said::Gone(_) => return false,
            }
        }
    }

    /// Drops what comes for so long.
    pub(super) fn drop_all(&mut self, time: Duration) {
        let deadline = Deadline::after(time);
        loop {
            match self.next(deadline) {
                Said::Line(_) | Said::Overlong(_) => {}
                Said::Nothing(_) if self.pipe.waiting().is_ok_and(|count| count > 0) => {
                    let mut buffer = [0; 512];
                    if self
                        .pipe
                        .read(&mut buffer, Duration::from_millis(1))
                        .is_err()
                    {
                        return;
                    }
                }
                Said::Nothing(_) | Said::Gone(_) => break,
            }
        }
        self.splitter.take_rest();
    }

    /// The next line.
    pub(super) fn next(&mut self, deadline: Deadline) -> Said {
        let mut buffer = [0; 512];
        let mut frames = Vec::new();
        while self.waiting.is_empty() {
            if deadline.is_over() {
                return Said::Nothing(self.splitter.rest().to_vec());
            }
            let count = match self.pipe.read(&mut buffer, deadline.left()) {
                Ok(count) => count,
                Err(error) => return Said::Gone(error.to_string()),
            };
            self.splitter
                .push(buffer.get(..count).unwrap_or(&[]), &mut frames);
            self.waiting
                .extend(frames.drain(..).map(|frame| match frame {
                    Frame::Line(line) => Said::Line(line),
                    Frame::Overlong(head) => Said::Overlong(head),
                }));
        }
        let said = self.waiting.remove(0);
        if let Said::Line(line) = &said {
            if self.heard.len() == HEARD {
                self.heard.pop_front();
            }
            self.heard.push_back(line.clone());
        }
        said
    }

    /// The lines that have come so far, asked or unasked, the last of them at least.
    pub(super) fn heard(&self) -> impl Iterator<Item = &[u8]> {
        self.heard.iter().map(Vec::as_slice)
    }

    /// Empties the queue of complaints.
    pub(super) fn complaints(&mut self, profile: &Profile, errors: &Errors) -> Vec<String> {
        let mut complaints = Vec::new();
        for _ in 0..COMPLAINTS {
            let (said, _) = self.ask(&profile.to_bytes(&errors.ask), profile.timing.timeout);
            let Said::Line(line) = said else {
                complaints.push(format!("{} was not answered", errors.ask));
                break;
            };
            match read_complaint(&String::from_utf8_lossy(&line), errors) {
                Complaint::None => break,
                Complaint::Some(text) => complaints.push(text),
                Complaint::Unreadable => {
                    complaints.push(format!("{}: {}", errors.ask, line.escape_ascii()));
                    break;
                }
            }
        }
        complaints
    }
}

/// Reads lines that come unasked, one after the other.
pub(super) struct Ear<'p> {
    profile: &'p Profile,
    map: Option<ColumnMap>,
    /// What the line of names lacks.
    lacking: Option<String>,
}

impl<'p> Ear<'p> {
    pub(super) fn new(profile: &'p Profile) -> Self {
        let map = match &profile.form {
            Form::Columns(layout) if !layout.header => {
                ColumnMap::by_position(&profile.values, layout)
            }
            _ => None,
        };
        Self {
            profile,
            map,
            lacking: None,
        }
    }

    /// What a line came to; `None` for a line of names.
    pub(super) fn hear(&mut self, line: &[u8]) -> Option<Reading> {
        let garbled = |why: &str| Some(Reading::failed(Status::Garbled, why));
        let Ok(text) = std::str::from_utf8(line) else {
            return garbled("bytes that are no text");
        };
        let rules = &self.profile.values;
        match &self.profile.form {
            Form::Fields(seal) => Some(fields(text, rules, *seal)),
            Form::Columns(layout) => {
                if layout.header
                    && let Some(map) = ColumnMap::by_header(text, rules, layout)
                {
                    (self.map, self.lacking) = (Some(map), None);
                    return None;
                }
                if layout.header {
                    self.lacking =
                        missing_names(text, rules, layout).or_else(|| self.lacking.take());
                }
                match (&self.lacking, &self.map) {
                    (Some(lacking), _) => garbled(lacking),
                    (None, Some(map)) => Some(columns(text, rules, layout, map)),
                    (None, None) => garbled("no line of names has come yet"),
                }
            }
            Form::Answers => garbled("an answer that nobody asked for"),
        }
    }
}
