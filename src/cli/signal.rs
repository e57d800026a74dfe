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
    let Some(signal) = next().await else { return };
    // The receiving end is gone only when the recording has ended already.
    first.send(signal).await.ok();
    if let Some(second) = next().await {
        leave(second.exit_code());
    }
}

#[expect(clippy::disallowed_methods, clippy::exit, reason = "the person asked twice: leave without waiting for anything")]
fn leave(code: u8) {
    std::process::exit(code.into());
}

#[cfg(unix)]
async fn next() -> Option<Signal> {
    use tokio::signal::unix::{SignalKind, signal};
    // Handlers stay in place once made, so that a second signal is never the system's own end of the program.
    let (Ok(mut interrupt), Ok(mut terminate), Ok(mut hangup)) =
        (signal(SignalKind::interrupt()), signal(SignalKind::terminate()), signal(SignalKind::hangup()))
    else {
        return None;
    };
    let number = tokio::select! {
        _ = interrupt.recv() => 2,
        _ = terminate.recv() => 15,
        _ = hangup.recv() => 1,
    };
    Some(Signal(number))
}

#[cfg(not(unix))]
async fn next() -> Option<Signal> {
    tokio::signal::ctrl_c().await.ok().map(|()| Signal(2))
}

/// A way to stop, and the way to be stopped.
pub(super) fn stop() -> (watch::Sender<bool>, watch::Receiver<bool>) {
    watch::channel(false)
}
