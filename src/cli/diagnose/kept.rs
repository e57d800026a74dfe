//! The library of a build: out of the cache folder, or computed on two threads and kept there.

use std::env;
use std::fs;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::mpsc;
use std::thread;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::super::exit::{Failure, USAGE};
use super::super::output;
use crate::diagnosis::build::Build;
use crate::diagnosis::kept;
use crate::diagnosis::library::{Effort, Library, Shown};
use crate::session::replace_file;

/// Threads that compute.
const THREADS: usize = 2;
/// Redraws a second on a terminal.
const REDRAWS: u8 = 4;

/// The cache folder by the XDG base directory specification: a path that is not absolute is ignored.
fn folder() -> Option<PathBuf> {
    let set = |name: &str| {
        env::var_os(name)
            .map(PathBuf::from)
            .filter(|path| path.is_absolute())
    };
    set("XDG_CACHE_HOME")
        .or_else(|| set("HOME").map(|home| home.join(".cache")))
        .map(|folder| folder.join("sagtrace"))
}

/// The library of a build.
pub(super) fn library(build: &Build, effort: Effort, is_quiet: bool) -> Result<Library, Failure> {
    let path = folder().map(|folder| folder.join(kept::file_name(build, effort)));
    let known = path.as_ref().and_then(|path| fs::read(path).ok());
    if let Some(shown) = known.and_then(|bytes| kept::read(&bytes)) {
        return Ok(Library { shown });
    }
    let shown = compute(build, effort, is_quiet)?;
    if let Some(path) = path {
        let written = path
            .parent()
            .map_or(Ok(()), fs::create_dir_all)
            .map_err(|error| error.to_string())
            .and_then(|()| {
                replace_file(&path, &kept::bytes(&shown)).map_err(|error| error.to_string())
            });
        if let (Err(error), false) = (written, is_quiet) {
            output::note(&format!(
                "note: not kept for the next time in {}: {error}",
                path.display()
            ));
        }
    }
    Ok(Library::of(shown))
}

/// Computes all faults, the progress told on stderr.
fn compute(build: &Build, effort: Effort, is_quiet: bool) -> Result<Vec<Shown>, Failure> {
    let wanted = Library::wanted(build);
    let bar = bar(wanted.len(), is_quiet);
    let queue = Mutex::new((0..wanted.len()).rev().collect::<Vec<_>>());
    let (done, finished) = mpsc::channel();
    let mut shown: Vec<Option<Shown>> = vec![None; wanted.len()];
    thread::scope(|scope| {
        for _ in 0..THREADS {
            let done = done.clone();
            let (queue, wanted) = (&queue, &wanted);
            scope.spawn(move || {
                loop {
                    let next = queue.lock().ok().and_then(|mut queue| queue.pop());
                    let fault = next.and_then(|index| Some((index, *wanted.get(index)?)));
                    let Some((index, fault)) = fault else {
                        break;
                    };
                    let computed = Library::shown(build, fault, effort);
                    if done.send((index, computed)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(done);
        for (index, computed) in finished {
            bar.inc(1);
            if let Some(slot) = shown.get_mut(index) {
                *slot = Some(computed);
            }
        }
    });
    bar.finish_and_clear();
    let whole: Option<Vec<Shown>> = shown.into_iter().collect();
    whole.ok_or_else(|| Failure::new(USAGE, "faults of the build: some were not computed"))
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
