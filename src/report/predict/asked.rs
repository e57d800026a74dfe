//! The short answers to the questions beside a prediction: the voltage of a pick-up, and the field around the coil.

use super::answer::Commands;
use super::{field, pickup};
use crate::caution::Caution;
use crate::circuit::hazards::Hazards;
use crate::coil::field::Around;
use crate::coil::pickup::Signal;
use crate::report::hazards;
use crate::report::layout::numbers_kept;
use crate::report::short::Short;

/// The answers to those that were asked, each in at most twelve lines.
pub fn answer(
    signal: Option<&Signal>,
    around: Option<&Around>,
    hazards: Option<&Hazards>,
    commands: &Commands,
    width: usize,
) -> String {
    let pick_up = signal.map(|one| pick_up(one, hazards, commands, width));
    let field = around.map(|one| field(one, hazards, commands, width));
    let both: Vec<String> = [pick_up, field].into_iter().flatten().collect();
    both.join("\n")
}

/// Returns the voltage of a pick-up, whether a counter counts it, and how to join it safely, in at most twelve lines.
fn pick_up(
    signal: &Signal,
    hazards: Option<&Hazards>,
    commands: &Commands,
    width: usize,
) -> String {
    let mut short = Short::default();
    if let Some(warning) = hazards::gravest(hazards) {
        short.warn(warning);
    }
    let [expected, rest @ ..] = pickup::brief(signal);
    short.warn(numbers_kept(&expected));
    short.warn(Caution::PickUp.words());
    short.say_all(rest.map(|words| numbers_kept(&words)));
    short.next(
        "to see what the instrument reads",
        "sagtrace record --dry-run",
    );
    short.more(commands.detail());
    short.printed(width)
}

/// Returns how far out each public level is met, and the limits of that figure, in at most twelve lines.
fn field(around: &Around, hazards: Option<&Hazards>, commands: &Commands, width: usize) -> String {
    let mut short = Short::default();
    if let Some(warning) = hazards::gravest(hazards) {
        short.warn(warning);
    }
    for words in field::brief(around) {
        short.say(numbers_kept(&words));
    }
    short.warn(field::LEFT_OUT);
    short.next("what the levels mean", "sagtrace guide safety");
    short.more(commands.detail());
    short.printed(width)
}
