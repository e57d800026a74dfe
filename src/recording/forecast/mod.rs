//! Time left while recording: the same analysis as afterwards, on the rows so far, in a thread of its own. The recording
//! never waits for it: while it is at work, the next question is left out.

mod battery;
mod foreteller;
mod lookout;

pub use battery::{Battery, Earlier, EarlierRuns, Forecast};
pub(super) use foreteller::{Answer, Answers};
pub(super) use lookout::Lookout;
