//! The `sagtrace` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    sagtrace::cli::run()
}
