//! `cautions`: the cautions at a coil, with the published reference levels at its frequency.

use super::args::{CautionsArgs, Format};
use super::command_line::typed;
use super::exit::{Failure, Outcome};
use super::output;
use crate::report;

pub(super) fn run(args: &CautionsArgs) -> Result<Outcome, Failure> {
    let text = match args.format {
        Format::Text if args.detail => output::account(report::cautions::text(args.at)),
        Format::Text => report::cautions::answer(args.at, &typed(&[]), output::width()),
        Format::Json => output::json(&report::cautions::Json::new(args.at))?,
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}
