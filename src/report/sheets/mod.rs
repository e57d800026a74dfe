//! Two sheets side by side: the effect of each difference, as text and as JSON.

pub mod answer;

use std::fmt::Write as _;

use serde::Serialize;

use crate::report::form::{Form, part};
use crate::report::layout::wrapped;
use crate::sheet::differences::{Difference, NotComputed, Outcome, Walk};
use crate::units::{Unit, rounded};

/// The walk through the differences of two named sheets.
pub fn text(mine: &str, theirs: &str, walk: &Walk) -> String {
    let mut out = format!("{mine} beside {theirs}: what each difference does alone\n\n");
    row(&mut out, ("", "start margin", "resonance"));
    whole(&mut out, &format!("{mine}, as it is"), &walk.mine, None);
    if walk.differences.is_empty() {
        out.push_str("\nno difference that bears on start or resonance\n");
        return out;
    }
    for difference in &walk.differences {
        let Difference {
            what,
            mine,
            theirs,
            outcome,
        } = difference;
        whole(&mut out, what, outcome, walk.mine.as_ref().ok());
        wrapped(&mut out, 4, &format!("{mine} → {theirs}"));
    }
    let all = format!("{theirs}, with all of them");
    whole(&mut out, &all, &walk.theirs, walk.mine.as_ref().ok());
    out.push('\n');
    wrapped(
        &mut out,
        0,
        "start margin: the transistor's speed over what starting needs, typical parts; above 1 it starts, which is not yet to run \
         fully. The greatest effect on the start comes first; effects of several do not add up.",
    );
    out
}

fn row(out: &mut String, (name, margin, resonance): (&str, &str, &str)) {
    // Writing to a String cannot fail.
    writeln!(out, "{name:44} {margin:26} {resonance}").ok();
}

fn whole(
    out: &mut String,
    name: &str,
    found: &Result<Outcome, NotComputed>,
    from: Option<&Outcome>,
) {
    match found {
        Err(reason) => wrapped(out, 0, &format!("{name}: not computed alone: {reason}")),
        Ok(found) => {
            let hertz = rounded(found.resonance_hz, Unit::Hertz, 4);
            let moved = from.map_or_else(String::new, |from| {
                let share = found.resonance_hz / from.resonance_hz - 1.0;
                if share.abs() < 5e-5 {
                    ", unmoved".to_owned()
                } else {
                    format!(", {:+.2} %", share * 100.0)
                }
            });
            row(out, (name, &margin(found), &format!("{hertz}{moved}")));
        }
    }
}

fn margin(found: &Outcome) -> String {
    match (found.start_margin, found.growth_per_s > 0.0) {
        (Some(margin), true) => format!("{margin:.2}"),
        (Some(margin), false) => format!("{margin:.2}: does not start"),
        (None, true) => "starts at any speed".to_owned(),
        (None, false) => "starts at no speed".to_owned(),
    }
}

part! {
    /// The same for other programs.
    pub struct Json<'a>(my_name: &'a str, their_name: &'a str, walk: &'a Walk) {
        mine: NamedPart<'a> = NamedPart::new(my_name, &walk.mine),
        theirs: NamedPart<'a> = NamedPart::new(their_name, &walk.theirs),
        differences: Vec<DifferencePart<'a>> = walk.differences.iter().map(DifferencePart::new).collect(),
    }
}

impl Form for Json<'_> {}

part! {
    struct NamedPart<'a>(of: &'a str, found: &Result<Outcome, NotComputed>) {
        name: &'a str = of,
        outcome: OutcomePart = OutcomePart::new(found),
    }
}

part! {
    struct DifferencePart<'a>(one: &'a Difference) {
        what: &'a str = one.what,
        mine: &'a str = &one.mine,
        theirs: &'a str = &one.theirs,
        outcome: OutcomePart = OutcomePart::new(&one.outcome),
    }
}

#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "result", rename_all = "kebab-case")]
enum OutcomePart {
    Computed {
        resonance_hz: f64,
        start_margin_ratio: Option<f64>,
        growth_per_s: f64,
    },
    NotComputed {
        reason: String,
    },
}

impl OutcomePart {
    fn new(found: &Result<Outcome, NotComputed>) -> Self {
        match found {
            Err(reason) => Self::NotComputed {
                reason: reason.to_string(),
            },
            Ok(found) => Self::Computed {
                resonance_hz: found.resonance_hz,
                start_margin_ratio: found.start_margin,
                growth_per_s: found.growth_per_s,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::drive::WhyNone;

    /// Invented.
    pub(in crate::report::sheets) fn walk() -> Walk {
        let outcome = |start_margin, growth_per_s, resonance_hz| {
            Ok(Outcome {
                resonance_hz,
                start_margin,
                growth_per_s,
            })
        };
        Walk {
            mine: outcome(Some(1.97), 9e4, 6.217e6),
            theirs: outcome(Some(0.9), -1e4, 6.1e6),
            differences: vec![
                Difference {
                    what: "primary: turns",
                    mine: "3".to_owned(),
                    theirs: "1".to_owned(),
                    outcome: outcome(Some(0.84), -2e4, 6.217e6),
                },
                Difference {
                    what: "secondary: wire",
                    mine: "0.2 mm".to_owned(),
                    theirs: "0.5 mm".to_owned(),
                    outcome: Err(WhyNone.into()),
                },
            ],
        }
    }

    #[test]
    fn each_difference_is_told_with_what_it_does() {
        insta::assert_snapshot!(text("ours", "theirs", &walk()), @"
        ours beside theirs: what each difference does alone

                                                     start margin               resonance
        ours, as it is                               1.97                       6.217 MHz
        primary: turns                               0.84: does not start       6.217 MHz, unmoved
            3 → 1
        secondary: wire: not computed alone: the coil as the circuit sees it is not known
            0.2 mm → 0.5 mm
        theirs, with all of them                     0.90: does not start       6.100 MHz, -1.88 %

        start margin: the transistor's speed over what starting needs, typical parts; above 1 it starts,
        which is not yet to run fully. The greatest effect on the start comes first; effects of several do
        not add up.
        ");
        for line in text("ours", "theirs", &walk()).lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
    }

    #[test]
    fn the_json_keeps_what_could_not_be_computed_apart() {
        let walk = walk();
        let value = serde_json::to_value(Json::new("ours", "theirs", &walk)).unwrap();
        assert_eq!(value["differences"][1]["outcome"]["result"], "not-computed");
        assert_eq!(
            value["differences"][0]["outcome"]["start_margin_ratio"],
            0.84
        );
    }
}
