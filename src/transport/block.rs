//! A question whose answer is a block of binary data, and the wait for it.

use std::io;
use std::time::Duration;

use super::byte_log::Entry;
use super::ear::Ear;
use super::reopen::read;
use super::{Answer, Keeper, LinkEvent, Pipe};
use crate::clock::Clock;
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
pub(super) struct BlockReceived {
    /// The answer.
    pub(super) answer: Answer,
    /// When its first byte had come, or the wait was over.
    pub(super) stamp: Stamp,
    /// When the last of it had come, and what is behind it.
    last: Stamp,
    /// A line that ended before it and began before the question.
    begun: Vec<u8>,
    /// Bytes behind the answer.
    rest: Vec<u8>,
}

impl BlockReceived {
    /// What came beside the answer; of what is behind it the half line stays in the ear.
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
    /// What began before the question and has not ended; `None` once the answer can begin.
    begun: Option<Vec<u8>>,
    /// What ended of it.
    ended: Vec<u8>,
    /// What is cut off where the answer begins.
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

    /// Takes what came in one read; the answer, if it is whole now.
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
            // A block is begun by its sign: the end of what stood before it was lost then.
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
            Answer::Broken("the block broke off", self.reader.take_rest())
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
mod tests {
    use super::*;
    use crate::clock::Deadline;
    use crate::frame::LineEnd;
    use crate::transport::way::block_on;
    use crate::transport::{Cut, Manner, Request, Speed, keep_bytes, replay};

    /// Bytes in pieces, each a read after this time; then silence.
    struct Script(Vec<Vec<u8>>, Duration);

    fn script(pieces: &[&[u8]], apart: Duration) -> Script {
        Script(pieces.iter().map(|piece| piece.to_vec()).collect(), apart)
    }

    impl Pipe for Script {
        fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
            let time = if self.0.is_empty() {
                wait
            } else {
                wait.min(self.1)
            };
            let deadline = Deadline::after(time);
            while !deadline.is_over() {
                deadline.pause(time);
            }
            if self.0.is_empty() {
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
                is_text: false,
            },
        }
    }

    fn read_kept(pieces: &[&[u8]], keeper: &Keeper) -> BlockReceived {
        let mut script = script(pieces, Duration::ZERO);
        hear_from(&mut script, &mut ear(b""), keeper)
    }

    fn hear_from(script: &mut Script, ear: &mut Ear, keeper: &Keeper) -> BlockReceived {
        let (ask, clock) = (ask(), Clock::real());
        block_on(hear_block(script, &ask, ear, &clock, keeper)).unwrap()
    }

    /// An ear in which this stands when the question is asked.
    fn ear(half: &[u8]) -> Ear {
        let mut ear = Ear::new(Cut {
            end: LineEnd::Any,
            limit: 100,
        });
        ear.hear(Clock::real().now(), half);
        ear.question();
        ear
    }

    fn read_pieces(pieces: &[&[u8]]) -> BlockReceived {
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
            let mut want = received.aside(&mut ear(b""));
            want.push(LinkEvent::Answers(vec![(received.stamp, received.answer)]));
            assert_eq!(play(&path), want, "{pieces:?}");
        }
    }

    #[test]
    fn the_echo_is_passed_over_and_what_follows_the_block_is_handed_on() {
        let received = read_pieces(&[b"CURVE?\r\n#1", b"2a", b"\n\nlate\n"]);
        assert_eq!(received.answer, Answer::Block(b"a\n".to_vec()));
        assert_eq!(received.rest, b"late\n");
    }

    #[test]
    fn the_end_of_what_began_before_the_question_is_no_part_of_the_block() {
        // From below: a copy of the preamble in packets; its end lost; its end and the block in one read; the end never comes.
        for (pieces, want, begun) in [
            (
                &[&b"2,5"[..], b"\n", b"#12a\n\n"][..],
                Answer::Block(b"a\n".to_vec()),
                &b"1;2,5"[..],
            ),
            (&[b"#12ab\n"], Answer::Block(b"ab".to_vec()), b"1;"),
            (
                &[b"2,5\r\n#12ab\n"],
                Answer::Block(b"ab".to_vec()),
                b"1;2,5",
            ),
            (&[b"2,5"], Answer::Silence(b"1;2,5".to_vec()), b""),
        ] {
            let mut script = script(pieces, Duration::ZERO);
            let mut ear = ear(b"1;");
            let received = hear_from(&mut script, &mut ear, &Keeper::default());
            let aside = received.aside(&mut ear);
            assert_eq!(received.answer, want, "{pieces:?}");
            match aside.as_slice() {
                [LinkEvent::Begun(_, bytes)] => assert_eq!(bytes, begun),
                _ => assert_eq!((aside.len(), begun.len()), (0, 0)),
            }
        }
    }

    #[test]
    fn an_indefinite_block_and_one_without_an_end_are_whole_when_the_line_is_quiet() {
        assert_eq!(
            read_pieces(&[b"#0a\n", b"b\n"]).answer,
            Answer::Block(b"a\nb".to_vec())
        );
        assert_eq!(
            read_pieces(&[b"#12ab"]).answer,
            Answer::Block(b"ab".to_vec())
        );
    }

    #[test]
    fn silence_a_line_and_a_block_that_breaks_off_are_three_things() {
        assert_eq!(read_pieces(&[]).answer, Answer::Silence(Vec::new()));
        assert_eq!(
            read_pieces(&[b"9.91"]).answer,
            Answer::Silence(b"9.91".to_vec())
        );
        assert_eq!(
            read_pieces(&[b"#H1F\n"]).answer,
            Answer::Line(b"#H1F".to_vec())
        );
        assert_eq!(
            read_pieces(&[b"#15abc"]).answer,
            Answer::Broken("the block broke off", b"abc".to_vec())
        );
    }

    /// Ten pieces, 100 ms apart, where an answer must begin within 500 ms.
    #[test]
    fn a_line_of_numbers_is_waited_for_as_long_as_it_goes_on() {
        let mut asked = ask();
        asked.cut.is_text = true;
        asked.timeout = Duration::from_millis(500);
        let read = |pieces: &[&[u8]]| {
            let mut slow = script(pieces, Duration::from_millis(100));
            let (clock, keeper) = (Clock::real(), Keeper::default());
            block_on(hear_block(
                &mut slow,
                &asked,
                &mut ear(b""),
                &clock,
                &keeper,
            ))
            .unwrap()
        };
        let mut pieces = vec![&b"0.1,"[..]; 10];
        assert_eq!(
            read(&pieces).answer,
            Answer::Broken("the block broke off", b"0.1,".repeat(10))
        );
        pieces.push(b"0.2\n");
        let line = [b"0.1,".repeat(10), b"0.2".to_vec()].concat();
        assert_eq!(read(&pieces).answer, Answer::Line(line));
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
