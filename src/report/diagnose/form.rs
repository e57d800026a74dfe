//! Twelve plain questions for somebody whose copy of a build stays dark, as a file of answers to fill in.

use std::fmt::Write as _;

use crate::caution::Caution;
use crate::circuit::hazards::Hazards;
use crate::diagnosis::answers::choices;
use crate::diagnosis::check::checks;
use crate::diagnosis::quantity::Quantity;
use crate::diagnosis::situation::Situation;
use crate::report::hazards::{HEADING, before_switching_on, or_not_computed};
use crate::report::layout::broken;

/// The questions after the first, in the order of the file.
const ASKED: [(Situation, Quantity); 11] = [
    (Situation::AsFound, Quantity::Led),
    (Situation::AsFound, Quantity::Lamp),
    (Situation::AsFound, Quantity::Heat),
    (Situation::AsFound, Quantity::BatteryOpen),
    (Situation::AsFound, Quantity::Battery),
    (Situation::AsFound, Quantity::Current),
    (Situation::AsFound, Quantity::Base),
    (Situation::AsFound, Quantity::FootToTop),
    (Situation::LeadsSwapped, Quantity::Led),
    (Situation::HandsAway, Quantity::Led),
    (Situation::FreshBattery, Quantity::Led),
];

/// The same on a build without an LED: a lamp beside the top is looked at.
fn asked(has_led: bool) -> Vec<(Situation, Quantity)> {
    let mut asked: Vec<(Situation, Quantity)> = ASKED.to_vec();
    if !has_led {
        for (_, quantity) in &mut asked {
            if *quantity == Quantity::Led {
                *quantity = Quantity::Lamp;
            }
        }
        asked.dedup();
    }
    asked
}

/// The dangers to whoever answers.
const CAUTIONS: [Caution; 5] = [
    Caution::Unplug,
    Caution::Touch,
    Caution::Probe,
    Caution::HotParts,
    Caution::Toy,
];

/// Photos that show things no meter does.
const PHOTOS: [&str; 4] = [
    "the whole build from the side, a ruler beside it",
    "the transistor from its printed front, its three legs and where each goes",
    "both ends of the primary and the way it is wound, from the side",
    "the secondary's foot joint, sharp, from as near as the camera goes",
];

/// Returns the form for a build with an LED to look at or without, and with the hazards by its own figures. These are `None`
/// where they could not be computed.
pub fn form(build: &str, has_led: bool, hazards: Option<&Hazards>) -> String {
    let asked = asked(has_led);
    let count = if has_led { "twelve" } else { "eleven" };
    let mut out = format!(
        "# {build}: {count} questions. Write between the quotes; leave what you don't know empty.\n\
         # Read it back: sagtrace diagnose SHEET --answers THIS-FILE\n"
    );
    for caution in CAUTIONS {
        comment(&mut out, caution.words());
    }
    let found = or_not_computed(hazards);
    if !found.is_empty() {
        comment(&mut out, &format!("{HEADING}:"));
    }
    for hazard in found {
        comment(&mut out, &format!("- {hazard}"));
    }
    if let Some(first) = hazards.and_then(before_switching_on) {
        let rest = "Leave a question empty that cannot be answered so.";
        comment(&mut out, &format!("{first} {rest}"));
    }
    out.push_str("\n# 1. Has it ever run? never, yes or unknown\nran_before = \"unknown\"\n");
    let mut table = None;
    for (index, (situation, quantity)) in asked.into_iter().enumerate() {
        if table != Some(situation) {
            let words = situation.words();
            // Writing to a String cannot fail, here and below.
            writeln!(out, "\n# {words}\n[{}]", situation.key()).ok();
            table = Some(situation);
        }
        let check = checks(has_led)
            .iter()
            .find(|check| check.situation == situation && check.reads.contains(&quantity));
        let how = check.map_or("", |check| check.how);
        let form = quantity.form();
        comment(&mut out, &format!("{}. {}: {how}", index + 2, form.words));
        writeln!(out, "#    {}\n{} = \"\"", choices(quantity), form.key).ok();
    }
    out.push_str("\n# Photos to send with it:\n");
    for photo in PHOTOS {
        writeln!(out, "# - {photo}").ok();
    }
    out
}

/// Words behind a hash, as many lines as they take.
fn comment(out: &mut String, words: &str) {
    for (index, row) in broken(0, words).lines().enumerate() {
        let lead = if index == 0 { "#" } else { "#   " };
        // Writing to a String cannot fail.
        writeln!(out, "{lead} {row}").ok();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::answers;
    use crate::diagnosis::evidence::Evidence;

    #[test]
    fn an_empty_form_reads_back_as_nothing_known_and_a_filled_one_as_what_it_says() {
        let form = form("glow pillar", true, None);
        assert_eq!(answers::parse(&form), Ok(Evidence::default()));
        assert!(
            form.contains("\n# 12. ") && !form.contains("\n# 13. "),
            "{form}"
        );
        let silicon = super::form("glow pillar", false, None);
        assert!(!silicon.contains("LED"), "{silicon}");
        assert!(silicon.contains("\n# 11. ") && !silicon.contains("\n# 12. "));
        assert_eq!(answers::parse(&silicon), Ok(Evidence::default()));
        let filled = form.replacen("led = \"\"", "led = \"dark\"", 1);
        let read = answers::parse(&filled).unwrap();
        assert_eq!(read.observations.len(), 1);
        for line in form.lines() {
            assert!(line.chars().count() <= 160, "{line}");
        }
    }
}
