//! The thread of a link whose instrument speaks by itself.

use std::sync::mpsc::TryRecvError;
use std::time::Duration;

use super::reopen::Port;
use super::{Answer, Closed, Cut, FarEnd, LinkEvent, Request};
use crate::frame::Splitter;

/// How long one read waits, and so how late a request or the end of the link is noticed.
const READ_WAIT: Duration = Duration::from_millis(100);

/// A receiver that takes nothing for this long lets the system's own buffer run over.
const OVERRUN: Duration = Duration::from_secs(1);

/// Reads until the near end goes away.
pub(super) fn serve(mut port: Port, far: &FarEnd, cut: Cut) -> Result<(), Closed> {
    let mut splitter = Splitter::new(cut.end, cut.limit);
    let mut buffer = [0; 4096];
    loop {
        let outcome = match far.requests.try_recv() {
            Ok(request) => tell(&mut port, far, &request)?,
            Err(TryRecvError::Disconnected) => return Err(Closed),
            Err(TryRecvError::Empty) => port
                .pipe()
                .and_then(|pipe| pipe.read(&mut buffer, READ_WAIT)),
        };
        match outcome {
            Ok(0) => {}
            Ok(count) => {
                let stamp = port.clock.now();
                let mut frames = Vec::new();
                splitter.push(buffer.get(..count).unwrap_or(&[]), &mut frames);
                if !frames.is_empty() {
                    report_in_time(&port, far, LinkEvent::Lines(stamp, frames))?;
                }
            }
            Err(error) => {
                // The half line can never be completed: its end was lost with the port.
                splitter.take_rest();
                port.recover(far, &error)?;
            }
        }
    }
}

/// Sends the bytes of a request; an instrument that speaks by itself is never asked.
fn tell(
    port: &mut Port,
    far: &FarEnd,
    request: &Request,
) -> Result<std::io::Result<usize>, Closed> {
    let written = match request {
        Request::Tell(bytes) | Request::Resync { bytes, .. } => {
            port.pipe().and_then(|pipe| pipe.write(bytes))
        }
        Request::Ask { questions, .. } => {
            port.pipe().and_then(|pipe| pipe.write(&questions.concat()))
        }
        Request::AskBlock(ask) => port.pipe().and_then(|pipe| pipe.write(&ask.bytes)),
        Request::Quiet { .. } => Ok(()),
    };
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
        far.report(LinkEvent::Overrun(stamp, waited))?;
    }
    Ok(())
}
