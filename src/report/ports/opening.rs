//! The news while instruments are opened, in words.

use crate::plain::Shown as _;
use crate::recording::OpeningNews;

/// Returns it in a sentence.
pub fn news(news: &OpeningNews) -> String {
    match news {
        OpeningNews::TornLog(path) => {
            let path = path.shown();
            format!("the last line of {path} is half a line and left out")
        }
        OpeningNews::Busy { path, patience } => {
            let seconds = patience.as_secs();
            format!("{path} is in use by another program, trying again for {seconds} s")
        }
    }
}
