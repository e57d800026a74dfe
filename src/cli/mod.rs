//! The command line: parses, resolves settings once, calls, and maps to an exit code.

mod args;
mod asked;
mod at_hand;
mod battery;

mod cautions;
mod check;
mod command_line;
mod compare;
mod diagnose;
mod exit;
mod guide;
mod instruments;
mod outlook;
mod output;
mod pictures;
mod ports;
mod predict;
mod record;
mod settings;
mod sheet;
mod signal;
mod simulate;

use std::process::ExitCode;

use clap::{CommandFactory as _, Parser as _};

use args::{Cli, Command};
use exit::{Failure, Outcome, USAGE};
use settings::Settings;

/// Runs the program with the arguments it was started with.
pub fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            if error.use_stderr() {
                // It repeats the words typed, perhaps by a shell that put the names of files there.
                output::note(error.render().to_string().trim_end());
            } else {
                // Help is no failure; nothing can be reported on a closed stdout.
                error.print().ok();
            }
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(USAGE));
        }
    };
    match dispatch(cli) {
        Ok(outcome) => outcome.into(),
        Err(failure) => {
            output::failure(&failure);
            ExitCode::from(failure.code)
        }
    }
}

fn dispatch(cli: Cli) -> Result<Outcome, Failure> {
    let config = cli.config.as_deref();
    let Some(command) = cli.command else {
        return at_hand::run(&Settings::load(config)?);
    };
    match command {
        Command::Simulate(args) => simulate::run(&args, &Settings::load(config)?),
        Command::Ports(args) => ports::run(&args, &Settings::load(config)?),
        Command::Sheet(args) => sheet::run(&args.action),
        Command::Record(args) => record::run(args, &Settings::load(config)?),
        Command::Predict(args) => predict::run(&args, &Settings::load(config)?),
        Command::Compare(args) => compare::run(&args),
        Command::Diagnose(args) => diagnose::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Cautions(args) => cautions::run(&args),
        Command::Guide(args) => guide::run(&args),
        Command::Battery(args) => battery::run(&args, &Settings::load(config)?),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "sagtrace", &mut script);
            print(&script)
        }
        Command::Man => {
            let page = manual()
                .map_err(|error| Failure::new(USAGE, format!("cannot make the manual: {error}")))?;
            print(&page)
        }
    }
}

/// The page of the program and those of its commands, one behind the other.
fn manual() -> std::io::Result<Vec<u8>> {
    let mut pages = Vec::new();
    let mut whole = Cli::command();
    whole.build();
    clap_mangen::Man::new(whole.clone()).render(&mut pages)?;
    for command in whole
        .get_subcommands()
        .filter(|command| command.get_name() != "help")
    {
        clap_mangen::Man::new(command.clone()).render(&mut pages)?;
    }
    Ok(pages)
}

fn print(bytes: &[u8]) -> Result<Outcome, Failure> {
    output::own(bytes)?;
    Ok(Outcome::DONE)
}
