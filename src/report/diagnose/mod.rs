//! Why a circuit does not start: ranked causes, the next check, a form to fill in, the findings of a recorded run.

mod answer;
mod command;
pub mod form;
mod json;
pub mod session;
mod text;
mod told;

pub use answer::answer;
pub use command::{Command, arguments};
pub use json::Json;
pub use text::text;
pub use told::Told;
