//! The short answers to what is asked beside a prediction: the voltage of a pick-up, and the field around the coil.

use super::answer::Commands;
use super::{field, pickup};
use crate::caution::Caution;
use crate::circuit::hazards::Hazards;
use crate::coil::field::Around;
use crate::coil::pickup::Signal;
use crate::report::hazards;
use crate::report::layout::numbers_kept;
use crate::report::short::Short;

/// What a pick-up gives, whether a counter counts it, and how to join it safely, in at most twelve lines.
pub fn pick_up(
    signal: &Signal,
    hazards: Option<&Hazards>,
    commands: &Commands,
    width: usize,
) -> String {
    let mut short = begun(hazards);
    for words in pickup::brief(signal) {
        short.say(numbers_kept(&words));
    }
    short.say(Caution::PickUp.words());
    short.next(
        "to see what the instrument reads",
        "sagtrace record --dry-run",
    );
    short.more(commands.detail());
    short.printed(width)
}

/// How far out each public level is met, and what that leaves out, in at most twelve lines.
pub fn field(
    around: &Around,
    hazards: Option<&Hazards>,
    commands: &Commands,
    width: usize,
) -> String {
    let mut short = begun(hazards);
    for words in field::brief(around) {
        short.say(numbers_kept(&words));
    }
    short.next("to draw it", &commands.with("--plot pictures"));
    short.more(commands.detail());
    short.printed(width)
}

/// The gravest hazard first.
fn begun(hazards: Option<&Hazards>) -> Short {
    let mut short = Short::default();
    let warnings = hazards::brief(hazards);
    if !warnings.is_empty() {
        short.say(warnings.join(" "));
    }
    short
}
