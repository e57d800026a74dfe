//! A diagnosis for other programs.

use serde::Serialize;

use crate::diagnosis::advice;
use crate::diagnosis::answer::{Answer, Belief, Cause, Group, Multiple, NextCheck, Support};
use crate::diagnosis::evidence::Observation;
use crate::diagnosis::quantity::Reading;
use crate::diagnosis::session::{Finding, Meaning, Thresholds};

use super::told::Told;
use crate::report::form::{Form, part};
use crate::report::hazards::{self, ConcernPart, HazardPart};

/// Causes listed one by one.
const LISTED: usize = 20;

/// A group less probable than this is not listed.
const LEAST: f64 = 1e-3;

part! {
    /// A diagnosis.
    pub struct Json<'a>(told: &'a Told<'a>) with {
        let answer = told.answer;
        let listed = answer.groups.iter().filter(|group| group.probability >= LEAST);
        let first = answer.causes.iter().take(LISTED);
    } {
        build: &'a str = told.build,
        sheet_has_primary_reversed: bool = told.is_reversed,
        starts_with_typical_parts: bool = told.starts,
        readings: Vec<ReadingPart> = told.evidence.observations.iter().map(ReadingPart::new).collect(),
        clashes: Vec<&'static str> = told.evidence.clashes(),
        findings: Vec<ConcernPart> = told.concerns().iter().map(ConcernPart::new).collect(),
        hazards: Option<Vec<HazardPart>> = told.hazards.map(hazards::parts),
        battery_of_session: Option<&'a str> = told.other_battery,
        supply_step_v: Option<f64> = told.evidence.supply_step_v,
        run: Option<RunPart> = told.run.map(|(findings, thresholds)| RunPart::new(findings, *thresholds)),
        frequency_read_as_multiple: Option<MultiplePart> = answer.multiple.as_ref().map(MultiplePart::new),
        switch_off: Option<String> = answer.danger.as_ref().map(hazards::switch_off),
        asks_whether_it_ran_before: bool = told.evidence.asks_history(),
        put_primary_wires_back: bool = advice::is_to_put_back(told.evidence),
        groups: Vec<GroupPart> = listed.map(|group| GroupPart::new(group, answer)).collect(),
        causes: Vec<CausePart> = first.map(|cause| CausePart::new(cause, told)).collect(),
        next: Vec<NextPart> = answer.next.iter().map(NextPart::new).collect(),
    }
}

impl Form for Json<'_> {}

part! {
    struct ReadingPart(seen: &Observation) with {
        let (read, off, said) = match seen.reading {
            Reading::Value { value, tolerance } => (Some(value), tolerance, None),
            Reading::Seen(seen) => (None, None, Some(seen.word())),
        };
    } {
        quantity: &'static str = seen.quantity.form().key,
        situation: &'static str = seen.situation.key(),
        value_si: Option<f64> = read,
        tolerance_si: Option<f64> = off,
        word: Option<&'static str> = said,
    }
}

part! {
    struct MultiplePart(one: &Multiple) {
        times: f64 = one.times,
        probability: f64 = one.probability,
    }
}

part! {
    struct GroupPart(group: &Group, answer: &Answer) {
        probability: f64 = group.probability,
        belief: &'static str = Belief::of(group.probability).word(),
        causes: Vec<&'static str> = group
            .members
            .iter()
            .filter_map(|&member| Some(answer.causes.get(member)?.fault.key))
            .collect(),
    }
}

part! {
    struct CausePart(one: &Cause, told: &Told<'_>) {
        cause: &'static str = one.fault.key,
        words: &'static str = told.words(one),
        cure: String = told.advice(one),
        probability: f64 = one.probability,
        prior: f64 = one.prior,
        support: Vec<SupportPart> = one.support.iter().map(SupportPart::new).collect(),
    }
}

part! {
    struct SupportPart(one: &Support) {
        quantity: &'static str = one.observation.quantity.form().key,
        situation: &'static str = one.observation.situation.key(),
        bits: f64 = one.bits,
    }
}

part! {
    struct NextPart(one: &NextCheck) {
        check: &'static str = one.check.key,
        words: &'static str = one.check.words,
        how: &'static str = one.check.how,
        caution: Option<&'static str> = (!one.check.caution.is_empty()).then_some(one.check.caution),
        gain_bits: f64 = one.gain_bits,
        trouble: f64 = one.check.trouble,
    }
}

part! {
    struct RunPart(found: &[Finding], thresholds: Thresholds) {
        starts_v: Option<f64> = thresholds.starts_v,
        keeps_running_v: Option<f64> = thresholds.keeps_running_v,
        findings: Vec<FindingPart> = found.iter().map(finding).collect(),
    }
}

#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "what", rename_all = "kebab-case")]
enum FindingPart {
    Stopped {
        at_s: f64,
        row: u64,
        battery_v: Option<f64>,
        back_s: Option<f64>,
        back_battery_v: Option<f64>,
        flickers: usize,
        meaning: &'static str,
    },
    Jumped {
        at_s: f64,
        frequency_ratio: f64,
        is_of_supply: bool,
        supply_step_v: Option<f64>,
    },
    Faded {
        amplitude_ratio: f64,
    },
    Sagged {
        from_v: f64,
        to_v: f64,
    },
}

fn finding(finding: &Finding) -> FindingPart {
    match *finding {
        Finding::Stopped {
            at_s,
            row,
            battery_v,
            back,
            flickers,
            meaning,
        } => FindingPart::Stopped {
            at_s,
            row,
            battery_v,
            back_s: back.map(|(at_s, _)| at_s),
            back_battery_v: back.and_then(|(_, volt)| volt),
            flickers,
            meaning: match meaning {
                Meaning::NotTheVoltage => "not-the-voltage",
                Meaning::TheVoltage => "the-voltage",
                Meaning::RanOnBelow => "ran-on-below",
                Meaning::SwitchedOff => "switched-off",
                Meaning::Unknown => "unknown",
            },
        },
        Finding::Jumped {
            at_s,
            ratio,
            is_of_supply,
            supply_step_v,
        } => FindingPart::Jumped {
            at_s,
            frequency_ratio: ratio,
            is_of_supply,
            supply_step_v,
        },
        Finding::Faded { ratio } => FindingPart::Faded {
            amplitude_ratio: ratio,
        },
        Finding::Sagged { from_v, to_v } => FindingPart::Sagged { from_v, to_v },
    }
}
