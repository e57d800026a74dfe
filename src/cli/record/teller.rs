//! Shows the news of a recording: rows on stdout where they are asked for, all else on stderr.

use std::sync::{Arc, OnceLock};

use super::progress::Progress;
use crate::cli::args::Show;
use crate::cli::output::{self, Printed};
use crate::recording::{Listener, News};
use crate::report::battery::live;
use crate::report::record;

/// Why rows could not be shown, when that is a fault; empty while they can.
pub(crate) type NotShown = Arc<OnceLock<String>>;

struct Teller {
    progress: Progress,
    /// Whether rows are shown; false too once nobody reads stdout any more.
    shows_rows: bool,
    not_shown: NotShown,
}

/// Returns a listener that shows the news, and where it notes why rows could not be shown.
pub(crate) fn teller(show: Show, quiet: bool) -> (Listener, NotShown) {
    let not_shown = NotShown::default();
    let mut teller = Teller {
        progress: Progress::new(quiet),
        shows_rows: show == Show::Rows,
        not_shown: Arc::clone(&not_shown),
    };
    (Box::new(move |news| teller.hear(&news)), not_shown)
}

impl Teller {
    fn hear(&mut self, news: &News) {
        match news {
            News::Header(lines) => self.show(lines),
            News::Rows { lines, rows } => {
                self.show(lines);
                self.progress.push(rows);
            }
            News::Forecast(looked) => self.progress.left(live::left(looked)),
            _ => {}
        }
        let Some(text) = record::news(news) else {
            return;
        };
        if let News::MovedAside(_) = news {
            // Also for who wants no progress.
            output::note(&text);
        } else {
            self.progress.say(&text);
        }
    }

    /// Shows the lines. A stdout that is closed or full does not end the recording.
    fn show(&mut self, lines: &str) {
        if !self.shows_rows {
            return;
        }
        let printed = output::result(lines);
        self.shows_rows = matches!(printed, Ok(Printed::Taken));
        if let Err(failure) = printed {
            self.progress
                .say(&format!("{}; recording goes on", failure.message));
            self.not_shown.get_or_init(|| failure.message);
        }
    }
}
