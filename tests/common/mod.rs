//! What tests of the whole program share: the program as a child process, and instruments of the bench for it.

use std::io::{BufRead as _, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process};
use sagtrace::clock::Deadline;

/// Long enough for anything on a loaded machine; only a failing test waits to its end.
const PATIENCE: Duration = Duration::from_mins(3);

/// Waits without any claim on how long it takes, as long as that is bearable.
pub(crate) fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let deadline = Deadline::after(PATIENCE);
    while !is_so() {
        assert!(!deadline.is_over(), "waited for ever: {what}");
        pause(Duration::from_millis(5));
    }
}

pub(crate) fn pause(time: Duration) {
    let time = rustix::event::Timespec::try_from(time).unwrap();
    rustix::event::poll(&mut [], Some(&time)).unwrap();
}

/// A folder of its own for a test, with the user's own profiles in it: quick variants of those shipped.
pub(crate) struct Desk(tempfile::TempDir);

impl Desk {
    pub(crate) fn new() -> Self {
        let desk = Self(tempfile::tempdir().unwrap());
        for (name, text) in [
            (
                "scpi-counter",
                include_str!("../../devices/scpi-counter.toml"),
            ),
            (
                "plain-lines",
                include_str!("../../devices/plain-lines.toml"),
            ),
            ("columns", include_str!("../../devices/columns.toml")),
        ] {
            let text = text
                .replacen("name = \"", "name = \"quick-", 1)
                .replace("\"3 s\"", "\"500 ms\"")
                .replace("\"2 s\"", "\"0 s\"")
                .replace("\"5 s\"", "\"500 ms\"");
            desk.file(&format!("sagtrace/devices/quick-{name}.toml"), &text);
        }
        desk
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    pub(crate) fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
        path
    }

    /// The program, with this folder for everything it looks for and writes.
    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
        command.args(args);
        self.settle(&mut command);
        command
    }

    /// Gives a command the surroundings of a test.
    pub(crate) fn settle(&self, command: &mut Command) {
        for name in [
            "SAGTRACE_INSTRUMENT",
            "SAGTRACE_SESSIONS",
            "SAGTRACE_CONFIG",
            "COLUMNS",
        ] {
            command.env_remove(name);
        }
        command
            .env("XDG_CONFIG_HOME", self.path())
            .current_dir(self.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
    }

    /// Runs the program to its end.
    pub(crate) fn run(&self, args: &[&str]) -> Ended {
        Running::start(&mut self.command(args)).end()
    }

    pub(crate) fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).unwrap()
    }
}

/// The program while it runs; ended with the test whatever comes.
pub(crate) struct Running {
    child: Child,
    lines: Receiver<String>,
    shown: Vec<String>,
    stderr: Arc<Mutex<String>>,
    readers: Vec<std::thread::JoinHandle<()>>,
}

/// The program when it has ended.
#[derive(Debug)]
pub(crate) struct Ended {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Ended {
    /// It ended well; else all it said is shown.
    pub(crate) fn well(self) -> Self {
        assert_eq!(self.code, Some(0), "{}\n{}", self.stdout, self.stderr);
        self
    }
}

impl Running {
    pub(crate) fn start(command: &mut Command) -> Self {
        let mut child = command.spawn().unwrap();
        let (sender, lines) = channel();
        let stderr = Arc::new(Mutex::new(String::new()));
        let mut readers = Vec::new();
        if let Some(stdout) = child.stdout.take() {
            readers.push(std::thread::spawn(move || {
                for line in BufReader::new(stdout).lines() {
                    if sender.send(line.unwrap()).is_err() {
                        return;
                    }
                }
            }));
        }
        if let Some(pipe) = child.stderr.take() {
            let text = Arc::clone(&stderr);
            readers.push(std::thread::spawn(move || collect(pipe, &text)));
        }
        Self {
            child,
            lines,
            shown: Vec::new(),
            stderr,
            readers,
        }
    }

    /// Waits until a line of stdout is as wanted, and returns it.
    pub(crate) fn wait_for(&mut self, what: &str, is_it: impl Fn(&str) -> bool) -> String {
        let deadline = Deadline::after(PATIENCE);
        loop {
            match self.lines.recv_timeout(deadline.left()) {
                Ok(line) => {
                    let found = is_it(&line);
                    self.shown.push(line.clone());
                    if found {
                        return line;
                    }
                }
                Err(RecvTimeoutError::Timeout) => {
                    panic!("waited for ever: {what}\n{}", self.stderr())
                }
                Err(RecvTimeoutError::Disconnected) => {
                    panic!(
                        "ended before {what}:\n{}\n{}",
                        self.shown.join("\n"),
                        self.stderr()
                    )
                }
            }
        }
    }

    pub(crate) fn stderr(&self) -> String {
        self.stderr.lock().unwrap().clone()
    }

    pub(crate) fn pid(&self) -> Pid {
        Pid::from_child(&self.child)
    }

    pub(crate) fn signal(&self, signal: Signal) {
        kill_process(self.pid(), signal).unwrap();
    }

    /// Ctrl-C, then waits for the end.
    pub(crate) fn interrupt(self) -> Ended {
        self.signal(Signal::INT);
        self.end()
    }

    /// Waits for the end.
    pub(crate) fn end(mut self) -> Ended {
        let mut status = None;
        wait_until("the program ends", || {
            status = self.child.try_wait().unwrap();
            status.is_some()
        });
        for reader in self.readers.drain(..) {
            reader.join().unwrap();
        }
        let mut shown = std::mem::take(&mut self.shown);
        shown.extend(self.lines.try_iter());
        Ended {
            code: status.and_then(|status| status.code()),
            stdout: shown.join("\n") + "\n",
            stderr: self.stderr(),
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn collect(mut pipe: impl Read, text: &Mutex<String>) {
    let mut buffer = [0; 4096];
    while let Ok(count @ 1..) = pipe.read(&mut buffer) {
        text.lock()
            .unwrap()
            .push_str(&String::from_utf8_lossy(&buffer[..count]));
    }
}
