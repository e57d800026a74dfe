//! A question whose answer is a block of binary data, and the wait for it.

use std::io;

use crate::clock::Clock;
use crate::frame::{BlockReader, Broken};
use crate::reading::Stamp;
use crate::transport::byte_log::Entry;
use crate::transport::ear::Ear;
use crate::transport::kept::Keeper;
use crate::transport::pipe::Pipe;
use crate::transport::reopen::read;
use crate::transport::request::{Answer, BlockAsk, LinkEvent};

/// The answer to a question for a block.
#[derive(Debug)]
pub(super) struct BlockReceived {
    /// The answer.
    pub(super) answer: Answer,
    /// When its first byte had come, or the wait was over.
    pub(super) stamp: Stamp,
    /// When the last of it had come, and the bytes behind it.
    last: Stamp,
    /// A line that ended before it and began before the question.
    begun: Vec<u8>,
    /// Bytes behind the answer.
    rest: Vec<u8>,
}

impl BlockReceived {
    /// Returns the events beside the answer; a half line behind it stays in the ear.
    pub(super) fn aside(&self, ear: &mut Ear) -> Vec<LinkEvent> {
        let begun =
            (!self.begun.is_empty()).then(|| LinkEvent::Begun(self.last, self.begun.clone()));
        let behind = ear.hear(self.last, &self.rest);
        begun
            .into_iter()
            .chain(behind.into_iter().map(|heard| heard.into_event(self.last)))
            .collect()
    }
}

/// Hears the answer to a question for a block, from an instrument and from its byte log alike.
pub(super) struct BlockEar<'a> {
    ask: &'a BlockAsk,
    reader: BlockReader,
    /// When the first byte of the answer came.
    first: Option<Stamp>,
    /// The half line that began before the question and has not ended; `None` once the answer can begin.
    begun: Option<Vec<u8>>,
    /// The bytes of that half line once it has ended.
    ended: Vec<u8>,
    /// The prompt that is cut off where the answer begins.
    prompt: Vec<u8>,
    /// The first bytes of the answer while they may be a prompt.
    held: Vec<u8>,
}

impl<'a> BlockEar<'a> {
    /// An ear for one block. The half line that began before the question goes from the other ear to this one.
    pub(super) fn new(ask: &'a BlockAsk, ear: &mut Ear) -> Self {
        let half = ear.give_up();
        let prompt = ear.prompt().unwrap_or_default().to_vec();
        // The rest of a prompt may still come.
        let (begun, held) = if prompt.starts_with(&half) {
            (None, half)
        } else {
            (Some(half), Vec::new())
        };
        Self {
            ask,
            reader: BlockReader::new(ask.cut),
            first: None,
            begun: begun.filter(|half| !half.is_empty()),
            ended: Vec::new(),
            prompt,
            held,
        }
    }

    fn received(&mut self, answer: Answer, last: Stamp, rest: &[u8]) -> BlockReceived {
        BlockReceived {
            answer,
            stamp: self.first.unwrap_or(last),
            last,
            begun: std::mem::take(&mut self.ended),
            rest: rest.to_vec(),
        }
    }

    /// Takes the bytes of one read, and returns the answer if it is whole now.
    pub(super) fn hear(&mut self, stamp: Stamp, bytes: &[u8]) -> Option<BlockReceived> {
        let own = self.own(bytes);
        let mut rest = own.as_slice();
        self.first = self.first.or_else(|| (!rest.is_empty()).then_some(stamp));
        while let Some((frame, used)) = self.reader.push(rest) {
            rest = rest.get(used..).unwrap_or(&[]);
            if let Some(answer) = self.ask.answer(frame) {
                return Some(self.received(answer, stamp, rest));
            }
            // An instrument whose echo is on says the question before the answer.
            self.first = (!rest.is_empty()).then_some(stamp);
        }
        None
    }

    /// The bytes that are the answer's: not the end of a line that began before the question, and no prompt.
    fn own(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut rest = bytes;
        if let Some(mut begun) = self.begun.take() {
            // A block is begun by its sign: the end of the line before it was lost then.
            if rest.first() != Some(&b'#') {
                let Some(end) = rest.iter().position(|byte| self.ask.cut.end.ends(*byte)) else {
                    begun.extend_from_slice(rest);
                    self.begun = Some(begun);
                    return Vec::new();
                };
                begun.extend_from_slice(rest.get(..end).unwrap_or(&[]));
                rest = rest.get(end + 1..).unwrap_or(&[]);
            }
            self.ended = begun;
        }
        if self.first.is_some() || self.prompt.is_empty() {
            return rest.to_vec();
        }
        self.held.extend_from_slice(rest);
        while self.held.starts_with(&self.prompt) {
            self.held.drain(..self.prompt.len());
        }
        if self.prompt.starts_with(&self.held) {
            return Vec::new();
        }
        std::mem::take(&mut self.held)
    }

    /// Nothing has come for long; the answer, if that makes it whole.
    pub(super) fn quiet(&mut self, stamp: Stamp) -> Option<BlockReceived> {
        let frame = self.reader.silence()?;
        let answer = self.ask.answer(frame)?;
        Some(self.received(answer, stamp, &[]))
    }

    /// The time for it is over.
    pub(super) fn give_up(&mut self, stamp: Stamp) -> BlockReceived {
        let answer = if self.reader.is_in_block() || self.reader.is_in_text() {
            Answer::Broken(Broken::Off, self.reader.take_rest())
        } else {
            let begun = self.begun.take().unwrap_or_default();
            let half = [begun, self.reader.take_rest()].concat();
            Answer::Silence(half)
        };
        self.received(answer, stamp, &[])
    }
}

/// Hears the answer to a question that has been sent, on a thread and in memory alike. The time for it grows with the length
/// that the block says.
///
/// # Errors
/// Any error means that the line is lost.
pub(super) async fn hear_block(
    pipe: &mut dyn Pipe,
    ask: &BlockAsk,
    line_ear: &mut Ear,
    clock: &Clock,
    keeper: &Keeper,
) -> io::Result<BlockReceived> {
    let mut ear = BlockEar::new(ask, line_ear);
    let mut deadline = clock.deadline(ask.timeout);
    let mut has_begun = false;
    let mut buffer = [0; 4096];
    loop {
        let wait = if ear.reader.ends_by_silence() {
            deadline.left().min(ask.idle)
        } else {
            deadline.left()
        };
        let count = read(pipe, &mut buffer, wait).await?;
        let stamp = clock.now();
        let bytes = buffer.get(..count).unwrap_or(&[]);
        keeper.received(stamp, bytes);
        if let Some(received) = ear.hear(stamp, bytes) {
            return Ok(received);
        }
        if count == 0
            && let Some(received) = ear.quiet(stamp)
        {
            keeper.note(stamp, &Entry::Quiet);
            return Ok(received);
        }
        if deadline.is_over() {
            keeper.note(stamp, &Entry::Unanswered);
            return Ok(ear.give_up(stamp));
        }
        if count > 0 && ear.reader.is_in_text() {
            // A line says no length: the wait is for its next bytes.
            deadline = clock.deadline(ask.timeout);
        }
        if !has_begun && ear.reader.is_in_block() {
            has_begun = true;
            let length = ear.reader.announced().unwrap_or(ask.cut.limit);
            deadline = clock.deadline(ask.patience(length));
        }
    }
}

#[cfg(test)]
mod tests;
