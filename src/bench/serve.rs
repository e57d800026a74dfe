//! The thread behind a virtual instrument: it waits on the line and for the time, and carries bytes both ways.

use std::collections::VecDeque;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::clock::Clock;

use super::Instrument;
use super::account::{Counts, PtyError, Sent};
use super::faults::Script;
use super::port::{self, Port, Wake};
use super::world::World;

/// How long the thread waits for bytes before it looks whether it is to end.
const LONGEST_WAIT: Duration = Duration::from_millis(20);

/// How long a long answer waits for room on the line, and then for the next.
const READER_PAUSE: Duration = Duration::from_millis(1);

/// How long an answer waits for somebody to read it at all.
const READER_PATIENCE: Duration = Duration::from_secs(2);

/// The number of messages that the log of sent ones keeps, the newest (chosen: a day of one per second).
const LOG_LENGTH: usize = 86_400;

/// The state that the thread and the device's owner both see.
#[derive(Debug, Default)]
pub(super) struct Shared {
    /// Set when the thread is to end.
    pub(super) ending: AtomicBool,
    /// Set while somebody holds the plug in the hand.
    pub(super) is_pulled: AtomicBool,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
pub(super) struct State {
    pub(super) path: PathBuf,
    pub(super) is_plugged: bool,
    pub(super) link: Option<PathBuf>,
    pub(super) sent: VecDeque<Sent>,
    pub(super) counts: Counts,
    pub(super) trouble: Option<PtyError>,
}

impl Shared {
    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    /// Takes the link away, if there is one and it is ours; the next line may bring it back.
    pub(super) fn unlink(&self) {
        if let Some(link) = &self.link
            && fs::read_link(link).is_ok_and(|target| target == self.path)
        {
            // Someone may remove it at this very moment.
            fs::remove_file(link).ok();
        }
    }

    fn note(&mut self, message: Sent) {
        self.counts.sent += 1;
        if self.sent.len() == LOG_LENGTH {
            self.sent.pop_front();
        }
        self.sent.push_back(message);
    }
}

/// An answer on its way out.
#[derive(Debug)]
struct Waiting {
    /// When it leaves, on the device's clock.
    leave_s: f64,
    message: Sent,
}

/// The thread's side.
#[derive(Debug)]
pub(super) struct Server {
    instrument: Box<dyn Instrument>,
    world: Arc<World>,
    clock: Clock,
    script: Script,
    shared: Arc<Shared>,
    port: Option<Port>,
    is_open: bool,
    /// When a program first opened the line, on the device's clock.
    first_opened_s: Option<f64>,
    waiting: VecDeque<Waiting>,
    /// Since when the line has taken nothing of the first one.
    stuck_since_s: Option<f64>,
}

impl Server {
    /// Creates a device with its line already there.
    pub(super) fn new(
        instrument: Box<dyn Instrument>,
        world: Arc<World>,
        clock: Clock,
        script: Script,
        shared: Arc<Shared>,
    ) -> Result<Self, PtyError> {
        let mut server = Self {
            instrument,
            world,
            clock,
            script,
            shared,
            port: None,
            is_open: false,
            first_opened_s: None,
            waiting: VecDeque::new(),
            stuck_since_s: None,
        };
        server.plug()?;
        Ok(server)
    }

    /// Serves until the end is asked for.
    pub(super) fn serve(mut self) {
        while !self.shared.ending.load(Ordering::Acquire) {
            if let Err(trouble) = self.turn() {
                self.unplug();
                self.shared.state().trouble = Some(trouble);
                if port::pause(LONGEST_WAIT).is_err() {
                    return;
                }
            }
        }
    }

    /// Waits once and handles the outcome.
    fn turn(&mut self) -> Result<(), PtyError> {
        let is_pulled = self.shared.is_pulled.load(Ordering::Acquire);
        if is_pulled || self.script.is_gone(self.script_s(self.clock.elapsed_s())) {
            self.unplug();
            self.say_unasked(self.clock.elapsed_s());
            return port::pause(LONGEST_WAIT).map_err(PtyError::Wait);
        }
        self.plug()?;
        let longest = self.longest_wait();
        let Some(port) = &self.port else {
            return Ok(());
        };
        match port.wait(longest).map_err(PtyError::Wait)? {
            Wake::Nobody => {
                if self.is_open {
                    port.forget_unread().map_err(PtyError::Wait)?;
                }
                self.is_open = false;
                self.waiting.clear();
                self.say_unasked(self.clock.elapsed_s());
                return port::pause(LONGEST_WAIT).map_err(PtyError::Wait);
            }
            Wake::Quiet => self.greet(),
            Wake::Bytes => {
                self.greet();
                self.hear();
            }
        }
        let now_s = self.clock.elapsed_s();
        self.say_unasked(now_s);
        self.send_waiting(now_s);
        Ok(())
    }

    /// Returns a moment of the device's clock in the time of its script.
    fn script_s(&self, elapsed_s: f64) -> f64 {
        self.first_opened_s
            .map_or(f64::NEG_INFINITY, |first_s| elapsed_s - first_s)
    }

    /// Returns how long nothing but bytes can happen, in real time.
    fn longest_wait(&self) -> Duration {
        if !self.is_open {
            return Duration::ZERO;
        }
        let now_s = self.clock.elapsed_s();
        let leaves_s = self.waiting.front().map(|waiting| waiting.leave_s);
        [self.instrument.due_s(), leaves_s]
            .into_iter()
            .flatten()
            .map(|at_s| {
                Duration::try_from_secs_f64((at_s - now_s).max(0.0)).unwrap_or(Duration::MAX)
            })
            .map(|shown| {
                self.clock
                    .real_duration(shown.min(Duration::from_hours(24)))
            })
            .fold(LONGEST_WAIT, Duration::min)
    }

    /// Opens a line if there is none.
    fn plug(&mut self) -> Result<(), PtyError> {
        if self.port.is_some() {
            return Ok(());
        }
        let port = Port::open()?;
        let mut state = self.shared.state();
        port.path().clone_into(&mut state.path);
        state.is_plugged = true;
        self.port = Some(port);
        self.is_open = false;
        if let Some(path) = state.link.clone()
            && let Err(source) = port::link(&state.path, &path)
        {
            // The line itself is good.
            state.trouble = Some(PtyError::Link { path, source });
        }
        Ok(())
    }

    /// Closes the line; bytes on their way are gone.
    fn unplug(&mut self) {
        if self.port.take().is_some() {
            let mut state = self.shared.state();
            state.is_plugged = false;
            state.unlink();
        }
        self.waiting.clear();
    }

    /// Notices that a program has opened the line. One that closes it and opens it again within a few microseconds is
    /// taken for the same: the system shows only whether the line is open.
    fn greet(&mut self) {
        if self.is_open {
            return;
        }
        let now_s = self.clock.elapsed_s();
        // Messages due until now were said to nobody.
        self.say_unasked(now_s);
        self.is_open = true;
        self.first_opened_s.get_or_insert(now_s);
        self.shared.state().counts.openings += 1;
        let banner = self.script.banner(self.script_s(now_s));
        for bytes in std::iter::once(banner).chain(self.instrument.opened()) {
            self.queue(
                Sent {
                    elapsed_s: now_s,
                    bytes,
                },
                Duration::ZERO,
            );
        }
    }

    fn hear(&mut self) {
        let mut buffer = [0; 4096];
        let count = match &self.port {
            // An error here is a program that has just closed the line; the next wait says so.
            Some(port) => port.read(&mut buffer).unwrap_or(0),
            None => 0,
        };
        let heard = &buffer[..count];
        self.shared.state().counts.heard_bytes += count as u64;
        let now_s = self.clock.elapsed_s();
        if self.script.echoes(self.script_s(now_s)) {
            self.queue(
                Sent {
                    elapsed_s: now_s,
                    bytes: heard.to_vec(),
                },
                Duration::ZERO,
            );
        }
        for answer in self.instrument.hear(heard, &self.world, now_s) {
            self.deliver(now_s, answer);
        }
    }

    /// Says the messages that are due; with nobody there they are said to nobody.
    fn say_unasked(&mut self, now_s: f64) {
        while let Some(due_s) = self.instrument.due_s().filter(|due_s| *due_s <= now_s) {
            let line = self.instrument.speak(&self.world);
            if self.is_open {
                self.deliver(due_s, line);
            }
        }
    }

    /// Sends an answer on its way through the script.
    fn deliver(&mut self, elapsed_s: f64, answer: Vec<u8>) {
        let delivery = self.script.spoil(self.script_s(elapsed_s), answer);
        self.queue(
            Sent {
                elapsed_s,
                bytes: delivery.bytes,
            },
            delivery.wait,
        );
    }

    fn queue(&mut self, message: Sent, wait: Duration) {
        let leave_s = self.clock.elapsed_s() + wait.as_secs_f64() * self.clock.scale();
        // No answer overtakes the one before.
        let before_s = self
            .waiting
            .back()
            .map_or(f64::NEG_INFINITY, |last| last.leave_s);
        self.waiting.push_back(Waiting {
            leave_s: leave_s.max(before_s),
            message,
        });
    }

    fn send_waiting(&mut self, now_s: f64) {
        let Some(port) = &self.port else {
            return;
        };
        while self
            .waiting
            .front()
            .is_some_and(|first| first.leave_s <= now_s)
        {
            let Some(Waiting { mut message, .. }) = self.waiting.pop_front() else {
                return;
            };
            // Locked before it is sent, so that who has read an answer finds it in the log.
            let mut state = self.shared.state();
            let taken = port.write(&message.bytes);
            let rest = message.bytes.split_off(taken);
            let elapsed_s = message.elapsed_s;
            if taken > 0 {
                state.note(message);
                self.stuck_since_s = None;
            }
            if rest.is_empty() {
                continue;
            }
            // An answer longer than the line holds waits for its reader; an unasked message waits for nobody.
            let scale = self.clock.scale();
            let stuck_s = now_s - *self.stuck_since_s.get_or_insert(now_s);
            let is_asked = self.instrument.due_s().is_none();
            if is_asked && stuck_s < READER_PATIENCE.as_secs_f64() * scale {
                self.waiting.push_front(Waiting {
                    leave_s: now_s + READER_PAUSE.as_secs_f64() * scale,
                    message: Sent {
                        elapsed_s,
                        bytes: rest,
                    },
                });
                return;
            }
            self.stuck_since_s = None;
            state.counts.lost_bytes += rest.len() as u64;
        }
    }
}
