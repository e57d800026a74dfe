//! The thread of a link whose instrument answers when asked.

use std::io;
use std::time::Duration;

use super::block::hear_block;
use super::byte_log::Entry;
use super::ear::{Ear, Wanted};
use super::link::Closed;
use super::reopen::Port;
use super::request::{Answer, BlockAsk, Cut, LinkEvent, Request};
use super::way::Way;
use crate::clock::Deadline;
use crate::reading::Stamp;

/// How often an idle port is looked at, so that an unplugged cable shows.
const IDLE_PROBE: Duration = Duration::from_millis(500);

/// A line that stays noisy is given up as "not quiet" after this many times the quiet asked for.
const NOISE_PATIENCE: u32 = 10;

/// Serves requests until the near end goes away.
pub(super) async fn serve(mut port: Port, mut way: Way, cut: Cut) -> Result<(), Closed> {
    let mut ear = Ear::new(cut);
    port.opened();
    loop {
        let (stamp, error) = match way.request(IDLE_PROBE).await? {
            Some(Request::Finish) => return way.finish().await,
            Some(Request::Pass(passing)) => {
                ear.pass(passing);
                continue;
            }
            Some(request) => {
                let mut exchange = Exchange {
                    port: &mut port,
                    way: &mut way,
                    ear: &mut ear,
                };
                let mut answers = Vec::new();
                let outcome = exchange.run(&request, &mut answers).await;
                match outcome {
                    Err(Fault::Closed) => return Err(Closed),
                    Ok(()) => {
                        way.report(LinkEvent::Answers(answers)).await?;
                        continue;
                    }
                    Err(Fault::Line(error)) => {
                        // One moment for the answer and the loss: the byte log has only the loss.
                        let stamp = port.clock.now();
                        answers.push((stamp, Answer::NoLine));
                        way.report(LinkEvent::Answers(answers)).await?;
                        (stamp, error)
                    }
                }
            }
            None => match port.pipe().and_then(|pipe| pipe.waiting()) {
                Ok(_) => continue,
                Err(error) => (port.clock.now(), error),
            },
        };
        ear.forget();
        port.recover(&mut way, stamp, &error).await?;
    }
}

/// Why an exchange did not come to its end.
enum Fault {
    Closed,
    Line(io::Error),
}

impl From<io::Error> for Fault {
    fn from(error: io::Error) -> Self {
        Self::Line(error)
    }
}

impl From<Closed> for Fault {
    fn from(_: Closed) -> Self {
        Self::Closed
    }
}

struct Exchange<'a> {
    port: &'a mut Port,
    way: &'a mut Way,
    ear: &'a mut Ear,
}

impl Exchange<'_> {
    /// Does the request; answers that came before a fault stand in `answers` all the same.
    async fn run(
        &mut self,
        request: &Request,
        answers: &mut Vec<(Stamp, Answer)>,
    ) -> Result<(), Fault> {
        let outcome = match request {
            Request::Tell(bytes) => (self.write(bytes)?, Answer::Done),
            Request::Ask {
                questions,
                pause,
                timeout,
            } => {
                return self.ask_round(questions, *pause, *timeout, answers).await;
            }
            Request::AskBlock(ask) => return self.ask_block(ask, answers).await,
            Request::Resync {
                bytes,
                answer,
                timeout,
            } => {
                self.write(bytes)?;
                let deadline = self.port.clock.deadline(*timeout);
                self.read_line(deadline, Wanted::Exactly(answer)).await?
            }
            Request::Quiet { quiet } => self.wait_for_quiet(*quiet).await?,
            Request::Watch { .. } | Request::Pass(_) | Request::Finish => {
                (self.port.clock.now(), Answer::Done)
            }
        };
        answers.push(outcome);
        Ok(())
    }

    /// Sends bytes, and returns when.
    fn write(&mut self, bytes: &[u8]) -> Result<Stamp, Fault> {
        let stamp = self.port.clock.now();
        self.port.pipe()?.write(bytes)?;
        self.port.keeper.sent(stamp, bytes);
        Ok(stamp)
    }

    async fn ask_round(
        &mut self,
        questions: &[Vec<u8>],
        pause: Duration,
        timeout: Duration,
        answers: &mut Vec<(Stamp, Answer)>,
    ) -> Result<(), Fault> {
        for bytes in questions {
            if !pause.is_zero() {
                self.way.rest(pause).await;
            }
            let stamp = self.drain().await?;
            self.port.pipe()?.write(bytes)?;
            self.port.keeper.sent(stamp, bytes);
            let deadline = self.port.clock.deadline(timeout);
            // An instrument whose echo is on says the question before the answer.
            let echo = bytes.trim_ascii_end();
            let (came, answer) = self.read_line(deadline, Wanted::AllBut(echo)).await?;
            let is_line = matches!(answer, Answer::Line(_));
            answers.push((came, answer));
            if !is_line {
                break;
            }
        }
        Ok(())
    }

    async fn ask_block(
        &mut self,
        ask: &BlockAsk,
        answers: &mut Vec<(Stamp, Answer)>,
    ) -> Result<(), Fault> {
        if !ask.pause.is_zero() {
            self.way.rest(ask.pause).await;
        }
        let stamp = self.drain().await?;
        self.port.pipe()?.write(&ask.bytes)?;
        self.port.keeper.sent(stamp, &ask.bytes);
        let (clock, keeper) = (self.port.clock.clone(), self.port.keeper.clone());
        let pipe = self.port.pipe()?.as_mut();
        let received = hear_block(pipe, ask, self.ear, &clock, &keeper).await?;
        for event in received.aside(self.ear) {
            self.way.report(event).await?;
        }
        answers.push((received.stamp, received.answer));
        Ok(())
    }

    /// Takes the bytes that came before the question, which can be no answer to it. The moment is the question's, too.
    async fn drain(&mut self) -> Result<Stamp, Fault> {
        let mut fresh = Vec::new();
        let outcome = self.read_waiting(&mut fresh).await;
        let stamp = self.port.clock.now();
        if fresh.is_empty() && outcome.is_err() {
            return outcome.map(|()| stamp);
        }
        self.port.keeper.received(stamp, &fresh);
        for heard in self.ear.hear(stamp, &fresh) {
            self.way.report(heard.into_event(stamp)).await?;
        }
        self.ear.question();
        outcome.map(|()| stamp)
    }

    async fn read_waiting(&mut self, fresh: &mut Vec<u8>) -> Result<(), Fault> {
        let mut buffer = [0; 512];
        loop {
            if self.port.pipe()?.waiting()? == 0 {
                return Ok(());
            }
            let count = self
                .port
                .read(&mut buffer, Duration::from_millis(1))
                .await?;
            fresh.extend_from_slice(buffer.get(..count).unwrap_or(&[]));
            if count == 0 || fresh.len() > 65_536 {
                return Ok(());
            }
        }
    }

    /// Reads once, keeps the bytes that came, and returns when, with their number.
    async fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<(Stamp, usize), Fault> {
        let count = self.port.read(buffer, wait).await?;
        let stamp = self.port.clock.now();
        let bytes = buffer.get(..count).unwrap_or(&[]);
        self.port.keeper.received(stamp, bytes);
        Ok((stamp, count))
    }

    /// Notes that nothing whole came in time, and returns when.
    fn unanswered(&self) -> Stamp {
        let stamp = self.port.clock.now();
        self.port.keeper.note(stamp, &Entry::Unanswered);
        stamp
    }

    /// Reads until the expected line comes, and says when it began; lines before it, and bytes behind it, are stray.
    async fn read_line(
        &mut self,
        deadline: Deadline,
        wanted: Wanted<'_>,
    ) -> Result<(Stamp, Answer), Fault> {
        let mut buffer = [0; 512];
        while !deadline.is_over() {
            let (stamp, count) = self.read(&mut buffer, deadline.left()).await?;
            let bytes = buffer.get(..count).unwrap_or(&[]);
            let mut answer = None;
            for heard in self.ear.hear(stamp, bytes) {
                if answer.is_none() && wanted.is_it(&heard, self.ear) {
                    answer = Some((heard.began, heard.into_answer()));
                } else {
                    self.way.report(heard.into_event(stamp)).await?;
                }
            }
            if let Some(answer) = answer {
                return Ok(answer);
            }
        }
        // The half line stays where it is: its end, coming late, is not to pass for a line of its own.
        let half = self.ear.rest().to_vec();
        Ok((self.unanswered(), Answer::Silence(half)))
    }

    async fn wait_for_quiet(&mut self, quiet: Duration) -> Result<(Stamp, Answer), Fault> {
        let patience = self.port.clock.deadline(quiet * NOISE_PATIENCE);
        let mut buffer = [0; 512];
        while !patience.is_over() {
            let (stamp, count) = self.read(&mut buffer, quiet).await?;
            let noise = self.ear.noise(buffer.get(..count).unwrap_or(&[]));
            if !noise.is_empty() {
                self.way.report(LinkEvent::Stray(stamp, noise)).await?;
            }
            if count == 0 {
                self.port.keeper.note(stamp, &Entry::Quiet);
                return Ok((stamp, Answer::Done));
            }
        }
        Ok((self.unanswered(), Answer::Silence(Vec::new())))
    }
}
