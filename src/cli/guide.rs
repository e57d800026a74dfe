//! `guide`: a page about the work at the bench, or the list of pages.

use std::io::{self, IsTerminal as _};

use super::args::GuideArgs;
use super::exit::{Failure, Outcome};
use super::output;
use crate::guide::{PAGES, page};
use crate::report::guide::{contents, on_terminal};

pub(super) fn run(args: &GuideArgs) -> Result<Outcome, Failure> {
    match args.topic.as_deref().and_then(page) {
        Some(page) => {
            output::result(&on_terminal(page.markdown, output::width()))?;
            if io::stdout().is_terminal() {
                output::note(&format!(
                    "\npage by page: sagtrace guide {} | less",
                    page.topic
                ));
            }
        }
        None => {
            output::result(&output::account(contents(PAGES)))?;
        }
    }
    Ok(Outcome::DONE)
}
