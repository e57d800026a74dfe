//! The thread of a link whose instrument speaks by itself.

use std::sync::mpsc::TryRecvError;
use std::time::Duration;

use super::byte_log::Entry;
use super::reopen::Port;
use super::{Answer, Closed, Cut, FarEnd, LinkEvent, Request};
use crate::clock::Deadline;
use crate::frame::{Frame, Splitter};

/// How long one read waits, and so how late a request or the end of the link is noticed.
const READ_WAIT: Duration = Duration::from_millis(100);

/// A receiver that takes nothing for this long lets the system's own buffer run over.
const OVERRUN: Duration = Duration::from_secs(1);

/// A half line this long, most of whose bytes are no text, is noise that may never have an end: a wrong speed, say.
const NOISE_LENGTH: usize = 64;

/// When to say that nothing has come.
struct Watch {
    silence: Duration,
    due: Deadline,
}

/// Reads until the near end goes away.
pub(super) fn serve(mut port: Port, far: &FarEnd, cut: Cut) -> Result<(), Closed> {
    let mut splitter = Splitter::new(cut.end, cut.limit);
    let mut buffer = [0; 4096];
    let mut watch: Option<Watch> = None;
    far.report(LinkEvent::Open(port.opened()))?;
    loop {
        let outcome = match far.requests.try_recv() {
            Ok(Request::Finish) => return far.finish(),
            Ok(Request::Watch { settle, silence }) => {
                let due = Deadline::after(settle + silence);
                watch = Some(Watch { silence, due });
                Ok(0)
            }
            Ok(request) => tell(&mut port, far, &request)?,
            Err(TryRecvError::Disconnected) => return Err(Closed),
            Err(TryRecvError::Empty) => {
                let wait = watch.as_ref().map_or(READ_WAIT, |watch| watch.due.left());
                port.pipe()
                    .and_then(|pipe| pipe.read(&mut buffer, wait.min(READ_WAIT)))
            }
        };
        match outcome {
            Ok(0) => {}
            Ok(count) => {
                let stamp = port.clock.now();
                let bytes = buffer.get(..count).unwrap_or(&[]);
                port.keeper.received(stamp, bytes);
                let mut frames = Vec::new();
                splitter.push(bytes, &mut frames);
                frames.extend(cut_off_noise(&mut splitter));
                if !frames.is_empty() {
                    heard(watch.as_mut());
                    report_in_time(&port, far, LinkEvent::Lines(stamp, frames))?;
                }
            }
            Err(error) => {
                // The half line can never be completed: its end was lost with the port.
                splitter.take_rest();
                watch = None;
                port.recover(far, &error)?;
            }
        }
        if let Some(watch) = watch.as_mut().filter(|watch| watch.due.is_over()) {
            watch.due = Deadline::after(watch.silence);
            let stamp = port.clock.now();
            port.keeper.note(stamp, &Entry::Unanswered);
            far.report(LinkEvent::Silent(stamp))?;
        }
    }
}

/// A line has come: the next may be as late again. While a board still settles, its first line is not yet awaited.
fn heard(watch: Option<&mut Watch>) {
    if let Some(watch) = watch {
        watch.due = watch.due.later(Deadline::after(watch.silence));
    }
}

/// Takes a half line that is noise, so that it is told before the line's limit is reached.
pub(super) fn cut_off_noise(splitter: &mut Splitter) -> Option<Frame> {
    let half = splitter.rest();
    if half.len() < NOISE_LENGTH {
        return None;
    }
    let is_text = |byte: &&u8| matches!(byte, b' '..=b'~' | b'\t');
    let texts = half.iter().filter(is_text).count();
    (texts * 2 < half.len()).then(|| Frame::Line(splitter.take_rest()))
}

/// Sends the bytes of a request; an instrument that speaks by itself is never asked.
fn tell(
    port: &mut Port,
    far: &FarEnd,
    request: &Request,
) -> Result<std::io::Result<usize>, Closed> {
    let bytes = match request {
        Request::Tell(bytes) | Request::Resync { bytes, .. } => bytes.clone(),
        Request::Ask { questions, .. } => questions.concat(),
        Request::Quiet { .. } | Request::Watch { .. } | Request::Finish => Vec::new(),
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
    far.report(LinkEvent::Answers(vec![(port.clock.now(), answer)]))?;
    Ok(written.map(|()| 0))
}

/// Reports lines, and says so when nobody took them for so long that bytes may have been lost.
fn report_in_time(port: &Port, far: &FarEnd, event: LinkEvent) -> Result<(), Closed> {
    let before_us = port.clock.now().elapsed_us;
    far.report(event)?;
    let stamp = port.clock.now();
    let waited = Duration::from_micros(u64::try_from(stamp.elapsed_us - before_us).unwrap_or(0));
    let waited = port.clock.real_duration(waited);
    if waited > OVERRUN {
        port.keeper.note(stamp, &Entry::Behind(waited));
        far.report(LinkEvent::Overrun(stamp, waited))?;
    }
    Ok(())
}
