//! A question whose answer is a block of binary data, and the wait for it.

use std::io;
use std::time::Duration;

use super::byte_log::Entry;
use super::{Answer, Keeper, Pipe};
use crate::clock::{Clock, Deadline};
use crate::frame::{BlockCut, BlockFrame, BlockReader};
use crate::reading::Stamp;

/// What a block may take beyond the time its bytes need on the line (chosen).
const ALLOWANCE: Duration = Duration::from_secs(1);

/// A question whose answer is a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockAsk {
    /// The question.
    pub bytes: Vec<u8>,
    /// How long the line rests before it.
    pub pause: Duration,
    /// How long the block may take to begin.
    pub timeout: Duration,
    /// How long one byte takes on the line.
    pub byte_time: Duration,
    /// The silence that ends a block of unknown length.
    pub idle: Duration,
    /// How the block is cut.
    pub cut: BlockCut,
}

impl BlockAsk {
    /// How long a block that has begun may take: half as long again as its bytes need, and a second.
    fn patience(&self, length: usize) -> Duration {
        let bytes = u32::try_from(length).unwrap_or(u32::MAX);
        self.byte_time.saturating_mul(bytes).mul_f64(1.5) + ALLOWANCE
    }

    /// What a reader's frame comes to; `None` for the echo of the question.
    fn answer(&self, frame: BlockFrame) -> Option<Answer> {
        match frame {
            BlockFrame::Whole(bytes) => Some(Answer::Block(bytes)),
            BlockFrame::Line(line) if line == self.bytes.trim_ascii_end() => None,
            BlockFrame::Line(line) => Some(Answer::Line(line)),
            BlockFrame::Broken(why, bytes) => Some(Answer::Broken(why, bytes)),
        }
    }
}

/// What came to a question for a block.
#[derive(Debug)]
pub struct BlockReceived {
    /// The answer.
    pub answer: Answer,
    /// When its first byte had come, or the wait was over.
    pub stamp: Stamp,
    /// When the last of it had come, and what is behind it.
    pub last: Stamp,
    /// Bytes behind the answer.
    pub rest: Vec<u8>,
}

impl BlockReceived {
    /// What is behind the answer and more than a line end.
    pub(super) fn stray(&self) -> Vec<u8> {
        self.rest.trim_ascii().to_vec()
    }
}

/// Hears the answer to a question for a block, from an instrument and from its byte log alike.
pub(super) struct BlockEar<'a> {
    ask: &'a BlockAsk,
    reader: BlockReader,
    /// When the first byte of the answer came.
    first: Option<Stamp>,
}

impl<'a> BlockEar<'a> {
    pub(super) const fn new(ask: &'a BlockAsk) -> Self {
        Self {
            ask,
            reader: BlockReader::new(ask.cut),
            first: None,
        }
    }

    fn received(&self, answer: Answer, last: Stamp, rest: &[u8]) -> BlockReceived {
        BlockReceived {
            answer,
            stamp: self.first.unwrap_or(last),
            last,
            rest: rest.to_vec(),
        }
    }

    /// Takes what came in one read; the answer, if it is whole now.
    pub(super) fn hear(&mut self, stamp: Stamp, bytes: &[u8]) -> Option<BlockReceived> {
        let mut rest = bytes;
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

    /// Nothing has come for long; the answer, if that makes it whole.
    pub(super) fn quiet(&mut self, stamp: Stamp) -> Option<BlockReceived> {
        let frame = self.reader.silence()?;
        let answer = self.ask.answer(frame)?;
        Some(self.received(answer, stamp, &[]))
    }

    /// The time for it is over.
    pub(super) fn give_up(&mut self, stamp: Stamp) -> BlockReceived {
        let answer = if self.reader.is_in_block() {
            Answer::Broken("the block broke off", self.reader.take_rest())
        } else {
            Answer::Silence(self.reader.take_rest())
        };
        self.received(answer, stamp, &[])
    }
}

/// Reads the answer to a question that has been sent. The time for it grows with the length that the block says.
///
/// # Errors
/// Any error means that the line is lost.
pub fn read_block(
    pipe: &mut dyn Pipe,
    ask: &BlockAsk,
    clock: &Clock,
    keeper: &Keeper,
) -> io::Result<BlockReceived> {
    let mut ear = BlockEar::new(ask);
    let mut deadline = Deadline::after(ask.timeout);
    let mut has_begun = false;
    let mut buffer = [0; 4096];
    loop {
        let wait = if ear.reader.ends_by_silence() {
            deadline.left().min(ask.idle)
        } else {
            deadline.left()
        };
        let count = pipe.read(&mut buffer, wait)?;
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
        if !has_begun && ear.reader.is_in_block() {
            has_begun = true;
            let length = ear.reader.announced().unwrap_or(ask.cut.limit);
            deadline = Deadline::after(ask.patience(length));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::LineEnd;
    use crate::transport::{Cut, LinkEvent, Manner, Request, Speed, keep_bytes, replay};

    /// Bytes in pieces, each a read; then silence.
    struct Script(Vec<Vec<u8>>);

    impl Pipe for Script {
        fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
            if self.0.is_empty() {
                let deadline = Deadline::after(wait);
                while !deadline.is_over() {
                    deadline.pause(wait);
                }
                return Ok(0);
            }
            let piece = self.0.remove(0);
            into[..piece.len()].copy_from_slice(&piece);
            Ok(piece.len())
        }

        fn write(&mut self, _bytes: &[u8]) -> io::Result<()> {
            Ok(())
        }

        fn waiting(&mut self) -> io::Result<usize> {
            Ok(self.0.len())
        }
    }

    fn ask() -> BlockAsk {
        BlockAsk {
            bytes: b"CURVE?\n".to_vec(),
            pause: Duration::ZERO,
            timeout: Duration::from_millis(20),
            byte_time: Duration::from_micros(87),
            idle: Duration::from_millis(20),
            cut: BlockCut {
                end: LineEnd::Any,
                limit: 1_000_000,
                known_len: None,
                sample_len: 1,
            },
        }
    }

    fn read_kept(pieces: &[&[u8]], keeper: &Keeper) -> BlockReceived {
        let mut script = Script(pieces.iter().map(|piece| piece.to_vec()).collect());
        read_block(&mut script, &ask(), &Clock::real(), keeper).unwrap()
    }

    fn read(pieces: &[&[u8]]) -> BlockReceived {
        read_kept(pieces, &Keeper::default())
    }

    /// What a byte log comes to when it is asked for the block.
    fn play(path: &std::path::Path) -> Vec<LinkEvent> {
        let cut = Cut {
            end: LineEnd::Any,
            limit: 100,
        };
        let mut link = replay(Manner::Asked, path, cut, Speed::AtOnce)
            .unwrap()
            .link;
        link.send(Request::AskBlock(ask()));
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .unwrap();
        let mut events = Vec::new();
        loop {
            let event = runtime.block_on(link.next()).unwrap();
            let is_last = matches!(event, LinkEvent::Answers(_) | LinkEvent::Ended);
            events.push(event);
            if is_last {
                return events;
            }
        }
    }

    #[test]
    fn a_kept_answer_is_the_same_at_the_same_moment_when_it_is_played() {
        let dir = tempfile::tempdir().unwrap();
        let answers: [&[&[u8]]; 8] = [
            &[b"CURVE?\r\n#1", b"2a", b"\n\nlate\n"],
            &[b"CURVE?\n#12\x00\xff\n"],
            &[b"#0a\n", b"b\n"],
            &[b"#12ab"],
            &[b"#15abc"],
            &[b"9.91E37\n"],
            &[b"9.9"],
            &[],
        ];
        for (index, pieces) in answers.iter().enumerate() {
            let path = dir.path().join(format!("{index}.log"));
            let (keeper, unwritten) = keep_bytes();
            let kept = unwritten.write_to(&path).unwrap();
            let clock = Clock::real();
            keeper.note(clock.now(), &Entry::Open);
            keeper.sent(clock.now(), &ask().bytes);
            let received = read_kept(pieces, &keeper);
            // What comes after the wait is no part of the answer.
            keeper.received(clock.now(), b"too late\n");
            keeper.sent(clock.now(), b"*OPC?\n");
            drop(keeper);
            kept.finish();
            let mut want = Vec::new();
            let stray = received.stray();
            if !stray.is_empty() {
                want.push(LinkEvent::Stray(received.last, stray));
            }
            want.push(LinkEvent::Answers(vec![(received.stamp, received.answer)]));
            assert_eq!(play(&path), want, "{pieces:?}");
        }
    }

    #[test]
    fn the_echo_is_passed_over_and_what_follows_the_block_is_handed_on() {
        let received = read(&[b"CURVE?\r\n#1", b"2a", b"\n\nlate\n"]);
        assert_eq!(received.answer, Answer::Block(b"a\n".to_vec()));
        assert_eq!(received.rest, b"late\n");
    }

    #[test]
    fn an_indefinite_block_and_one_without_an_end_are_whole_when_the_line_is_quiet() {
        assert_eq!(
            read(&[b"#0a\n", b"b\n"]).answer,
            Answer::Block(b"a\nb".to_vec())
        );
        assert_eq!(read(&[b"#12ab"]).answer, Answer::Block(b"ab".to_vec()));
    }

    #[test]
    fn silence_a_line_and_a_block_that_breaks_off_are_three_things() {
        assert_eq!(read(&[]).answer, Answer::Silence(Vec::new()));
        assert_eq!(read(&[b"9.91"]).answer, Answer::Silence(b"9.91".to_vec()));
        assert_eq!(read(&[b"#H1F\n"]).answer, Answer::Line(b"#H1F".to_vec()));
        assert_eq!(
            read(&[b"#15abc"]).answer,
            Answer::Broken("the block broke off", b"abc".to_vec())
        );
    }

    /// 8N1: ten bits a byte, 100 000 bytes at 115 200 Bd take 8.68 s (own sum), half as long again and a second is 14.02 s.
    #[test]
    fn the_time_for_a_block_grows_with_its_length() {
        let ask = BlockAsk {
            byte_time: Duration::from_secs_f64(10.0 / 115_200.0),
            ..ask()
        };
        assert!((ask.patience(100_000).as_secs_f64() - 14.02).abs() < 0.01);
        assert!((ask.patience(0).as_secs_f64() - 1.0).abs() < 1e-9);
    }
}
