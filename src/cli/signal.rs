//! Ctrl-C and its kin: the first ends a recording cleanly, the second leaves at once.

use tokio::sync::oneshot;

use crate::recording::StopSignal;

/// The shell's code for a program that a signal ended: 128 and its number.
pub(super) const fn exit_code(signal: StopSignal) -> u8 {
    match signal {
        StopSignal::HangUp => 129,
        StopSignal::Interrupt => 130,
        StopSignal::Terminate => 143,
    }
}

/// Waits for the first signal; from then on the second ends the program. Without signals it waits for ever.
pub(super) async fn first() -> StopSignal {
    let (first, signalled) = oneshot::channel();
    tokio::spawn(watch(first));
    match signalled.await {
        Ok(signal) => signal,
        Err(_) => std::future::pending().await,
    }
}

async fn watch(first: oneshot::Sender<StopSignal>) {
    let Ok(mut signals) = Signals::new() else {
        return;
    };
    let signal = signals.next().await;
    // The receiving end is gone only when the recording has ended already.
    first.send(signal).ok();
    leave(exit_code(signals.next().await));
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

    async fn next(&mut self) -> StopSignal {
        tokio::select! {
            _ = self.interrupt.recv() => StopSignal::Interrupt,
            _ = self.terminate.recv() => StopSignal::Terminate,
            _ = self.hangup.recv() => StopSignal::HangUp,
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

    async fn next(&mut self) -> StopSignal {
        tokio::signal::ctrl_c().await.ok();
        StopSignal::Interrupt
    }
}
