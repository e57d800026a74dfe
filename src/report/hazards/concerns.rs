//! Readings that are findings of their own, in words.

use super::words::{READING_S, ampere, celsius};
use crate::circuit::supply::MODEL_DOUBT;
use crate::diagnosis::concern::{Concern, Danger};
use crate::diagnosis::situation::Situation;
use crate::report::layout::kept;
use crate::units::{Unit, rounded};

/// Why a circuit is to be switched off before anything else, in words: the first line of an answer.
pub fn switch_off(danger: &Danger) -> String {
    match *danger {
        Danger::Current { situation, read_a } => format!(
            "Switch off now, battery out: {}{} is more than such batteries and wires are made for. Leave it off: only checks with the battery out follow.",
            ampere(read_a),
            how(situation)
        ),
        Danger::Collapse {
            situation,
            loaded_v,
            read_a,
        } => format!(
            "Switch off now, battery out: the battery is down to {} at {}{}. Leave it off: only checks with the battery out follow.",
            rounded(loaded_v, Unit::Volt, 2),
            ampere(read_a),
            how(situation)
        ),
    }
}

/// A reading that is a finding of its own, in words.
pub(in crate::report) fn concern(concern: &Concern) -> String {
    match *concern {
        Concern::Hot {
            situation,
            predicted_c,
            is_predicted,
        } => {
            let why = match predicted_c {
                Some(case_c) if is_predicted => format!(
                    "the model has its case at up to {}: it needs the heat sink or the smaller current that stands above",
                    celsius(case_c)
                ),
                Some(case_c) => format!(
                    "the model has its case at no more than {}, so something takes what it should not",
                    celsius(case_c)
                ),
                None => "what is usual for it was not computed".to_owned(),
            };
            format!(
                "the transistor is hot{}, whatever lights: power off, let it cool, on for no more than {READING_S} s until that is mended; {why}",
                how(situation)
            )
        }
        Concern::OverCurrent {
            situation,
            read_a,
            most_a,
        } => {
            let beside = most_a.map_or_else(
                || "battery and wires are made for no more than about 1 A (common practice, no source)".to_owned(),
                |most_a| {
                    let doubt = if read_a <= most_a * (1.0 + MODEL_DOUBT) {
                        "; a sound one may take up to 30 % more (assumed)"
                    } else {
                        ""
                    };
                    format!("no set of its parts takes more than {} in the model{doubt}", ampere(most_a))
                },
            );
            format!(
                "{}{} is too much, whatever lights: power off; {beside}",
                ampere(read_a),
                how(situation)
            )
        }
        Concern::MoreBatteries {
            read_v,
            read_as,
            series,
        } => format!(
            "{} is the voltage of {read_as:.0} batteries, and the sheet has {}: set series in the sheet's [battery], or read again. Until then \
             the causes below are of another build",
            rounded(read_v, Unit::Volt, 3),
            batteries(series)
        ),
        Concern::OtherCount { listed, series } => format!(
            "own voltages of {listed} were read, and the sheet has {}: set series in the sheet's [battery], or read the others too",
            batteries(series)
        ),
    }
}

/// The same in a line or two; a build that must stay off is given no seconds to be on.
pub(in crate::report) fn brief_concern(concern: &Concern, must_stay_off: bool) -> String {
    match *concern {
        Concern::Hot { situation, .. } if must_stay_off => format!(
            "The transistor is hot{}: power off and let it cool.",
            how(situation)
        ),
        Concern::Hot { situation, .. } => format!(
            "The transistor is hot{}: power off and let it cool. Then on for no more than {} until that is mended.",
            how(situation),
            kept(&format!("{READING_S} s"))
        ),
        Concern::OverCurrent {
            situation, read_a, ..
        } => format!(
            "{}{} is too much, whatever lights: power off.",
            kept(&ampere(read_a)),
            how(situation)
        ),
        Concern::MoreBatteries {
            read_v,
            read_as,
            series,
        } => format!(
            "{} is the voltage of {read_as:.0} batteries, and the sheet has {}. Correct the sheet's series, or read again.",
            kept(&rounded(read_v, Unit::Volt, 3)),
            batteries(series)
        ),
        Concern::OtherCount { listed, series } => format!(
            "Voltages of {listed} were read, and the sheet has {}. Correct the sheet's series, or read the others too.",
            batteries(series)
        ),
    }
}

fn batteries(series: u32) -> String {
    if series == 1 {
        "one battery".to_owned()
    } else {
        format!("{series} batteries")
    }
}

fn how(situation: Situation) -> String {
    match situation {
        Situation::AsFound => String::new(),
        other => format!(" ({})", other.words()),
    }
}
