//! A program that records while it is measured.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process};

use crate::bare;
use crate::line::pause;

/// What a program has used.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Use {
    /// Processor time, user and system, of all threads.
    pub(crate) busy_s: f64,
    /// The most memory that it held.
    pub(crate) peak_kib: u64,
}

/// A program that records, ended with this.
pub(crate) struct Recorder(Child);

impl Recorder {
    /// Starts our program on one core: `record`, with these arguments, into the folder `out`.
    pub(crate) fn start(dir: &Path, args: &[&str]) -> Self {
        let mut command = on_one_core(env!("CARGO_BIN_EXE_sagtrace"));
        command
            .args(["record", "--quiet", "--out", "out"])
            .args(args);
        Self::spawn(dir, &mut command)
    }

    /// Starts the bare loop on one core.
    pub(crate) fn bare(dir: &Path, manner: &str, port: &str) -> Self {
        let own = std::env::current_exe().expect("this program has a path");
        let mut command = on_one_core(&own.to_string_lossy());
        command.args([bare::NAME, manner, port, "bare.csv"]);
        Self::spawn(dir, &mut command)
    }

    pub(crate) fn spawn(dir: &Path, command: &mut Command) -> Self {
        for name in [
            "SAGTRACE_INSTRUMENT",
            "SAGTRACE_SESSIONS",
            "SAGTRACE_CONFIG",
        ] {
            command.env_remove(name);
        }
        let child = command
            .env("XDG_CONFIG_HOME", dir)
            .current_dir(dir)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .spawn();
        Self(child.expect("the program starts"))
    }

    /// Processor time so far in seconds, by the scheduler's own count of each thread in nanoseconds.
    pub(crate) fn usage(&self) -> Use {
        let process = format!("/proc/{}", self.0.id());
        let threads = std::fs::read_dir(format!("{process}/task")).expect("it runs");
        let busy_ns: f64 = threads
            .map(|thread| thread.expect("a thread").path().join("schedstat"))
            .filter_map(|path| std::fs::read_to_string(path).ok())
            .filter_map(|text| text.split(' ').next()?.parse::<f64>().ok())
            .sum();
        let status = std::fs::read_to_string(format!("{process}/status")).expect("it runs");
        let peak_kib = status
            .lines()
            .find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB"))
            .expect("proc(5) has it")
            .parse()
            .expect("a number");
        Use {
            busy_s: busy_ns / 1e9,
            peak_kib,
        }
    }

    /// Waits for its end.
    pub(crate) fn wait(mut self) {
        let status = self.0.wait().expect("it ends");
        assert!(status.success(), "it ended with {status}");
    }

    /// Its end, however it was measured.
    pub(crate) fn kill(mut self) {
        self.0.kill().expect("it runs");
        self.0.wait().expect("it ends");
    }

    /// Ctrl-C, then waits for the end.
    pub(crate) fn interrupt(self) {
        kill_process(Pid::from_child(&self.0), Signal::INT).expect("it takes the signal");
        self.wait();
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        // It has ended, unless this is a failure already.
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// A command that stays on the last core, so that what it does at once counts as one core's.
pub(crate) fn on_one_core(program: &str) -> Command {
    let cores = std::thread::available_parallelism().expect("the cores are counted");
    let mut command = Command::new("taskset");
    command.args(["-c", &(cores.get() - 1).to_string(), program]);
    command
}

/// Waits until this number of bytes stands in a file and no more come, as when all rows are there.
pub(crate) fn wait_for_rest(path: &Path, is_whole: impl Fn(&[u8]) -> bool) {
    use std::io::{Read as _, Seek as _, SeekFrom};
    loop {
        pause(Duration::from_millis(2));
        let Ok(mut file) = std::fs::File::open(path) else {
            continue;
        };
        let length = file.seek(SeekFrom::End(0)).expect("its length");
        file.seek(SeekFrom::Start(length.saturating_sub(200)))
            .expect("its end");
        let mut end = Vec::new();
        file.read_to_end(&mut end).expect("its end");
        if is_whole(&end) {
            return;
        }
    }
}
