//! The time a battery has left, as text: which end it means, its basis, and the advice where there is none.

use super::words::{counted, minutes, span};
use crate::battery::end::{End, Until};
use crate::battery::forecast::{NoForecast, TimeLeft};
use crate::battery::kind::Kind;
use crate::battery::logbook::Entry;
use crate::battery::outlook::{Basis, Outlook};
use crate::battery::question::Claim;
use crate::report::layout::{told, under};
use crate::units::{Unit, rounded};

/// The note that must stand wherever a battery's time is given.
const COUNTED: &str =
    "Time counts while the coil runs; a voltage that comes back in a pause is rebound, not charge.";

/// How to get a log that can answer, for a kind whose voltage or curves can't.
pub(super) fn log_it(kind: Option<Kind>) -> &'static str {
    match kind {
        Some(kind) if kind.is_primary() => {
            "Run a new one of this type, under a label of its own and noted with --battery-start full, to its end once: \
             later ones of its type can then be forecast."
        }
        Some(_) => {
            "Charge it fully, note that with --battery-start full, run it to its cut-off once, and its log can tell the \
             next time."
        }
        None => {
            "Begin with it full or new, note that with --battery-start full and its kind with --battery-kind, and run it to \
             its end once."
        }
    }
}

/// The end that a time means, in a few words.
pub(super) fn until(end: End) -> String {
    let volts = rounded(end.volts_v, Unit::Volt, 3);
    match end.until {
        Until::Asked => format!("to {volts}, as asked for"),
        Until::Empty => format!("to {volts}, where the battery is empty"),
        Until::OwnStops(runs) => format!(
            "to {volts}, where the coil stopped in {} with this battery",
            counted(runs, "earlier run", "earlier runs")
        ),
        Until::Sheet => {
            format!("to {volts}, where the coil stops (runs_down_to in the build sheet)")
        }
        Until::Predicted => {
            format!("to {volts}, where the coil is predicted to stop with typical parts")
        }
    }
}

pub(super) fn outlook(out: &mut String, looked: &Outlook, last: &Entry) {
    match &looked.said {
        Ok(said) => {
            told(out, "time left", &left(said));
            if let Some(end) = looked.end {
                under(out, &format!("Counted {}.", until(end)));
            }
            under(out, &basis(looked.basis, looked.widening, last.kind));
            under(out, claim(said.claim));
        }
        Err(refused) => {
            told(out, "time left", &format!("not known: {refused}"));
            match (refused, looked.by_log_s) {
                (NoForecast::NoEnd, _) => under(out, "Give that voltage with --end 6.5V."),
                (NoForecast::HoldsVoltage(_), None) | (NoForecast::NoCurves, _) => {
                    under(out, log_it(last.kind));
                }
                _ => {}
            }
        }
    }
    if let Some(left_s) = looked.by_log_s {
        under(
            out,
            &format!(
                "From the log: {} in, {} left, as it was full at the start.",
                minutes(last.running_s),
                span(left_s.low, left_s.high)
            ),
        );
    }
    if let Some(at_s) = looked.stepped_s {
        under(
            out,
            &format!(
                "Its output stepped down at {}: this design is warning that it is nearly empty. In one measured log of \
                 this design 6 % of the run was left. Finish now.",
                minutes(at_s)
            ),
        );
    }
    if looked.past_knee {
        under(
            out,
            "The voltage turns down: minutes left. This is an alarm, not a forecast.",
        );
    }
    under(out, COUNTED);
}

fn left(said: &TimeLeft) -> String {
    let Some(middle_s) = said.middle_said_s() else {
        return format!("at least {}; more cannot be said yet", minutes(said.low_s));
    };
    format!(
        "{} (90 % band), middle {}, after {} under load",
        span(said.low_s, said.high_s),
        minutes(middle_s),
        minutes(said.elapsed_s)
    )
}

fn basis(basis: Basis, widening: f64, kind: Option<Kind>) -> String {
    let rests = match basis {
        Basis::Own(count) => format!(
            "{} of this battery",
            counted(count, "full run", "full runs")
        ),
        Basis::SameKind(count) => format!(
            "{} of other batteries of its kind",
            counted(count, "full run", "full runs")
        ),
        Basis::Shipped(count, label) if kind.is_some_and(Kind::is_primary) => format!(
            "{count} {label}, none measured; record one of this type from new to its end for a measured one"
        ),
        Basis::Shipped(count, label) => {
            format!("{count} {label}, none measured; run it from full to its end once for its own")
        }
        Basis::Nothing => "nothing".to_owned(),
    };
    let wider = if widening > 1.0 {
        format!("; the back-test made the band {widening} times as wide")
    } else {
        String::new()
    };
    format!("Rests on {rests}{wider}.")
}

const fn claim(claim: Claim) -> &'static str {
    match claim {
        Claim::None => {
            "Nobody noted that it was full at the start, so part-used states were tried."
        }
        Claim::Agrees => "It was noted as full at the start, and the first volts agree.",
        Claim::Disagrees => {
            "It was noted as full at the start. That is doubted: its volts are lower than a full one's at this load, so \
             part-used states were tried."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60086-5 forbids charging primary batteries (from memory).
    #[test]
    fn nobody_is_told_to_charge_a_battery_that_must_not_be_charged() {
        for (word, kind) in Kind::WORDS {
            let of_kind = [
                log_it(Some(kind)).to_owned(),
                basis(Basis::Shipped(8, "curves"), 1.0, Some(kind)),
            ];
            for text in of_kind {
                let says = text.contains("Charge") || text.contains("run it from full");
                assert_eq!(says, !kind.is_primary(), "{word}: {text}");
                if kind.is_primary() {
                    assert!(text.contains("of this type"), "{word}: {text}");
                }
            }
        }
        assert!(!log_it(None).contains("Charge"));
    }

    #[test]
    fn the_end_that_a_time_means_is_named() {
        let named = |until_| {
            until(End {
                volts_v: 6.9,
                until: until_,
            })
        };
        insta::assert_snapshot!(
            [
                Until::Asked,
                Until::Empty,
                Until::OwnStops(1),
                Until::OwnStops(3),
                Until::Sheet,
                Until::Predicted
            ]
            .map(named)
            .join("\n")
        );
    }
}
