//! Marks: a line that the person types while recording, stamped when Enter is pressed.

use std::io::{self, BufRead as _, IsTerminal as _};

use tokio::sync::mpsc;

use crate::clock::Clock;
use crate::reading::Stamp;

/// Reads stdin on a thread of its own, which is never joined: a read from a terminal can't be interrupted.
///
/// The end of the input ends marking, not recording. In the background, where a read would stop the whole program, there
/// are no marks.
pub(super) fn read_marks(clock: Clock) -> mpsc::Receiver<(Stamp, String)> {
    let (sender, receiver) = mpsc::channel(16);
    if io::stdin().is_terminal() && !is_foreground() {
        return receiver;
    }
    let reader = move || {
        let mut input = io::stdin().lock();
        let mut line = Vec::new();
        loop {
            line.clear();
            match input.read_until(b'\n', &mut line) {
                Ok(1..) => {
                    let stamp = clock.now();
                    let text = String::from_utf8_lossy(&line).trim().to_owned();
                    if !text.is_empty() && sender.blocking_send((stamp, text)).is_err() {
                        return;
                    }
                }
                Ok(0) | Err(_) => return,
            }
        }
    };
    // Without the thread there are no marks, and the recording is worth more than they are.
    std::thread::Builder::new().name("marks".to_owned()).stack_size(64 * 1024).spawn(reader).ok();
    receiver
}

#[cfg(unix)]
fn is_foreground() -> bool {
    rustix::termios::tcgetpgrp(io::stdin()).is_ok_and(|group| group == rustix::process::getpgrp())
}

#[cfg(not(unix))]
const fn is_foreground() -> bool {
    true
}
