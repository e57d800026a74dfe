//! The lines of an instrument that is asked: each with the moment of its first byte, and whether it began before the
//! question.
//!
//! A line that stands half before a question is no answer to it, and neither is its end that comes after. It may be a copy of the
//! last answer cut by packets. It is heard to its end and refused, and the answer is still awaited. A prompt alone begins no
//! line.

use super::request::{Answer, Cut, LinkEvent, Passing};
use crate::frame::{Frame, LineEnd, Splitter};
use crate::reading::Stamp;

/// A line that was heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Heard {
    /// When its first byte had come.
    pub(super) began: Stamp,
    /// Whether that was before the question.
    pub(super) is_begun_before: bool,
    pub(super) frame: Frame,
}

/// Cuts the lines of an instrument that is asked.
#[derive(Debug)]
pub(super) struct Ear {
    splitter: Splitter,
    end: LineEnd,
    passing: Passing,
    /// When the first byte of the half line came.
    half: Option<Stamp>,
    /// The number of bytes of the half line that came before the question.
    before: usize,
    /// The text that stood alone before the last question and could be a prompt.
    candidate: Vec<u8>,
}

impl Ear {
    pub(super) fn new(cut: Cut) -> Self {
        Self {
            splitter: Splitter::new(cut.end, cut.limit),
            end: cut.end,
            passing: Passing::default(),
            half: None,
            before: 0,
            candidate: Vec::new(),
        }
    }

    /// Takes over the texts to be passed over; a prompt that was learnt stays.
    pub(super) fn pass(&mut self, passing: Passing) {
        let learnt = self.passing.prompt.take();
        self.passing = Passing {
            prompt: passing.prompt.or(learnt),
            ..passing
        };
    }

    /// Takes the bytes of one read, and returns the lines that they complete.
    pub(super) fn hear(&mut self, stamp: Stamp, bytes: &[u8]) -> Vec<Heard> {
        if bytes.is_empty() {
            return Vec::new();
        }
        let mut frames = Vec::new();
        self.splitter.push(bytes, &mut frames);
        let (mut begun, mut before) = (self.half.take(), std::mem::take(&mut self.before));
        let mut lines = Vec::new();
        for frame in frames {
            let (began, before) = (begun.take().unwrap_or(stamp), std::mem::take(&mut before));
            lines.extend(self.line(began, before, frame));
        }
        self.half = begun.or(Some(stamp));
        self.before = before;
        self.strip_half();
        lines
    }

    /// A line without its prompts; `None` for one that is passed over.
    fn line(&self, began: Stamp, before: usize, frame: Frame) -> Option<Heard> {
        let (bytes, is_whole) = match frame {
            Frame::Line(bytes) => (bytes, true),
            Frame::Overlong(bytes) => (bytes, false),
        };
        let prompts = self.prompts(&bytes);
        let line = bytes.get(prompts..).unwrap_or(&[]).to_vec();
        if line.is_empty() || self.passing.skip.contains(&line) {
            return None;
        }
        Some(Heard {
            began,
            is_begun_before: before > prompts,
            frame: if is_whole {
                Frame::Line(line)
            } else {
                Frame::Overlong(line)
            },
        })
    }

    /// How many bytes of prompts a line begins with.
    fn prompts(&self, line: &[u8]) -> usize {
        let Some(prompt) = self.passing.prompt.as_deref().filter(|one| !one.is_empty()) else {
            return 0;
        };
        let mut at = 0;
        while line.get(at..).is_some_and(|rest| rest.starts_with(prompt)) {
            at += prompt.len();
        }
        at
    }

    /// Takes whole prompts off the half line: the line begins behind them.
    fn strip_half(&mut self) {
        let prompts = self.prompts(self.splitter.rest());
        if prompts > 0 {
            let half = self.splitter.take_rest();
            let rest = half.get(prompts..).unwrap_or(&[]);
            self.splitter.push(rest, &mut Vec::new());
            self.before = self.before.saturating_sub(prompts);
        }
        if self.splitter.rest().is_empty() {
            self.half = None;
            self.before = 0;
        }
    }

    /// A question is asked now: the line that stands half here began before it.
    pub(super) fn question(&mut self) {
        let half = self.splitter.rest();
        if half.iter().all(|byte| matches!(byte, b'\r' | b'\n' | 0)) {
            // The rest of a line end begins nothing, nor does the NUL that some send behind it.
            self.forget();
        } else if self.passing.prompt.is_none() && may_be_prompt(half) {
            self.learn(half.to_vec());
        }
        self.before = self.splitter.rest().len();
    }

    /// Takes a half line that could be a prompt; a text that comes twice is one.
    fn learn(&mut self, half: Vec<u8>) {
        if self.candidate == half {
            self.passing.prompt = Some(half);
            self.strip_half();
        } else {
            self.candidate = half;
        }
    }

    /// Whether a line is this answer behind something that can only be a prompt, which is then learnt.
    pub(super) fn is_behind_prompt(&mut self, line: &[u8], answer: &[u8]) -> bool {
        let head = line.strip_suffix(answer).filter(|head| may_be_prompt(head));
        if let Some(head) = head
            && self.passing.prompt.is_none()
        {
            self.passing.prompt = Some(head.to_vec());
            return true;
        }
        false
    }

    /// The half line.
    pub(super) fn rest(&self) -> &[u8] {
        self.splitter.rest()
    }

    /// The prompt, if there is one.
    pub(super) fn prompt(&self) -> Option<&[u8]> {
        self.passing.prompt.as_deref()
    }

    /// Nothing has come for long: the half line is given up. Returns its bytes.
    pub(super) fn give_up(&mut self) -> Vec<u8> {
        let half = self.splitter.take_rest();
        self.forget();
        half
    }

    /// Takes bytes that are waited out in silence, line or not, and returns them with the half line that stood before them.
    pub(super) fn noise(&mut self, bytes: &[u8]) -> Vec<u8> {
        let all = [&self.give_up(), bytes].concat();
        let tail = all.rsplit(|byte| self.end.ends(*byte)).next();
        if let Some(tail) = tail.filter(|tail| may_be_prompt(tail)) {
            self.candidate = tail.to_vec();
        }
        if self.prompts(&all) == all.len() {
            return Vec::new();
        }
        all
    }

    /// Forgets the half line.
    pub(super) fn forget(&mut self) {
        self.splitter.take_rest();
        self.half = None;
        self.before = 0;
    }
}

/// Whether a text without a line end can be a prompt and no part of an answer. It ends as prompts do, and holds nothing that a
/// number does.
fn may_be_prompt(text: &[u8]) -> bool {
    let is_of_number =
        |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'+' | b'-' | b'.' | b',');
    matches!(text.trim_ascii_end().last(), Some(b'>' | b'$'))
        && text.iter().all(|byte| matches!(byte, b' '..=b'~'))
        && !text.iter().any(is_of_number)
}

/// Which line is awaited.
#[derive(Debug, Clone, Copy)]
pub(super) enum Wanted<'w> {
    /// Any but this one, the question itself: an instrument whose echo is on says it before the answer.
    AllBut(&'w [u8]),
    /// This one alone.
    Exactly(&'w [u8]),
}

impl Wanted<'_> {
    /// Whether a line is the one that is awaited.
    pub(super) fn is_it(self, heard: &Heard, ear: &mut Ear) -> bool {
        let (Frame::Line(bytes) | Frame::Overlong(bytes)) = &heard.frame;
        match self {
            Self::AllBut(echo) => !heard.is_begun_before && bytes != echo,
            Self::Exactly(answer) => {
                !heard.is_begun_before && bytes == answer || ear.is_behind_prompt(bytes, answer)
            }
        }
    }
}

impl Heard {
    /// The answer that it is.
    pub(super) fn into_answer(self) -> Answer {
        match self.frame {
            Frame::Line(bytes) => Answer::Line(bytes),
            Frame::Overlong(head) => Answer::Overlong(head),
        }
    }

    /// The line's bytes.
    pub(super) fn into_bytes(self) -> Vec<u8> {
        match self.frame {
            Frame::Line(bytes) | Frame::Overlong(bytes) => bytes,
        }
    }

    /// The news of a line that is no answer.
    pub(super) fn into_event(self, stamp: Stamp) -> LinkEvent {
        if self.is_begun_before {
            LinkEvent::Begun(stamp, self.into_bytes())
        } else {
            LinkEvent::Stray(stamp, self.into_bytes())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transport::Cut;

    const fn at(elapsed_us: i64) -> Stamp {
        Stamp {
            elapsed_us,
            wall_ms: 0,
        }
    }

    fn ear(limit: usize) -> Ear {
        let end = LineEnd::Any;
        Ear::new(Cut { end, limit })
    }

    /// The lines, each with the moment of its first byte; `!` before those that began before the question.
    fn hear(ear: &mut Ear, elapsed_us: i64, bytes: &[u8]) -> Vec<(i64, String)> {
        let told = |heard: Heard| {
            let sign = if heard.is_begun_before { "!" } else { "" };
            let text = match heard.frame {
                Frame::Line(line) => String::from_utf8(line).unwrap(),
                Frame::Overlong(_) => "overlong".to_owned(),
            };
            (heard.began.elapsed_us, format!("{sign}{text}"))
        };
        ear.hear(at(elapsed_us), bytes)
            .into_iter()
            .map(told)
            .collect()
    }

    fn line(elapsed_us: i64, text: &str) -> (i64, String) {
        (elapsed_us, text.to_owned())
    }

    #[test]
    fn each_line_has_the_moment_of_its_own_first_byte() {
        let mut ear = ear(10);
        let mut push = |elapsed_us, bytes: &[u8]| hear(&mut ear, elapsed_us, bytes);
        assert_eq!(push(1, b"on"), []);
        assert_eq!(push(2, b""), []);
        assert_eq!(push(3, b"e"), []);
        assert_eq!(push(4, b"\r\ntwo\nth"), [line(1, "one"), line(4, "two")]);
        assert_eq!(push(5, b"ree\r"), [line(4, "three")]);
        // The rest of a line end begins nothing.
        assert_eq!(push(6, b"\n"), []);
        assert_eq!(push(7, b"0123456789"), []);
        assert_eq!(push(8, b"x"), [line(7, "overlong")]);
        assert_eq!(push(9, b"more"), []);
        assert_eq!(push(10, b"\nfour"), []);
        assert_eq!(push(11, b"\n"), [line(10, "four")]);
    }

    #[test]
    fn a_line_that_began_before_the_question_is_known_however_it_is_cut() {
        let mut ear = ear(100);
        assert_eq!(hear(&mut ear, 1, b"6.2E+06\n6."), [line(1, "6.2E+06")]);
        ear.question();
        assert_eq!(hear(&mut ear, 2, b"2E+"), []);
        // Asked again meanwhile: it began before that, too.
        ear.question();
        let lines = hear(&mut ear, 3, b"06\n9.0\n");
        assert_eq!(lines, [line(1, "!6.2E+06"), line(3, "9.0")]);
        // An end of its own leaves nothing begun.
        assert_eq!(hear(&mut ear, 4, b"9.0\r"), [line(4, "9.0")]);
        ear.question();
        assert_eq!(hear(&mut ear, 5, b"\n9.1\n"), [line(5, "9.1")]);
    }

    #[test]
    fn a_prompt_is_cut_off_wherever_it_begins_a_line() {
        let mut ear = ear(100);
        ear.pass(Passing {
            prompt: Some(b"OK> ".to_vec()),
            skip: vec![b"CR:Ack".to_vec()],
        });
        assert_eq!(hear(&mut ear, 1, b"OK> 6.2\nOK"), [line(1, "6.2")]);
        ear.question();
        assert_eq!(hear(&mut ear, 2, b"> "), []);
        let lines = hear(&mut ear, 3, b"CR:Ack\r\n9.0\nOK> OK> ");
        assert_eq!(lines, [line(3, "9.0")]);
        ear.question();
        assert_eq!(hear(&mut ear, 4, b"9"), []);
        ear.question();
        assert_eq!(hear(&mut ear, 5, b".1\n"), [line(4, "!9.1")]);
    }

    #[test]
    fn what_stands_twice_alone_is_a_prompt_unless_a_number_could_begin_so() {
        for (half, is_learnt) in [
            ("> ", true),
            ("OK>", true),
            ("ready $ ", true),
            ("\0", true),
            // None of these is: a number, a header, a word for one that is none may begin so.
            ("+", false),
            ("6.", false),
            ("-1>", false),
            ("E", false),
            ("n", false),
            ("MEAS:", false),
            ("\x01>", false),
        ] {
            let mut ear = ear(100);
            for _ in 0..2 {
                hear(&mut ear, 1, format!("1.0\n{half}").as_bytes());
                ear.question();
            }
            let lines = hear(&mut ear, 2, b"9.0\n");
            let want = if is_learnt {
                line(2, "9.0")
            } else {
                line(1, &format!("!{half}9.0"))
            };
            assert_eq!(lines, [want], "{half:?}");
        }
    }
}
