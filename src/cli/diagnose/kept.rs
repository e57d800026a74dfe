//! The library of a build: out of the cache folder, or computed on all cores and kept there.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;

use super::super::output;
use super::super::settings::cache_folder;
use crate::diagnosis::build::Build;
use crate::diagnosis::kept;
use crate::diagnosis::library::{Effort, Library, Shown};
use crate::input;
use crate::plain::Shown as _;
use crate::session::replace_file;

/// Redraws a second on a terminal.
const REDRAWS: u8 = 4;

/// A library that is computed while somebody answers: coarse ones first.
pub(super) struct Growing {
    best: Library,
    is_whole: bool,
    from: Receiver<Library>,
    progress: Arc<Progress>,
    is_quiet: bool,
}

/// How far the whole library is.
#[derive(Default)]
struct Progress {
    done: AtomicUsize,
    all: AtomicUsize,
}

impl Growing {
    /// The library out of the cache folder, or a coarse one while the whole is computed and kept.
    pub(super) fn of(build: &Build, effort: Effort, is_quiet: bool) -> Self {
        let (send, from) = mpsc::channel();
        let progress = Arc::new(Progress::default());
        if let Some(best) = known(build, effort) {
            return Self {
                best,
                is_whole: true,
                from,
                progress,
                is_quiet,
            };
        }
        let best = compute(build, Effort::FIRST, &Progress::default());
        let (own, behind) = (build.clone(), Arc::clone(&progress));
        thread::spawn(move || {
            let shown = compute(&own, effort, &behind);
            keep(&own, effort, &shown, true);
            // Nobody waits for it any more if somebody ended the questions.
            send.send(Library::of(shown)).ok();
        });
        Self {
            best: Library::of(best),
            is_whole: false,
            from,
            progress,
            is_quiet,
        }
    }

    /// The best library there is by now.
    pub(super) fn now(&mut self) -> &Library {
        if let (false, Ok(whole)) = (self.is_whole, self.from.try_recv()) {
            self.take(whole);
        }
        &self.best
    }

    /// The whole library, waited for.
    pub(super) fn whole(&mut self) -> &Library {
        if !self.is_whole
            && let Some(whole) = waited_for(&self.from, &self.progress, self.is_quiet)
        {
            self.take(whole);
        }
        &self.best
    }

    fn take(&mut self, whole: Library) {
        self.best = whole;
        self.is_whole = true;
    }
}

/// How often the progress of the awaited result is looked at.
const LOOKED_AFTER: Duration = Duration::from_millis(100);

fn path(build: &Build, effort: Effort) -> Option<PathBuf> {
    cache_folder().map(|folder| folder.join(kept::file_name(build, effort)))
}

/// The kept library of a build, if it is there and whole.
fn known(build: &Build, effort: Effort) -> Option<Library> {
    let bytes = input::read(&path(build, effort)?).ok()?;
    let known = kept::read(&bytes).map(|shown| Library { shown });
    known.filter(|library| library.is_of(build))
}

fn keep(build: &Build, effort: Effort, shown: &[Shown], is_quiet: bool) {
    let Some(path) = path(build, effort) else {
        return;
    };
    let written = path
        .parent()
        .map_or(Ok(()), fs::create_dir_all)
        .map_err(|error| error.to_string())
        .and_then(|()| replace_file(&path, &kept::bytes(shown)).map_err(|error| error.to_string()));
    if let (Err(error), false) = (written, is_quiet) {
        output::note(&format!(
            "note: not kept for the next time in {}: {error}",
            path.shown()
        ));
    }
}

/// The library of a build, whole.
pub(super) fn library(build: &Build, effort: Effort, is_quiet: bool) -> Library {
    if let Some(library) = known(build, effort) {
        return library;
    }
    let progress = &Progress::default();
    progress
        .all
        .store(Library::wanted(build).len(), Ordering::Relaxed);
    let (computing, done) = mpsc::channel::<()>();
    let shown = thread::scope(|scope| {
        scope.spawn(move || waited_for(&done, progress, is_quiet));
        let shown = compute(build, effort, progress);
        drop(computing);
        shown
    });
    keep(build, effort, &shown, is_quiet);
    Library::of(shown)
}

/// Returns the result that comes over a channel, and shows the progress on stderr until then; `None` where nothing comes.
fn waited_for<T>(from: &Receiver<T>, progress: &Progress, is_quiet: bool) -> Option<T> {
    let bar = bar(progress.all.load(Ordering::Relaxed), is_quiet);
    let come = loop {
        bar.set_position(progress.done.load(Ordering::Relaxed) as u64);
        match from.recv_timeout(LOOKED_AFTER) {
            Ok(come) => break Some(come),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break None,
        }
    };
    bar.finish_and_clear();
    come
}

/// Computes all faults on all cores.
fn compute(build: &Build, effort: Effort, progress: &Progress) -> Vec<Shown> {
    let wanted = Library::wanted(build);
    progress.all.store(wanted.len(), Ordering::Relaxed);
    let each = wanted.par_iter().map(|fault| {
        let shown = Library::shown(build, fault, effort);
        progress.done.fetch_add(1, Ordering::Relaxed);
        shown
    });
    each.collect()
}

fn bar(length: usize, is_quiet: bool) -> ProgressBar {
    if is_quiet {
        return ProgressBar::hidden();
    }
    if !output::is_watched() {
        output::note("computing what each fault does to this build, once: up to a minute");
        return ProgressBar::hidden();
    }
    let style = "computing what each fault does to this build, once: {pos} of {len}, {eta} left";
    let target = ProgressDrawTarget::stderr_with_hz(REDRAWS);
    ProgressBar::with_draw_target(Some(length as u64), target).with_style(
        ProgressStyle::with_template(style).unwrap_or_else(|_| ProgressStyle::default_bar()),
    )
}
