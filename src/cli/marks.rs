//! Marks: a line that the person types while recording, stamped when Enter is pressed.

use std::io::{self, BufRead as _, IsTerminal as _};
use std::time::Duration;

use tokio::sync::mpsc;

use crate::clock::{Clock, Deadline};
use crate::reading::Stamp;

/// How late a scripted mark may notice that the recording has ended.
const LONGEST_WAIT: Duration = Duration::from_mins(1);

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
    std::thread::Builder::new()
        .name("marks".to_owned())
        .stack_size(64 * 1024)
        .spawn(reader)
        .ok();
    receiver
}

/// Marks of an invented helper: each at its second of the clock.
pub(super) fn scripted(
    clock: Clock,
    script: Vec<(f64, String)>,
) -> mpsc::Receiver<(Stamp, String)> {
    let (sender, receiver) = mpsc::channel(16);
    let helper = move || {
        for (at_s, text) in script {
            while clock.elapsed_s() < at_s {
                let left =
                    Duration::from_secs_f64((at_s - clock.elapsed_s()).max(0.0)).min(LONGEST_WAIT);
                Deadline::after(clock.real_duration(left)).pause(LONGEST_WAIT);
                if sender.is_closed() {
                    return;
                }
            }
            if sender.blocking_send((clock.now(), text)).is_err() {
                return;
            }
        }
    };
    std::thread::Builder::new()
        .name("marks".to_owned())
        .stack_size(64 * 1024)
        .spawn(helper)
        .ok();
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
