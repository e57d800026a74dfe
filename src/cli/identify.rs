//! Who is on a port: each profile is tried, and proves itself by a reading.

use std::time::Duration;

use super::exit::Failure;
use super::open::{line_end, serial_settings};
use crate::acquire::block_ask;
use crate::clock::{Clock, Deadline};
use crate::frame::{Frame, Splitter};
use crate::instrument::{
    Catalogue, ColumnMap, Form, Manner, Preamble, Profile, Reading, Trace, WaveformRule, columns,
    fields, read_answer,
};
use crate::reading::{Channel, Status};
use crate::transport::{Answer, Pipe, open_serial, read_block};
use crate::units;

/// How long a question may take here; a counter's own time-out is often one second.
const PATIENCE: Duration = Duration::from_millis(1500);

/// What a port turned out to be.
#[derive(Debug)]
pub(super) enum Found {
    /// It answers to a profile, and this is what it read.
    Answers {
        profile: String,
        identity: Option<String>,
        reading: String,
    },
    /// It could not be tried.
    Failed { reason: String },
}

/// Tries every profile on a port. Only questions are sent, and what a profile sends at the start.
pub(super) fn identify(path: &str, catalogue: &Catalogue) -> Vec<Found> {
    let mut found = Vec::new();
    for name in catalogue.names() {
        let Ok((profile, _)) = catalogue.get(&name) else {
            continue;
        };
        let pipe = match open_serial(path, &serial_settings(&profile.port, None)) {
            Ok(pipe) => pipe,
            Err(error) => {
                let reason = Failure::from_error(0, &error).message;
                return vec![Found::Failed { reason }];
            }
        };
        let splitter = Splitter::new(line_end(&profile.port), profile.port.longest_line);
        let mut trial = Trial {
            pipe,
            splitter,
            profile: &profile,
        };
        let reading = match profile.manner {
            Manner::Asked => trial.ask_all(),
            Manner::Unasked => trial.listen().map(|reading| (None, reading)),
        };
        if let Some((identity, reading)) = reading {
            found.push(Found::Answers {
                profile: name,
                identity,
                reading: words(&reading),
            });
        }
    }
    found
}

struct Trial<'p> {
    pipe: Box<dyn Pipe>,
    splitter: Splitter,
    profile: &'p Profile,
}

impl Trial<'_> {
    /// Asks for the name and for one row; `None` when it does not answer as the profile says.
    fn ask_all(&mut self) -> Option<(Option<String>, Reading)> {
        for text in &self.profile.start {
            self.pipe.write(&self.profile.to_bytes(text)).ok()?;
        }
        let identity = match &self.profile.identity {
            Some(question) => Some(self.ask(question)?),
            None => None,
        };
        let mut reading = Reading::default();
        for question in self.profile.questions() {
            let answer = self.ask(question)?;
            read_answer(question, &answer, &self.profile.values, &mut reading).ok()?;
        }
        if let Some(rule) = &self.profile.waveform {
            self.waveform(rule, &mut reading)?;
        }
        Some((identity, reading))
    }

    /// Asks for a waveform as a recording does.
    fn waveform(&mut self, rule: &WaveformRule, reading: &mut Reading) -> Option<()> {
        for text in &rule.before {
            self.pipe.write(&self.profile.to_bytes(text)).ok()?;
        }
        let preamble = Preamble::read(&self.ask(&rule.preamble)?, &rule.places).ok()?;
        let ask = block_ask(self.profile, rule, preamble, line_end(&self.profile.port));
        self.pipe.write(&ask.bytes).ok()?;
        let received = read_block(self.pipe.as_mut(), &ask, &Clock::real()).ok()?;
        let Answer::Block(block) = received.answer else {
            return None;
        };
        let trace = Trace::new(preamble, &block, rule.codes).ok()?;
        trace.fill(rule, &self.profile.values, reading);
        Some(())
    }

    fn ask(&mut self, question: &str) -> Option<String> {
        self.pipe.write(&self.profile.to_bytes(question)).ok()?;
        self.line(Deadline::after(PATIENCE.min(self.profile.timing.timeout)))
    }

    /// Waits for a line that reads well; the first may be a fragment, a board may be starting.
    fn listen(&mut self) -> Option<Reading> {
        let deadline = Deadline::after(self.profile.timing.settle + PATIENCE);
        let rules = &self.profile.values;
        let mut map = ColumnMap::by_position(rules);
        while let Some(line) = self.line(deadline) {
            let reading = match self.profile.form {
                Form::Fields(checksum) => fields(&line, rules, checksum),
                Form::Columns { delimiter, .. } => {
                    let Some(map) = &map else {
                        map = ColumnMap::by_header(&line, rules, delimiter);
                        continue;
                    };
                    columns(&line, rules, delimiter, map)
                }
                Form::Answers => return None,
            };
            if matches!(reading.status, Status::Ok | Status::NoSignal) {
                return Some(reading);
            }
        }
        None
    }

    fn line(&mut self, deadline: Deadline) -> Option<String> {
        let mut buffer = [0; 512];
        let mut frames = Vec::new();
        while !deadline.is_over() {
            let count = self.pipe.read(&mut buffer, deadline.left()).ok()?;
            self.splitter
                .push(buffer.get(..count).unwrap_or(&[]), &mut frames);
            for frame in frames.drain(..) {
                if let Frame::Line(line) = frame
                    && let Ok(line) = String::from_utf8(line)
                {
                    return Some(line.trim().to_owned());
                }
            }
        }
        None
    }
}

fn words(reading: &Reading) -> String {
    let values: Vec<String> = Channel::ALL
        .into_iter()
        .filter_map(|channel| Some(units::exact(reading.readings.get(channel)?, channel.unit())))
        .collect();
    match (values.is_empty(), reading.status) {
        (true, status) => status.to_string(),
        (false, Status::Ok) => values.join(", "),
        (false, status) => format!("{}, {status}", values.join(", ")),
    }
}
