//! The thread of a link whose instrument speaks by itself.

use std::time::Duration;

use super::reopen::Port;
use super::way::Way;
use super::{Answer, Closed, Cut, LinkEvent, Request};
use crate::frame::Splitter;

/// How long one read waits, and so how late a request or the end of the link is noticed.
const READ_WAIT: Duration = Duration::from_millis(100);

/// A receiver that takes nothing for this long lets the system's own buffer run over.
const OVERRUN: Duration = Duration::from_secs(1);

/// Reads until the near end goes away.
pub(super) async fn serve(mut port: Port, mut way: Way, cut: Cut) -> Result<(), Closed> {
    let mut splitter = Splitter::new(cut.end, cut.limit);
    let mut buffer = [0; 4096];
    loop {
        let outcome = match way.request_at_hand()? {
            Some(request) => tell(&mut port, &mut way, &request).await?,
            None => port.read(&mut buffer, READ_WAIT).await,
        };
        match outcome {
            Ok(0) => {}
            Ok(count) => {
                let stamp = port.clock.now();
                let mut frames = Vec::new();
                splitter.push(buffer.get(..count).unwrap_or(&[]), &mut frames);
                if !frames.is_empty() {
                    report_in_time(&mut port, &mut way, LinkEvent::Lines(stamp, frames)).await?;
                }
            }
            Err(error) => {
                // The half line can never be completed: its end was lost with the port.
                splitter.take_rest();
                port.recover(&mut way, &error).await?;
            }
        }
    }
}

/// Sends the bytes of a request; an instrument that speaks by itself is never asked.
async fn tell(
    port: &mut Port,
    way: &mut Way,
    request: &Request,
) -> Result<std::io::Result<usize>, Closed> {
    let written = match request {
        Request::Tell(bytes) | Request::Resync { bytes, .. } => {
            port.pipe().and_then(|pipe| pipe.write(bytes))
        }
        Request::Ask { questions, .. } => {
            port.pipe().and_then(|pipe| pipe.write(&questions.concat()))
        }
        Request::Quiet { .. } => Ok(()),
    };
    let answer = if written.is_ok() {
        Answer::Done
    } else {
        Answer::NoLine
    };
    way.report(LinkEvent::Answers(vec![(port.clock.now(), answer)]))
        .await?;
    Ok(written.map(|()| 0))
}

/// Reports lines, and says so when nobody took them for so long that bytes may have been lost.
async fn report_in_time(port: &mut Port, way: &mut Way, event: LinkEvent) -> Result<(), Closed> {
    let before_us = port.clock.now().elapsed_us;
    way.report(event).await?;
    let stamp = port.clock.now();
    let waited = Duration::from_micros(u64::try_from(stamp.elapsed_us - before_us).unwrap_or(0));
    let waited = port.clock.real_duration(waited);
    if waited > OVERRUN {
        way.report(LinkEvent::Overrun(stamp, waited)).await?;
    }
    Ok(())
}
