//! Pages of the guide as they stand on a terminal.

mod markdown;
mod table;

pub use markdown::on_terminal;

use std::fmt::Write as _;

use crate::guide::Page;

/// Returns the list of pages, a line per page.
pub fn contents(pages: &[Page]) -> String {
    let longest = pages.iter().map(|page| page.topic.len()).max();
    let column = longest.unwrap_or(0);
    let mut out = "Pages, each read with: sagtrace guide TOPIC\n\n".to_owned();
    for page in pages {
        // Writing to a String cannot fail.
        writeln!(out, "  {:column$}  {}", page.topic, page.about).ok();
    }
    out
}
