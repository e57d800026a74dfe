//! An instrument that is a log of bytes: what was sent and received once, with its times.
//!
//! One line an entry: elapsed microseconds, wall time in RFC 3339, a sign, and the bytes with `\n`, `\r`, `\t`, `\\` and
//! `\xHH` escaped. Signs: `>` sent, `<` received, `~` a question stayed unanswered, `!` the line was lost (the reason
//! follows), `+` it was back. Times come from the log; nobody waits.

use std::io;
use std::path::Path;

use super::{Answer, BlockAsk, Closed, Cut, FarEnd, Link, LinkEvent, Manner, Request, ends};
use crate::clock::parse_rfc3339_ms;
use crate::frame::{BlockReader, Frame, Splitter};
use crate::reading::Stamp;

/// Why a byte log cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The file cannot be read.
    #[error("cannot read the byte log {path}")]
    Unreadable {
        /// The file.
        path: String,
        /// What the system says.
        source: io::Error,
    },
    /// A line is not an entry.
    #[error("byte log {path}, line {line}: {found}, an entry is `elapsed_us time sign bytes`")]
    BadEntry {
        /// The file.
        path: String,
        /// Counted from 1.
        line: usize,
        /// What is wrong.
        found: &'static str,
    },
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Entry {
    Sent(Vec<u8>),
    Received(Vec<u8>),
    Unanswered,
    Lost(String),
    Back,
}

/// Opens a byte log as a link.
///
/// # Errors
/// [`ReplayError`] when the file cannot be read or holds something else.
pub fn replay(manner: Manner, path: &Path, cut: Cut) -> Result<Link, ReplayError> {
    let shown = path.display().to_string();
    let unreadable = |source| ReplayError::Unreadable {
        path: shown.clone(),
        source,
    };
    let text = std::fs::read_to_string(path).map_err(unreadable)?;
    let mut entries = Vec::new();
    for (index, line) in text
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.trim().is_empty())
    {
        let bad = |found| ReplayError::BadEntry {
            path: shown.clone(),
            line: index + 1,
            found,
        };
        entries.push(parse_entry(line).map_err(bad)?);
    }
    let (near, far) = ends(true);
    let player = Player {
        entries: entries.into_iter(),
        splitter: Splitter::new(cut.end, cut.limit),
        last: None,
        is_unknown: false,
    };
    std::thread::Builder::new()
        .name("replay".to_owned())
        .stack_size(256 * 1024)
        .spawn(move || match manner {
            Manner::Asked => player.answer(&far).err(),
            Manner::Unasked => player.speak(&far).err(),
        })
        .map_err(unreadable)?;
    Ok(near)
}

fn parse_entry(line: &str) -> Result<(Stamp, Entry), &'static str> {
    let mut parts = line.splitn(4, ' ');
    let elapsed_us = parts
        .next()
        .and_then(|text| text.parse().ok())
        .ok_or("the elapsed time is not a number")?;
    let wall_ms = parts
        .next()
        .and_then(parse_rfc3339_ms)
        .ok_or("the time is not in RFC 3339")?;
    let sign = parts.next().ok_or("the sign is missing")?;
    let rest = parts.next().unwrap_or("");
    let entry = match sign {
        ">" => Entry::Sent(unescape(rest)?),
        "<" => Entry::Received(unescape(rest)?),
        "~" => Entry::Unanswered,
        "!" => Entry::Lost(rest.to_owned()),
        "+" => Entry::Back,
        _ => return Err("the sign is not one of > < ~ ! +"),
    };
    Ok((
        Stamp {
            elapsed_us,
            wall_ms,
        },
        entry,
    ))
}

fn unescape(text: &str) -> Result<Vec<u8>, &'static str> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'\\' {
            bytes.push(byte);
            continue;
        }
        bytes.push(match rest.next() {
            Some(b'n') => b'\n',
            Some(b'r') => b'\r',
            Some(b't') => b'\t',
            Some(b'\\') => b'\\',
            Some(b'x') => {
                let digit = |byte: Option<u8>| byte.and_then(|byte| char::from(byte).to_digit(16));
                let value = digit(rest.next())
                    .zip(digit(rest.next()))
                    .map(|(high, low)| high * 16 + low);
                value
                    .and_then(|value| u8::try_from(value).ok())
                    .ok_or("\\x wants two hexadecimal digits")?
            }
            _ => return Err("a backslash wants n, r, t, x or another backslash behind it"),
        });
    }
    Ok(bytes)
}

struct Player {
    entries: std::vec::IntoIter<(Stamp, Entry)>,
    splitter: Splitter,
    /// When the last entry happened.
    last: Option<Stamp>,
    /// The last question was not in the log where it was asked.
    is_unknown: bool,
}

/// What the questions of one request came to.
type Answers = Vec<(Stamp, Answer)>;

/// What a search for a question came to.
enum Found {
    Question,
    /// The line was lost and came back before it.
    Loss,
    End,
}

impl Player {
    fn next(&mut self) -> Option<(Stamp, Entry)> {
        let entry = self.entries.next()?;
        self.last = Some(entry.0);
        Some(entry)
    }

    /// Plays the whole log of an instrument that spoke by itself.
    fn speak(mut self, far: &FarEnd) -> Result<(), Closed> {
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Received(bytes) => {
                    let mut frames = Vec::new();
                    self.splitter.push(&bytes, &mut frames);
                    if !frames.is_empty() {
                        far.report(LinkEvent::Lines(stamp, frames))?;
                    }
                }
                Entry::Lost(reason) => {
                    self.splitter.take_rest();
                    far.report(LinkEvent::Lost(stamp, reason))?;
                }
                Entry::Back => far.report(LinkEvent::Back(stamp))?,
                Entry::Sent(_) | Entry::Unanswered => {}
            }
        }
        far.report(LinkEvent::Ended)
    }

    /// Answers each question as it was answered when the log was made.
    fn answer(mut self, far: &FarEnd) -> Result<(), Closed> {
        while let Ok(request) = far.requests.recv() {
            let mut answers = Vec::new();
            let is_over = match &request {
                Request::Ask { questions, .. } => self.ask_round(questions, &mut answers, far)?,
                Request::AskBlock(ask) => self.ask_block(ask, &mut answers, far)?,
                other => self.exchange(other, &mut answers, far)?,
            };
            if !answers.is_empty() {
                far.report(LinkEvent::Answers(answers))?;
            }
            if is_over {
                return far.report(LinkEvent::Ended);
            }
        }
        Err(Closed)
    }

    /// Plays a round of questions; whether the log is at its end.
    fn ask_round(
        &mut self,
        questions: &[Vec<u8>],
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<bool, Closed> {
        for bytes in questions {
            // One question may be unknown to the log; after two, it is looked for.
            if self.sends_other(bytes) && !std::mem::replace(&mut self.is_unknown, true) {
                answers.push((self.moment(), Answer::Silence(Vec::new())));
                break;
            }
            if self.play(bytes, None, answers, far)? {
                return Ok(true);
            }
            if !matches!(answers.last(), Some((_, Answer::Line(_)))) {
                break;
            }
        }
        Ok(false)
    }

    /// Plays a question for a block; whether the log is at its end.
    fn ask_block(
        &mut self,
        ask: &BlockAsk,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<bool, Closed> {
        // As with any other question, see `ask_round`.
        if self.sends_other(&ask.bytes) && !std::mem::replace(&mut self.is_unknown, true) {
            answers.push((self.moment(), Answer::Silence(Vec::new())));
            return Ok(false);
        }
        let answer = match self.find(&ask.bytes, far)? {
            Found::Question => {
                self.is_unknown = false;
                self.block_to_it(ask, far)?
            }
            Found::Loss => Some((self.moment(), Answer::NoLine)),
            Found::End => None,
        };
        let is_over = answer.is_none();
        answers.extend(answer);
        Ok(is_over)
    }

    /// The block that came after a question that was sent; `None` at the end of the log.
    fn block_to_it(
        &mut self,
        ask: &BlockAsk,
        far: &FarEnd,
    ) -> Result<Option<(Stamp, Answer)>, Closed> {
        let mut reader = BlockReader::new(ask.cut);
        let mut first = None;
        loop {
            // Where the next thing is no answer, the line was quiet before it.
            let goes_on = matches!(
                self.entries.as_slice().first(),
                Some((_, Entry::Received(_)))
            );
            if !goes_on && let Some(frame) = reader.silence() {
                let stamp = first.unwrap_or_else(|| self.moment());
                return Ok(ask.answer(frame).map(|answer| (stamp, answer)));
            }
            let Some((stamp, entry)) = self.next() else {
                return Ok(None);
            };
            match entry {
                Entry::Received(bytes) => {
                    first = first.or(Some(stamp));
                    let mut rest = bytes.as_slice();
                    while let Some((frame, used)) = reader.push(rest) {
                        rest = rest.get(used..).unwrap_or(&[]);
                        let Some(answer) = ask.answer(frame) else {
                            first = None;
                            continue;
                        };
                        let stray = rest.trim_ascii().to_vec();
                        if !stray.is_empty() {
                            far.report(LinkEvent::Stray(stamp, stray))?;
                        }
                        return Ok(Some((first.unwrap_or(stamp), answer)));
                    }
                }
                Entry::Lost(reason) => {
                    let is_back = self.play_loss(stamp, reason, far)?;
                    return Ok(is_back.then(|| (self.moment(), Answer::NoLine)));
                }
                Entry::Back => far.report(LinkEvent::Back(stamp))?,
                Entry::Unanswered => {
                    return Ok(Some((stamp, BlockAsk::unfinished(&mut reader))));
                }
                Entry::Sent(_) => {}
            }
        }
    }

    /// Whether something else was sent next, before any loss.
    fn sends_other(&self, bytes: &[u8]) -> bool {
        let other = |(_, entry): &(Stamp, Entry)| match entry {
            Entry::Sent(sent) => Some(sent != bytes),
            Entry::Lost(_) => Some(false),
            Entry::Received(_) | Entry::Unanswered | Entry::Back => None,
        };
        self.entries.as_slice().iter().find_map(other) == Some(true)
    }

    /// Plays a request; whether the log is at its end.
    fn exchange(
        &mut self,
        request: &Request,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<bool, Closed> {
        let answer = match request {
            // What the log does not send is not looked for: that would skip what it does.
            Request::Tell(bytes) if self.sends_other(bytes) => Answer::Done,
            Request::Tell(bytes) => match self.find(bytes, far)? {
                Found::Question => Answer::Done,
                Found::Loss => Answer::NoLine,
                Found::End => return Ok(true),
            },
            Request::Ask { questions, .. } => return self.ask_round(questions, answers, far),
            Request::AskBlock(ask) => return self.ask_block(ask, answers, far),
            // A log is in step by its nature; what it asked for that purpose is played all the same.
            Request::Resync { bytes, answer, .. } if self.sends_other(bytes) => {
                Answer::Line(answer.clone())
            }
            Request::Resync { bytes, answer, .. } => {
                return self.play(bytes, Some(answer), answers, far);
            }
            Request::Quiet { .. } => Answer::Done,
        };
        answers.push((self.moment(), answer));
        Ok(false)
    }

    /// When the last entry happened.
    fn moment(&self) -> Stamp {
        self.last.unwrap_or(Stamp {
            elapsed_us: 0,
            wall_ms: 0,
        })
    }

    /// Plays one question and its answer; whether the log ended before there was one.
    fn play(
        &mut self,
        sent: &[u8],
        wanted: Option<&Vec<u8>>,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<bool, Closed> {
        let answer = match self.find(sent, far)? {
            Found::Question => {
                self.is_unknown = false;
                self.answer_to_it(wanted, far)?
            }
            Found::Loss => Some(Answer::NoLine),
            Found::End => None,
        };
        answers.extend(answer.clone().map(|answer| (self.moment(), answer)));
        Ok(answer.is_none())
    }

    /// What came after a question that was sent; `None` at the end of the log.
    fn answer_to_it(
        &mut self,
        wanted: Option<&Vec<u8>>,
        far: &FarEnd,
    ) -> Result<Option<Answer>, Closed> {
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Received(bytes) => {
                    let mut frames = Vec::new();
                    self.splitter.push(&bytes, &mut frames);
                    let mut found = None;
                    for frame in frames {
                        match frame {
                            Frame::Line(line)
                                if found.is_none() && wanted.is_none_or(|text| *text == line) =>
                            {
                                found = Some(Answer::Line(line));
                            }
                            Frame::Overlong(head) if found.is_none() && wanted.is_none() => {
                                found = Some(Answer::Overlong(head));
                            }
                            Frame::Line(bytes) | Frame::Overlong(bytes) => {
                                far.report(LinkEvent::Stray(stamp, bytes))?;
                            }
                        }
                    }
                    if found.is_some() {
                        return Ok(found);
                    }
                }
                Entry::Lost(reason) => {
                    let is_back = self.play_loss(stamp, reason, far)?;
                    return Ok(is_back.then_some(Answer::NoLine));
                }
                Entry::Back => far.report(LinkEvent::Back(stamp))?,
                Entry::Unanswered => return Ok(Some(Answer::Silence(self.splitter.take_rest()))),
                // Something was sent before the answer came, as after a time-out that left no trace.
                Entry::Sent(_) => {}
            }
        }
        Ok(None)
    }

    /// Goes on to where these bytes were sent, but not past a loss: after it the instrument is set up anew.
    fn find(&mut self, bytes: &[u8], far: &FarEnd) -> Result<Found, Closed> {
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Sent(sent) if sent == bytes => return Ok(Found::Question),
                Entry::Received(bytes) => far.report(LinkEvent::Stray(stamp, bytes))?,
                Entry::Lost(reason) => {
                    let is_back = self.play_loss(stamp, reason, far)?;
                    return Ok(if is_back { Found::Loss } else { Found::End });
                }
                Entry::Back => far.report(LinkEvent::Back(stamp))?,
                Entry::Sent(_) | Entry::Unanswered => {}
            }
        }
        Ok(Found::End)
    }

    /// Reports a loss and the return after it; whether there was one. Nobody asks while the line is lost.
    fn play_loss(&mut self, stamp: Stamp, reason: String, far: &FarEnd) -> Result<bool, Closed> {
        self.splitter.take_rest();
        far.report(LinkEvent::Lost(stamp, reason))?;
        while let Some((stamp, entry)) = self.next() {
            if entry == Entry::Back {
                far.report(LinkEvent::Back(stamp))?;
                return Ok(true);
            }
        }
        Ok(false)
    }
}
