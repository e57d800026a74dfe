//! The findings of a recorded run, as text.

use crate::diagnosis::session::{Finding, Meaning, Thresholds};
use crate::units::{Unit, rounded};

use crate::report::layout::{kept, told, under};

/// The most stops that are listed one by one.
const TOLD: usize = 6;

fn volt(value_v: f64) -> String {
    rounded(value_v, Unit::Volt, 3)
}

/// Seconds while they are few, else minutes.
fn time(time_s: f64) -> String {
    if time_s < 120.0 {
        rounded(time_s, Unit::Second, 3)
    } else {
        format!("{:.1} min", time_s / 60.0)
    }
}

/// The findings of a run beside the voltages at which its circuit should begin and cease to run.
pub fn text(findings: &[Finding], thresholds: Thresholds) -> String {
    let mut out = String::new();
    for (index, finding) in findings.iter().take(TOLD).enumerate() {
        let name = if index == 0 { "the run" } else { "" };
        told(&mut out, name, &words(finding));
        if let Finding::Stopped { meaning, .. } = finding {
            told(&mut out, "", &meant(*meaning, thresholds));
        }
    }
    if findings.len() > TOLD {
        under(&mut out, &format!("and {} more", findings.len() - TOLD));
    }
    if findings.is_empty() {
        told(&mut out, "the run", "no stop, no jump, no fading in it");
    }
    out.push('\n');
    out
}

/// The end of a run in a sentence or two, or else its first finding.
pub(super) fn brief(findings: &[Finding], thresholds: Thresholds) -> String {
    let is_end = |one: &&Finding| matches!(one, Finding::Stopped { back: None, .. });
    match findings.iter().rfind(is_end).or_else(|| findings.first()) {
        None => "The run has no stop, no jump and no fading in it.".to_owned(),
        Some(Finding::Stopped {
            at_s,
            battery_v,
            back,
            meaning,
            ..
        }) => {
            let at = battery_v.map_or_else(String::new, |v| format!(" at {}", kept(&volt(v))));
            let back = if back.is_some() { "" } else { " for good" };
            let when = kept(&time(*at_s));
            let meant = meant(*meaning, thresholds).replace(" V", "\u{a0}V");
            format!("The run stopped{back} after {when}{at}: {meant}.")
        }
        Some(other) => format!("The run: {}.", words(other)),
    }
}

fn words(finding: &Finding) -> String {
    match *finding {
        Finding::Stopped {
            at_s,
            row,
            battery_v,
            back,
            flickers,
            ..
        } => {
            let at = battery_v.map_or_else(String::new, |v| format!(" at {}", volt(v)));
            let back = match back {
                None => ", and did not come back".to_owned(),
                Some((back_s, battery_v)) => {
                    let at = battery_v.map_or_else(String::new, |v| format!(" at {}", volt(v)));
                    format!(", back after {}{at}", time(back_s - at_s))
                }
            };
            let flickers = match flickers {
                0 => String::new(),
                1 => ", flickering once".to_owned(),
                count => format!(", flickering {count} times"),
            };
            let when = time(at_s);
            format!("stopped{at} after {when} (row {row}){back}{flickers}")
        }
        Finding::Jumped {
            at_s,
            ratio,
            is_of_supply,
            supply_step_v,
        } => {
            let change = 100.0 * (ratio - 1.0);
            let with = match supply_step_v {
                Some(step_v) if is_of_supply => format!(
                    ", with the battery's voltage, which stepped by {}",
                    rounded(step_v, Unit::Volt, 2)
                ),
                None if is_of_supply => ", with the battery's voltage".to_owned(),
                _ => ", the battery's voltage staying".to_owned(),
            };
            let when = time(at_s);
            format!("its frequency jumped by {change:+.2} % after {when} and stayed{with}")
        }
        Finding::Faded { ratio } => format!(
            "its amplitude faded to {:.0} % of what it was",
            100.0 * ratio
        ),
        Finding::Sagged { from_v, to_v } => {
            format!("the battery went from {} to {}", volt(from_v), volt(to_v))
        }
    }
}

fn meant(meaning: Meaning, thresholds: Thresholds) -> String {
    let keeps = thresholds.keeps_running_v.map(volt);
    match (meaning, keeps) {
        (Meaning::SwitchedOff, _) => {
            "its voltage was gone with it and did not come back: the battery's own converter or protection switched off, or a short took it"
                .to_owned()
        }
        (Meaning::NotTheVoltage, Some(keeps)) => format!(
            "this build should keep running to {keeps} of open battery: look at the battery's resistance, the joints, or what came near"
        ),
        (Meaning::TheVoltage, Some(keeps)) => {
            let starts = thresholds.starts_v.map_or_else(String::new, |starts_v| {
                format!("; it begins to oscillate from {}", volt(starts_v))
            });
            format!(
                "about where this build ceases to run fully, {keeps} of open battery{starts}: the battery is done"
            )
        }
        (Meaning::RanOnBelow, Some(keeps)) => format!(
            "well below the {keeps} of open battery where this build was predicted to cease: it runs on further than predicted, and the battery is done"
        ),
        _ => "no voltage was read there, or it is not known where this build ceases to run"
            .to_owned(),
    }
}
