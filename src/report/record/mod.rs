//! A recording in words: how it goes, its news, why it ended, and its summary.

mod board_clock;
mod end;
mod going;
mod news;
mod summary;

pub use end::end;
pub use going::Going;
pub use news::news;
pub use summary::{Json, text, without_next};
