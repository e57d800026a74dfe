//! A build's circuit worked out on all cores, with a line on a terminal where it takes longer than a second.

use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::output;
use crate::circuit::outlook::{Outlook, descent};
use crate::circuit::pushing::Descent;
use crate::circuit::verdict::{JudgeError, Judged};
use crate::circuit::wiring::CircuitSpec;
use crate::clock::Deadline;

/// How long nothing is shown.
const SILENT: Duration = Duration::from_secs(1);
/// Redraws a second on a terminal.
const REDRAWS: u8 = 4;
/// Parts of the work: three sets, the typical one's way down, and the search for the deciding part with the margins.
const PARTS: u64 = 5;

/// Computes how a build's circuit should behave. On a terminal alone, a line on stderr shows the progress from one second on.
///
/// # Errors
/// [`JudgeError`] where a set can't be computed.
pub(super) fn outlook(specs: &[CircuitSpec; 3]) -> Result<Outlook, JudgeError> {
    let (done, finished) = mpsc::channel();
    thread::scope(|scope| {
        scope.spawn(move || show(&finished));
        computed(specs, &move || {
            // Nobody listens only once the line is gone.
            done.send(()).ok();
        })
    })
}

/// The same without a line; `part_done` is called after each part.
fn computed(
    specs: &[CircuitSpec; 3],
    part_done: &(impl Fn() + Sync),
) -> Result<Outlook, JudgeError> {
    let [worst, typical, best] = specs;
    let coarse = |spec| {
        let judged = Judged::coarse(spec);
        part_done();
        judged
    };
    let (typical, (worst, best)) = rayon::join(
        || way_down(typical, part_done),
        || rayon::join(|| coarse(worst), || coarse(best)),
    );
    let (typical, descent) = typical?;
    let outlook = Outlook::from_sets(specs, [worst?, typical, best?], descent);
    part_done();
    outlook
}

/// The typical set with its way down as the battery drains.
fn way_down(typical: &CircuitSpec, part_done: &impl Fn()) -> Result<(Judged, Descent), JudgeError> {
    let judged = Judged::of(typical)?;
    part_done();
    let descent = descent(&judged)?;
    part_done();
    Ok((judged, descent))
}

/// Shows how many parts are done until no more come.
fn show(finished: &Receiver<()>) {
    let silent = Deadline::after(SILENT);
    let mut line: Option<ProgressBar> = None;
    let mut parts = 0;
    loop {
        match finished.recv_timeout(SILENT / u32::from(REDRAWS)) {
            Ok(()) => parts += 1,
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
        if line.is_none() && silent.is_over() && output::is_watched() {
            line = Some(begun());
        }
        if let Some(line) = &line {
            line.set_position(parts);
            line.tick();
        }
    }
    if let Some(line) = line {
        line.finish_and_clear();
    }
}

/// The line as it begins, a second late.
fn begun() -> ProgressBar {
    let style = "computing how the build's circuit runs: {pos} of {len} parts, {elapsed}";
    let target = ProgressDrawTarget::stderr_with_hz(REDRAWS);
    ProgressBar::with_draw_target(Some(PARTS), target)
        .with_style(
            ProgressStyle::with_template(style).unwrap_or_else(|_| ProgressStyle::default_bar()),
        )
        .with_elapsed(SILENT)
}
