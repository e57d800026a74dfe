//! A recording in words: its news, why it ended, and its summary.

mod board_clock;
mod end;
mod news;
mod summary;

pub use end::end;
pub use news::news;
pub use summary::{Json, text};
