//! Who answers: the instrument that was there before, or another in its place.

use std::sync::Arc;
use std::time::Duration;

use super::Poller;
use crate::acquire::outlet::Gone;
use crate::acquire::step::{Line, Step};
use crate::reading::{Event, Stamp};
use crate::transport::{Answer, Request};

/// Who an instrument is, is asked so often when it seems to be another.
const NAMES: usize = 3;

impl Poller {
    /// Asks the instrument who it is. Returns whether it could.
    pub(super) async fn introduce(&mut self) -> Result<bool, Gone> {
        let Some(question) = self.source.profile.identity.clone() else {
            return Ok(true);
        };
        let mut before: Option<String> = None;
        for _ in 0..NAMES {
            let (stamp, line) = match self.ask(&question).await? {
                (stamp, Answer::Line(line)) => (stamp, line),
                (_, Answer::Silence(_)) => {
                    self.step = Step::Missed;
                    // Who gave a name before gives it again; another in its place may have none.
                    self.is_met = self.identity.is_none();
                    return Ok(self.is_met);
                }
                _ => return Ok(true),
            };
            if self.is_owed_sync(&line) {
                self.is_met = false;
                self.put_aside(stamp, Answer::Line(line)).await?;
                return Ok(true);
            }
            let text = String::from_utf8_lossy(&line).trim().to_owned();
            // One flipped bit makes another name, but not the same one twice.
            if self.identity.as_ref() == Some(&text) || before.as_ref() == Some(&text) {
                self.meet(stamp, text).await?;
                return Ok(true);
            }
            if before.is_some() || self.identity.is_some() {
                self.outlet
                    .reject(stamp, "it is not the name that it gave before", line)
                    .await?;
            }
            before = Some(text);
        }
        // A name that changes with each answer identifies nobody: as good as none, unless there was one.
        self.is_met = self.identity.is_none();
        if !self.is_met {
            self.step = Step::Garbled;
        }
        Ok(self.is_met)
    }

    /// Takes an identity. Another instrument's readings would spoil the session, so the right one is waited for.
    async fn meet(&mut self, stamp: Stamp, text: String) -> Result<(), Gone> {
        match &self.identity {
            Some(known) if *known != text => {
                let reason = format!("{text} answers there instead of {known}");
                // Only a line that is lost and comes back can have the right one on it.
                self.line = Line::Lost;
                if self.source.link.is_replay {
                    // A log plays on to where that one was unplugged.
                    self.source.link.send(Request::Watch {
                        settle: Duration::ZERO,
                        silence: Duration::ZERO,
                    });
                }
                self.outlet.lost(stamp, reason).await
            }
            _ => {
                self.identity = Some(text.clone());
                let source = Arc::clone(&self.source.label);
                self.outlet.send(Event::Identity { source, text }).await
            }
        }
    }
}
