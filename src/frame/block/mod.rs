//! The end of a block of binary data: IEEE 488.2 arbitrary block response data.
//!
//! A definite block is `#`, a digit for the number of length digits, the length, that number of bytes, and the line end:
//! `#41024…`. An indefinite one is `#0`, bytes and the line end. Since the bytes may hold line ends too, it ends where its length
//! is known from elsewhere, or else where nothing more comes. Before a block a header may stand, with a blank or a comma between:
//! `:CURVE #41024…`, `DAT2,#9000000346…`. `#H1F`, `#Q17` and `#B101` are numbers, not blocks. The sources are IEEE 488.2-2004,
//! sections 8.7.9, 8.7.10 and 8.7.4 to 8.7.6, from memory, and for the forms instrument guides.

use super::LineEnd;

/// A line that should be a block is read so far.
const LONGEST_LINE: usize = 4096;

/// How a block is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BlockCut {
    /// The end of the answer behind the block.
    pub end: LineEnd,
    /// The longest block taken, in bytes.
    pub limit: usize,
    /// The length of an indefinite block, where it is known.
    pub known_len: Option<usize>,
    /// Bytes per sample: a carriage return that makes an indefinite block of unknown length uneven belongs to its end.
    pub sample_len: usize,
    /// A line of text is expected as well, which may be as long as a block: samples as numbers.
    pub is_text: bool,
}

/// The answer to a question for a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BlockFrame {
    /// The bytes of a whole block.
    Whole(Vec<u8>),
    /// A line of text without its end: no block.
    Line(Vec<u8>),
    /// An answer that looks like a block and can't be taken: the reason, and its first bytes.
    Broken(Broken, Vec<u8>),
}

/// Why a block can't be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each has its words above it")]
pub enum Broken {
    #[error("an indefinite block without a line end behind it")]
    NoEnd,
    #[error("a block beyond the limit")]
    LongBlock,
    #[error("a line beyond the limit")]
    LongLine,
    #[error("a block whose length is no number")]
    Length,
    #[error("more bytes than the block is to have")]
    TooMany,
    #[error("the block broke off")]
    Off,
}

/// How far the answer has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// The block has not begun: nothing came, or a header, or a line of text.
    Before,
    /// Behind `#`.
    Sign,
    /// The number of digits of the length still to come.
    Length { digits_left: usize, length: usize },
    /// It is in a block of this length.
    Definite { length: usize },
    /// It is in a block that gives no length.
    Indefinite,
    /// Behind all bytes of the block.
    Behind,
}

/// Cuts one block out of a stream of bytes.
#[derive(Debug)]
pub struct BlockReader {
    cut: BlockCut,
    stage: Stage,
    /// The line before the block, then the block's own bytes.
    buffer: Vec<u8>,
}

impl BlockReader {
    /// A reader for one answer.
    pub const fn new(cut: BlockCut) -> Self {
        Self {
            cut,
            stage: Stage::Before,
            buffer: Vec::new(),
        }
    }

    /// Takes bytes as they came; when they complete the answer, it and how many of them belong to it.
    pub fn push(&mut self, bytes: &[u8]) -> Option<(BlockFrame, usize)> {
        let mut at = 0;
        while let Some(rest) = bytes.get(at..).filter(|rest| !rest.is_empty()) {
            let (frame, count) = self.take(rest);
            at += count;
            if let Some(frame) = frame {
                return Some((frame, at));
            }
        }
        None
    }

    /// How many bytes the block has, once that is known.
    pub const fn announced(&self) -> Option<usize> {
        match self.stage {
            Stage::Definite { length } => Some(length),
            Stage::Indefinite => self.cut.known_len,
            Stage::Before | Stage::Sign | Stage::Length { .. } | Stage::Behind => None,
        }
    }

    /// Whether only silence shows that the answer is whole.
    pub const fn ends_by_silence(&self) -> bool {
        match self.stage {
            Stage::Behind => true,
            Stage::Indefinite => self.cut.known_len.is_none(),
            Stage::Before | Stage::Sign | Stage::Length { .. } | Stage::Definite { .. } => false,
        }
    }

    /// Whether the head of a block has come.
    pub const fn is_in_block(&self) -> bool {
        matches!(
            self.stage,
            Stage::Definite { .. } | Stage::Indefinite | Stage::Behind
        )
    }

    /// Whether a line that may be as long as a block has begun.
    pub const fn is_in_text(&self) -> bool {
        self.cut.is_text && matches!(self.stage, Stage::Before) && !self.buffer.is_empty()
    }

    /// Nothing more has come for long: the answer, if silence makes it whole.
    pub fn silence(&mut self) -> Option<BlockFrame> {
        if !self.ends_by_silence() {
            return None;
        }
        let is_open = self.stage == Stage::Indefinite;
        let mut bytes = self.take_rest();
        if is_open && !self.strip_end(&mut bytes) {
            return Some(BlockFrame::Broken(Broken::NoEnd, bytes));
        }
        Some(BlockFrame::Whole(bytes))
    }

    /// The bytes of the unfinished block, or of the line before it; the reader is as new.
    pub fn take_rest(&mut self) -> Vec<u8> {
        self.stage = Stage::Before;
        std::mem::take(&mut self.buffer)
    }

    /// Takes some bytes, of which there must be one.
    fn take(&mut self, bytes: &[u8]) -> (Option<BlockFrame>, usize) {
        let wanted = match self.stage {
            Stage::Definite { length } => length - self.buffer.len(),
            Stage::Indefinite => match self.cut.known_len {
                Some(length) => length - self.buffer.len(),
                // One byte beyond the limit and the line end, to see that it is too long.
                None => (self.cut.limit + 3).saturating_sub(self.buffer.len()),
            },
            Stage::Before | Stage::Sign | Stage::Length { .. } | Stage::Behind => {
                let frame = bytes.first().and_then(|byte| self.take_byte(*byte));
                return (frame, 1);
            }
        };
        let taken = bytes.get(..wanted).unwrap_or(bytes);
        self.buffer.extend_from_slice(taken);
        if taken.len() < wanted {
            return (None, taken.len());
        }
        if self.stage == Stage::Indefinite && self.cut.known_len.is_none() {
            return (Some(self.broken(Broken::LongBlock)), taken.len());
        }
        self.stage = Stage::Behind;
        (None, taken.len())
    }

    fn take_byte(&mut self, byte: u8) -> Option<BlockFrame> {
        match self.stage {
            Stage::Before => return self.take_before(byte),
            Stage::Sign => match byte {
                b'0' => return self.begin(self.cut.known_len, Stage::Indefinite),
                b'1'..=b'9' => {
                    self.stage = Stage::Length {
                        digits_left: usize::from(byte - b'0'),
                        length: 0,
                    };
                }
                // A number in another base, or any text: the bytes read so far belong to its line.
                _ => {
                    self.stage = Stage::Before;
                    self.buffer.push(b'#');
                    return self.take_text(byte);
                }
            },
            Stage::Length {
                digits_left,
                length,
            } => {
                if !byte.is_ascii_digit() {
                    return Some(self.broken(Broken::Length));
                }
                let length = length * 10 + usize::from(byte - b'0');
                if digits_left == 1 {
                    return self.begin(Some(length), Stage::Definite { length });
                }
                self.stage = Stage::Length {
                    digits_left: digits_left - 1,
                    length,
                };
            }
            Stage::Behind => {
                // A carriage return may stand before the line feed that ends the answer.
                if self.cut.end.ends(byte) {
                    return Some(BlockFrame::Whole(self.take_rest()));
                }
                if byte != b'\r' {
                    return Some(self.broken(Broken::TooMany));
                }
            }
            Stage::Definite { .. } | Stage::Indefinite => {}
        }
        None
    }

    /// A byte before the block: a `#` at the start of a word, or behind a comma, begins it.
    fn take_before(&mut self, byte: u8) -> Option<BlockFrame> {
        let begins_word = |last: &u8| last.is_ascii_whitespace() || *last == b',';
        let is_word_start = self.buffer.last().is_none_or(begins_word);
        if byte == b'#' && is_word_start {
            self.stage = Stage::Sign;
            return None;
        }
        self.take_text(byte)
    }

    fn take_text(&mut self, byte: u8) -> Option<BlockFrame> {
        if self.cut.end.ends(byte) || byte == b'\n' {
            let mut line = self.take_rest();
            if line.last() == Some(&b'\r') {
                line.pop();
            }
            return (!line.trim_ascii().is_empty()).then_some(BlockFrame::Line(line));
        }
        self.buffer.push(byte);
        let longest = if self.cut.is_text {
            self.cut.limit
        } else {
            LONGEST_LINE
        };
        (self.buffer.len() > longest).then(|| self.broken(Broken::LongLine))
    }

    /// Begins a block; the header before it, if there was one, is dropped.
    fn begin(&mut self, length: Option<usize>, stage: Stage) -> Option<BlockFrame> {
        if length.is_some_and(|length| length > self.cut.limit) {
            return Some(self.broken(Broken::LongBlock));
        }
        self.buffer.clear();
        self.stage = if length == Some(0) {
            Stage::Behind
        } else {
            stage
        };
        None
    }

    fn broken(&mut self, why: Broken) -> BlockFrame {
        BlockFrame::Broken(why, self.take_rest())
    }

    /// Takes the line end off an indefinite block, and returns whether there was one.
    fn strip_end(&self, bytes: &mut Vec<u8>) -> bool {
        let has_end = bytes.last().is_some_and(|last| self.cut.end.ends(*last));
        if has_end {
            let last = bytes.pop();
            let sample_len = self.cut.sample_len.max(1);
            let is_uneven = sample_len == 1 || bytes.len() % sample_len == 1;
            if last == Some(b'\n') && bytes.last() == Some(&b'\r') && is_uneven {
                bytes.pop();
            }
        }
        has_end
    }
}

#[cfg(test)]
mod tests;
