//! The bytes sent and received, kept in memory: question by question, or played again.

use std::io;
use std::time::Duration;

use super::byte_log::Entry;
use super::ear::{Ear, Wanted};
use super::kept::Unwritten;
use super::link::Link;
use super::replay;
use super::request::{Answer, Cut, Manner, Passing};
use crate::frame::{BlockCut, BlockFrame, BlockReader};
use crate::reading::Stamp;

/// The bytes sent and received, with their times.
#[derive(Debug, Default)]
pub struct Exchange {
    entries: Vec<(Stamp, Entry)>,
}

/// How the questions of an exchange are answered.
#[derive(Debug, Clone)]
pub struct Protocol {
    /// How lines are cut.
    pub cut: Cut,
    /// The texts to be passed over.
    pub passing: Passing,
    /// The synchronising question and its answer.
    pub resync: Option<(Vec<u8>, Vec<u8>)>,
    /// The questions that are answered by blocks, and how those are cut.
    pub blocks: Vec<(Vec<u8>, BlockCut)>,
}

/// A question and its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The question as it was sent.
    pub question: Vec<u8>,
    /// Its answer.
    pub answer: Answer,
    /// The time from the question to the last of the answer.
    pub took: Duration,
    /// The question itself came before it.
    pub has_echo: bool,
}

/// A question whose answer has not ended.
struct Open {
    question: Vec<u8>,
    at: Stamp,
    has_echo: bool,
    block: Option<BlockReader>,
    /// The only answer that counts.
    only: Option<Vec<u8>>,
}

impl Exchange {
    /// Takes the entries kept since they were last taken.
    pub fn take(&mut self, kept: &Unwritten) {
        self.entries.extend(kept.entries());
    }

    /// Takes another exchange of the same port in behind this one.
    pub fn append(&mut self, mut later: Self) {
        self.entries.append(&mut later.entries);
    }

    /// The bytes that were received, read by read.
    pub fn received(&self) -> impl Iterator<Item = &[u8]> {
        self.entries.iter().filter_map(|(_, entry)| match entry {
            Entry::Received(bytes) => Some(bytes.as_slice()),
            _ => None,
        })
    }

    /// The same exchange as a link, as often as it is needed.
    ///
    /// # Errors
    /// An error when the system gives no thread.
    pub fn play(&self, manner: Manner, cut: Cut) -> io::Result<Link> {
        replay::play(manner, self.entries.clone().into(), cut)
    }

    /// The questions that were answered, or stayed unanswered, in order.
    pub fn asked(&self, protocol: &Protocol) -> Vec<Asked> {
        let mut ear = Ear::new(protocol.cut);
        ear.pass(protocol.passing.clone());
        let (mut asked, mut open) = (Vec::new(), None);
        for (stamp, entry) in &self.entries {
            let answer = match entry {
                Entry::Sent(question) => {
                    let next = Open::new(question, *stamp, protocol, &mut ear);
                    let before = open.replace(next);
                    // A block of unknown length has ended before the next question.
                    asked.extend(before.and_then(|open| open.quiet(*stamp)));
                    None
                }
                Entry::Received(bytes) => hear(&mut ear, open.as_mut(), *stamp, bytes),
                Entry::Unanswered => Some(Answer::Silence(ear.rest().to_vec())),
                Entry::Quiet => {
                    ear.give_up();
                    asked.extend(open.take().and_then(|open| open.quiet(*stamp)));
                    None
                }
                Entry::Lost(_) => {
                    ear.forget();
                    Some(Answer::NoLine)
                }
                Entry::Open | Entry::Behind(_) => None,
            };
            if let Some(answer) = answer
                && let Some(open) = open.take()
            {
                asked.push(open.answered(*stamp, answer));
            }
        }
        asked
    }
}

/// Hears the bytes of one read, and returns the answer if they make it whole.
fn hear(ear: &mut Ear, open: Option<&mut Open>, stamp: Stamp, bytes: &[u8]) -> Option<Answer> {
    let Some(open) = open else {
        ear.hear(stamp, bytes);
        return None;
    };
    let echo = open.question.trim_ascii_end().to_vec();
    if let Some(block) = &mut open.block {
        let mut rest = bytes;
        while let Some((frame, used)) = block.push(rest) {
            rest = rest.get(used..).unwrap_or(&[]);
            match frame {
                BlockFrame::Line(line) if line == echo => open.has_echo = true,
                BlockFrame::Line(line) => return Some(Answer::Line(line)),
                BlockFrame::Whole(block) => return Some(Answer::Block(block)),
                BlockFrame::Broken(why, bytes) => return Some(Answer::Broken(why, bytes)),
            }
        }
        return None;
    }
    let wanted = match &open.only {
        Some(answer) => Wanted::Exactly(answer),
        None => Wanted::AllBut(&echo),
    };
    let mut answer = None;
    for heard in ear.hear(stamp, bytes) {
        if answer.is_none() && wanted.is_it(&heard, ear) {
            answer = Some(heard.into_answer());
        } else {
            open.has_echo |= heard.into_bytes() == echo;
        }
    }
    answer
}

impl Open {
    fn new(question: &[u8], at: Stamp, protocol: &Protocol, ear: &mut Ear) -> Self {
        let only = protocol.resync.as_ref();
        let only = only.and_then(|(ask, answer)| (ask == question).then(|| answer.clone()));
        let block = protocol.blocks.iter().find(|(ask, _)| ask == question);
        let block = block.map(|(_, cut)| BlockReader::new(*cut));
        if only.is_none() {
            ear.question();
        }
        Self {
            question: question.to_vec(),
            at,
            has_echo: false,
            block,
            only,
        }
    }

    /// The answer that silence makes whole.
    fn quiet(mut self, stamp: Stamp) -> Option<Asked> {
        let answer = match self.block.as_mut()?.silence()? {
            BlockFrame::Whole(block) => Answer::Block(block),
            BlockFrame::Line(line) => Answer::Line(line),
            BlockFrame::Broken(why, bytes) => Answer::Broken(why, bytes),
        };
        Some(self.answered(stamp, answer))
    }

    fn answered(self, stamp: Stamp, answer: Answer) -> Asked {
        let took_us = stamp.elapsed_us - self.at.elapsed_us;
        Asked {
            question: self.question,
            answer,
            took: Duration::from_micros(u64::try_from(took_us).unwrap_or(0)),
            has_echo: self.has_echo,
        }
    }
}
