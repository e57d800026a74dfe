//! Instruments of another hand: a Python program in `tests/devices` that plays a form on a pseudo-terminal of its own.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// The Python program, ended with the test whatever comes.
pub(crate) struct Player(Child);

impl Drop for Player {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// Starts a program with a form; returns it and the path of its port.
pub(crate) fn play(program: &str, form: &str) -> (Player, String) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/devices")
        .join(program);
    let child = Command::new("python3")
        .arg(script)
        .arg(form)
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 is on this machine");
    let mut player = Player(child);
    let mut path = String::new();
    let stdout = player.0.stdout.take().expect("its output is piped");
    BufReader::new(stdout)
        .read_line(&mut path)
        .expect("it says its port");
    (player, path.trim_end().to_owned())
}
