//! The marks that a person types while recording.

use std::io::{self, BufReader, IsTerminal as _};

use crate::clock::Clock;
use crate::recording::{Marks, read_marks};

/// Reads marks from stdin. In the background, where a read would stop the whole program, there are none.
pub(super) fn marks(clock: Clock) -> Marks {
    if io::stdin().is_terminal() && !is_foreground() {
        read_marks(io::empty(), clock)
    } else {
        read_marks(BufReader::new(io::stdin()), clock)
    }
}

#[cfg(unix)]
fn is_foreground() -> bool {
    rustix::termios::tcgetpgrp(io::stdin()).is_ok_and(|group| group == rustix::process::getpgrp())
}

#[cfg(not(unix))]
const fn is_foreground() -> bool {
    true
}
