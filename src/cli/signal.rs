//! Ctrl-C and its kin: the first ends a recording cleanly, the second leaves at once.

use tokio::sync::{mpsc, watch};

/// The signal that ended a recording, by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Signal(u8);

impl Signal {
    /// What the person did, in words.
    pub(super) const fn words(self) -> &'static str {
        match self.0 {
            1 => "the terminal went away (SIGHUP)",
            15 => "it was told to end (SIGTERM)",
            _ => "Ctrl-C",
        }
    }

    /// The shell's code for a program that a signal ended.
    pub(super) const fn exit_code(self) -> u8 {
        128 + self.0
    }
}

/// Waits for signals: the first is handed on, the second ends the program.
pub(super) async fn watch(first: mpsc::Sender<Signal>) {
    let Ok(mut signals) = Signals::new() else {
        return;
    };
    let signal = signals.next().await;
    // The receiving end is gone only when the recording has ended already.
    first.send(signal).await.ok();
    leave(signals.next().await.exit_code());
}

#[expect(
    clippy::disallowed_methods,
    clippy::exit,
    reason = "the person asked twice: leave without waiting for anything"
)]
fn leave(code: u8) {
    std::process::exit(code.into());
}

/// The signals that end a recording, listened to from the first moment to the last.
#[cfg(unix)]
struct Signals {
    interrupt: tokio::signal::unix::Signal,
    terminate: tokio::signal::unix::Signal,
    hangup: tokio::signal::unix::Signal,
}

#[cfg(unix)]
impl Signals {
    fn new() -> std::io::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        Ok(Self {
            interrupt: signal(SignalKind::interrupt())?,
            terminate: signal(SignalKind::terminate())?,
            hangup: signal(SignalKind::hangup())?,
        })
    }

    async fn next(&mut self) -> Signal {
        tokio::select! {
            _ = self.interrupt.recv() => Signal(2),
            _ = self.terminate.recv() => Signal(15),
            _ = self.hangup.recv() => Signal(1),
        }
    }
}

/// Ctrl-C alone, where there are no other signals.
#[cfg(not(unix))]
struct Signals;

#[cfg(not(unix))]
impl Signals {
    fn new() -> std::io::Result<Self> {
        Ok(Self)
    }

    async fn next(&mut self) -> Signal {
        tokio::signal::ctrl_c().await.ok();
        Signal(2)
    }
}

/// A way to stop, and the way to be stopped.
pub(super) fn stop() -> (watch::Sender<bool>, watch::Receiver<bool>) {
    watch::channel(false)
}
