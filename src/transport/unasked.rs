//! The thread of a link whose instrument speaks by itself.

use std::time::Duration;

use super::byte_log::Entry;
use super::link::Closed;
use super::reopen::Port;
use super::request::{Answer, Cut, LinkEvent, Request};
use super::way::Way;
use crate::clock::Deadline;
use crate::frame::{Lines, Piece, Splitter};
use crate::reading::Stamp;

/// How long one read waits, and so how late a request or the end of the link is noticed.
const READ_WAIT: Duration = Duration::from_millis(100);

/// A port that nobody reads for this long lets the system's own buffer run over. The recording took nothing, or the program or
/// the whole machine was asleep.
const OVERRUN: Duration = Duration::from_secs(1);

/// A half line this long, most of whose bytes are no text, is noise that may never have an end: a wrong speed, say.
const NOISE_LENGTH: usize = 64;

/// When to say that nothing has come.
struct Watch {
    silence: Duration,
    due: Deadline,
}

/// Reads until the near end goes away.
pub(super) async fn serve(mut port: Port, mut way: Way, cut: Cut) -> Result<(), Closed> {
    let mut splitter = Splitter::new(cut.end, cut.limit);
    let mut buffer = [0; 4096];
    let mut watch: Option<Watch> = None;
    way.report(LinkEvent::Open(port.opened())).await?;
    let mut read_at = port.clock.now();
    loop {
        read_at = tell_overrun(&mut port, &mut way, read_at).await?;
        let outcome = match way.request_at_hand()? {
            Some(Request::Finish) => return way.finish().await,
            Some(Request::Watch { settle, silence }) => {
                let due = port.clock.deadline(settle + silence);
                watch = Some(Watch { silence, due });
                Ok(0)
            }
            Some(request) => tell(&mut port, &mut way, &request).await?,
            None => {
                let wait = watch.as_ref().map_or(READ_WAIT, |watch| watch.due.left());
                port.read(&mut buffer, wait.min(READ_WAIT)).await
            }
        };
        match outcome {
            Ok(0) => {}
            Ok(count) => {
                let stamp = port.clock.now();
                let bytes = buffer.get(..count).unwrap_or(&[]);
                port.keeper.received(stamp, bytes);
                let lines = cut_lines(&mut splitter, bytes);
                if !lines.is_empty() {
                    heard(&port, watch.as_mut());
                    way.report(LinkEvent::Lines(stamp, lines)).await?;
                }
            }
            Err(error) => {
                // The half line can never be completed: its end was lost with the port.
                splitter.take_rest();
                watch = None;
                port.recover(&mut way, port.clock.now(), &error).await?;
                read_at = port.clock.now();
            }
        }
        if let Some(watch) = watch.as_mut().filter(|watch| watch.due.is_over()) {
            watch.due = port.clock.deadline(watch.silence);
            let stamp = port.clock.now();
            port.keeper.note(stamp, &Entry::Unanswered);
            way.report(LinkEvent::Silent(stamp)).await?;
        }
    }
}

/// A line has come: the next may be as late again. While a board still settles, its first line is not yet awaited.
fn heard(port: &Port, watch: Option<&mut Watch>) {
    if let Some(watch) = watch {
        watch.due = watch.due.later(port.clock.deadline(watch.silence));
    }
}

/// The lines that one read completes, and a half line that is noise, reported before the line's limit is reached.
pub(super) fn cut_lines(splitter: &mut Splitter, bytes: &[u8]) -> Lines {
    let mut lines = Lines::default();
    splitter.cut(bytes, |piece| lines.push(piece));
    let half = splitter.rest();
    if half.len() >= NOISE_LENGTH {
        let is_text = |byte: &&u8| matches!(byte, b' '..=b'~' | b'\t');
        let texts = half.iter().filter(is_text).count();
        if texts * 2 < half.len() {
            lines.push(Piece::Line(&splitter.take_rest()));
        }
    }
    lines
}

/// Sends the bytes of a request; an instrument that speaks by itself is never asked.
async fn tell(
    port: &mut Port,
    way: &mut Way,
    request: &Request,
) -> Result<std::io::Result<usize>, Closed> {
    let bytes = match request {
        Request::Tell(bytes) | Request::Resync { bytes, .. } => bytes.clone(),
        Request::Ask { questions, .. } => questions.concat(),
        Request::AskBlock(ask) => ask.bytes.clone(),
        Request::Quiet { .. } | Request::Watch { .. } | Request::Pass(_) | Request::Finish => {
            Vec::new()
        }
    };
    let stamp = port.clock.now();
    let written = port.pipe().and_then(|pipe| pipe.write(&bytes));
    if written.is_ok() {
        port.keeper.sent(stamp, &bytes);
    }
    let answer = if written.is_ok() {
        Answer::Done
    } else {
        Answer::NoLine
    };
    way.report(LinkEvent::Answers(vec![(port.clock.now(), answer)]))
        .await?;
    Ok(written.map(|()| 0))
}

/// Says so when bytes may have been lost since the last turn, by the time passed. Returns when this turn began.
async fn tell_overrun(port: &mut Port, way: &mut Way, last: Stamp) -> Result<Stamp, Closed> {
    let now = port.clock.now();
    let shown = Duration::from_micros(u64::try_from(now.elapsed_us - last.elapsed_us).unwrap_or(0));
    let waited = port.clock.real_duration(shown);
    if waited > OVERRUN {
        port.keeper.note(now, &Entry::Behind(waited));
        way.report(LinkEvent::Overrun(now, waited)).await?;
        // The time that reporting it took is no new wait.
        return Ok(port.clock.now());
    }
    Ok(now)
}

#[cfg(test)]
mod tests {
    use std::io;

    use super::*;
    use crate::clock::Clock;
    use crate::frame::LineEnd;
    use crate::transport::{Link, Manner, OpenError, Pipe, link};

    /// A board that says a number each 10 ms, as long as somebody reads.
    struct Counting(u32);

    impl Pipe for Counting {
        fn read(&mut self, into: &mut [u8], _: Duration) -> io::Result<usize> {
            wait(Duration::from_millis(10));
            self.0 += 1;
            let line = format!("{}\n", self.0);
            into[..line.len()].copy_from_slice(line.as_bytes());
            Ok(line.len())
        }

        fn write(&mut self, _: &[u8]) -> io::Result<()> {
            Ok(())
        }

        fn waiting(&mut self) -> io::Result<usize> {
            Ok(0)
        }
    }

    fn wait(time: Duration) {
        let deadline = Deadline::after(time);
        while !deadline.is_over() {
            deadline.pause(time);
        }
    }

    fn board() -> Link {
        let opener = Box::new(|| {
            Err(OpenError::Busy {
                path: "it".to_owned(),
            })
        });
        let cut = Cut {
            end: LineEnd::Any,
            limit: 100,
        };
        let clock = Clock::real();
        link(Manner::Unasked, Box::new(Counting(0)), opener, cut, clock).unwrap()
    }

    /// Takes events until this number of lines came. Returns the times of the overruns among them.
    fn take(link: &mut Link, lines: usize) -> Vec<Duration> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .unwrap();
        let (mut taken, mut overruns) = (0, Vec::new());
        while taken < lines {
            match runtime.block_on(link.next()) {
                Some(LinkEvent::Lines(..)) => taken += 1,
                Some(LinkEvent::Open(_)) => {}
                Some(LinkEvent::Overrun(_, waited)) => overruns.push(waited),
                other => panic!("{other:?}"),
            }
        }
        overruns
    }

    #[test]
    fn a_recording_that_is_more_than_a_second_behind_is_told_so_once() {
        let mut link = board();
        assert_eq!(take(&mut link, 20), []);
        // The 64 events that may wait take 0.64 s to come; then nothing is read for 2 s.
        wait(Duration::from_millis(2650));
        let overruns = take(&mut link, 150);
        assert_eq!(overruns.len(), 1, "{overruns:?}");
        assert!(overruns[0] > OVERRUN && overruns[0] < OVERRUN * 5);
    }

    #[test]
    fn a_recording_that_is_half_a_second_behind_is_not() {
        let mut link = board();
        wait(Duration::from_millis(1100));
        assert_eq!(take(&mut link, 100), []);
    }
}
