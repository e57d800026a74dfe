//! Questions and answers kept in step: a late answer is never taken for the next one.

use std::time::Duration;

use super::Poller;
use crate::acquire::outlet::Gone;
use crate::acquire::step::{Line, Step};
use crate::instrument::Resync;
use crate::transport::{Answer, Request};

/// An instrument that refused a question answers the next so soon, and its silence is reported no later (chosen).
const AT_ONCE: Duration = Duration::from_millis(500);

impl Poller {
    /// Whether questions and answers are in step; brings them into step if need be, unless the recording is to end.
    pub(in crate::acquire) async fn is_in_step(&mut self) -> Result<bool, Gone> {
        if self.step == Step::In {
            return Ok(true);
        }
        let is_over = |poller: &Self| *poller.stop.borrow() || poller.line == Line::Ended;
        if is_over(self) {
            self.is_untried = true;
            return Ok(false);
        }
        if self.come_into_step().await? {
            self.step = Step::In;
            return Ok(true);
        }
        // A log that ends here is of a recording that was stopped before it tried.
        self.is_untried = self.line == Line::Ended;
        Ok(false)
    }

    async fn come_into_step(&mut self) -> Result<bool, Gone> {
        let timeout = self.source.profile.timing.timeout;
        if self.owes_quiet {
            if !self.is_quiet(timeout).await? {
                return Ok(false);
            }
            self.owes_quiet = false;
        }
        let Some(resync) = &self.source.profile.resync else {
            // Where a wrong line came, the time-out of the answer that may still come has only begun.
            let begun = u32::from(self.step == Step::Garbled);
            return self.is_quiet(timeout * (1 + begun)).await;
        };
        let resync = resync.clone();
        if !self.synchronise(&resync, timeout).await? {
            return Ok(false);
        }
        // With several such questions sent, the answer may be an earlier one's, and the rest are still to come. Mostly they come
        // at once; if later, they are distinguished from the answers to other questions.
        Ok(self.owed_syncs == 0 || self.is_quiet(timeout).await?)
    }

    /// Asks the synchronising question; whether its answer came in time.
    async fn synchronise(&mut self, resync: &Resync, timeout: Duration) -> Result<bool, Gone> {
        let request = Request::Resync {
            bytes: self.source.profile.to_bytes(&resync.ask),
            answer: resync.answer.clone().into_bytes(),
            timeout,
        };
        let answer = self.settle(request).await?;
        let is_in_time = matches!(answer, Answer::Line(_));
        self.owed_syncs += usize::from(!is_in_time);
        Ok(is_in_time)
    }

    /// Whether an instrument that did not answer is in step at once, as one that refused its question is.
    pub(in crate::acquire) async fn is_in_step_at_once(&mut self) -> Result<bool, Gone> {
        let Some(resync) = self.source.profile.resync.clone() else {
            // Only quiet shows that the answer to the next question is its own.
            return self.is_in_step().await;
        };
        let is_over = *self.stop.borrow() || self.line != Line::Up;
        if is_over || self.owed_syncs > 0 || self.owes_quiet {
            return Ok(false);
        }
        let wait = AT_ONCE.min(self.source.profile.timing.timeout);
        let is_in_step = self.synchronise(&resync, wait).await?;
        if is_in_step {
            self.step = Step::In;
        }
        Ok(is_in_step)
    }

    /// Whether a line that came to another question is the late answer to a synchronising one; questions and answers are
    /// out of step then.
    pub(in crate::acquire) fn is_owed_sync(&mut self, line: &[u8]) -> bool {
        let resync = self.source.profile.resync.as_ref();
        let is_its =
            self.owed_syncs > 0 && resync.is_some_and(|resync| line == resync.answer.as_bytes());
        if is_its {
            self.owed_syncs -= 1;
            self.step = Step::Garbled;
        }
        is_its
    }

    /// Hands the link a request that has one outcome.
    pub(in crate::acquire) async fn settle(&mut self, request: Request) -> Result<Answer, Gone> {
        let outcome = self.request(request).await?.pop();
        Ok(outcome.map_or(Answer::NoLine, |(_, answer)| answer))
    }

    /// Waits until nothing has come for this time; returns whether it became quiet.
    pub(in crate::acquire) async fn is_quiet(&mut self, quiet: Duration) -> Result<bool, Gone> {
        let answer = self.settle(Request::Quiet { quiet }).await?;
        Ok(answer == Answer::Done)
    }
}
