//! Measured beside modelled pushing, in text and JSON: a part of a comparison.

use std::fmt::Write as _;

use serde::Serialize;

use crate::analysis::compare::Comparison;
use crate::analysis::pushing::{Beside, Modelled, contradicted_stops};
use crate::circuit::pushing::{Ceases, Curve, StopBeside};
use crate::report::form::part;
use crate::report::layout::kept;
use crate::units::{self, Unit};

/// Slopes from point to point that differ by more than this part of the whole slope are reported: chosen.
const BENT: f64 = 0.5;

/// The lines that follow a comparison's text.
pub fn text(comparison: &Comparison, modelled: &Modelled) -> String {
    let volt = |value_v| units::rounded(value_v, Unit::Volt, 2);
    match modelled {
        Modelled::NotComputed { reason } => {
            format!("modelled   pushing not computed: {reason}\n")
        }
        Modelled::NotRunning {
            low_v,
            high_v,
            ceases,
        } => format!(
            "modelled   no pushing: with typical parts the circuit does not run fully from {} to {}\n{}",
            volt(*low_v),
            volt(*high_v),
            stops(comparison, ceases.as_ref())
        ),
        Modelled::Curve {
            read,
            predicted,
            ceases,
        } => {
            let mut out = format!("modelled   pushing {}\n", slope_words(read));
            if let Some(beside) = Beside::of(comparison, read) {
                out.push_str(&beside_line(&beside));
            }
            if let Some(predicted) = predicted {
                let words = slope_words(predicted);
                writeln!(
                    out,
                    "           over its usual range, as sagtrace predict has it: {words}"
                )
                .ok();
            }
            out.push_str(&stops(comparison, ceases.as_ref()));
            out
        }
    }
}

/// A line for each measured stop that the prediction contradicts.
fn stops(comparison: &Comparison, ceases: Option<&Ceases>) -> String {
    let found = ceases.map(|ceases| (ceases, contradicted_stops(comparison, ceases)));
    let mut out = String::new();
    if let Some((ceases, stops)) = found {
        for (measured_v, beside) in stops {
            if let Some(words) = stop_words(measured_v, beside, ceases) {
                writeln!(out, "           {words}").ok();
            }
        }
    }
    out
}

/// A measured stop that a prediction contradicts, in a sentence; `None` where both agree.
pub fn stop_words(measured_v: f64, beside: StopBeside, ceases: &Ceases) -> Option<String> {
    let volt = |value_v| units::rounded(value_v, Unit::Volt, 3);
    let (measured, clips, open) = (volt(measured_v), volt(ceases.clips_v), volt(ceases.open_v));
    match beside {
        StopBeside::AsPredicted => None,
        StopBeside::Earlier => Some(format!(
            "stopped at {measured} at the clips, where typical parts should run on to {clips} ({open} open): look at joints, \
             surroundings and parts; the battery's voltage alone is not the cause"
        )),
        StopBeside::Later => Some(format!(
            "stopped only at {measured} at the clips, though typical parts were predicted to cease at {clips} ({open} open): \
             this build runs on further than predicted"
        )),
    }
}

/// The measured stops beside the predicted one, a sentence each for a first reading.
pub(super) fn stops_beside(comparison: &Comparison, ceases: &Ceases) -> Vec<String> {
    let volt = |value_v| kept(&units::rounded(value_v, Unit::Volt, 3));
    let words = |(measured_v, beside)| match beside {
        StopBeside::AsPredicted => None,
        StopBeside::Earlier => Some(format!(
            "At {} the battery alone is not the cause: typical parts should keep running down to {}. Look at joints, surroundings and parts.",
            volt(measured_v),
            volt(ceases.clips_v)
        )),
        StopBeside::Later => Some(format!(
            "It ran on to {}, though typical parts were predicted to cease at {}.",
            volt(measured_v),
            volt(ceases.clips_v)
        )),
    };
    let contradicted = contradicted_stops(comparison, ceases);
    let stops = &comparison.events.stops().entries;
    if contradicted.is_empty() && stops.iter().any(|stop| stop.battery_from_v.is_some()) {
        let clips = volt(ceases.clips_v);
        return vec![format!(
            "That is about where typical parts cease to run, {clips}: the battery was too low."
        )];
    }
    contradicted.into_iter().filter_map(words).collect()
}

/// A modelled pushing with the range that it is over: the same words in a prediction and in a comparison.
pub(in crate::report) fn slope_words(curve: &Curve) -> String {
    let volt = |value_v| units::rounded(value_v, Unit::Volt, 3);
    let hertz = |value_hz| units::rounded(value_hz, Unit::Hertz, 2);
    let reach_v = curve.reach_v();
    let slope_hz_per_v = curve.slope_hz_per_v();
    let ppm_per_v = slope_hz_per_v / curve.at_hz(reach_v.high) * 1e6;
    let slopes = curve.slopes_hz_per_v();
    let bent = if curve.points().len() > 2 && slopes.width() > BENT * slope_hz_per_v.abs() {
        format!(
            ", {}/V to {}/V from point to point and no better known than that",
            hertz(slopes.low),
            hertz(slopes.high)
        )
    } else {
        String::new()
    };
    format!(
        "{}/V ({ppm_per_v:.0} ppm/V) from {} to {} at the clips{bent}, running fully with typical parts",
        units::rounded(slope_hz_per_v, Unit::Hertz, 3),
        volt(reach_v.low),
        volt(reach_v.high)
    )
}

fn beside_line(beside: &Beside) -> String {
    let more = beside.more.written(Unit::Hertz, "/V");
    if beside.is_inside() {
        format!(
            "           measured less modelled {more}: no difference that the record can tell\n"
        )
    } else {
        format!(
            "           measured less modelled {more}: warming and surroundings are in the measured one alone\n"
        )
    }
}

/// The same for other programs.
#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "result", rename_all = "kebab-case")]
pub(super) enum PushingPart {
    Computed(CurvePart),
    NotRunning {},
    NotComputed { reason: String },
}

impl PushingPart {
    pub(super) fn new(comparison: &Comparison, modelled: &Modelled) -> Self {
        match modelled {
            Modelled::Curve {
                read,
                predicted,
                ceases,
            } => Self::Computed(CurvePart::new(
                comparison,
                read,
                predicted.as_ref(),
                ceases.as_ref(),
            )),
            Modelled::NotRunning { .. } => Self::NotRunning {},
            Modelled::NotComputed { reason } => Self::NotComputed {
                reason: reason.clone(),
            },
        }
    }
}

part! {
    pub(super) struct CurvePart(comparison: &Comparison, curve: &Curve, predicted: Option<&Curve>, ceases: Option<&Ceases>) with {
        let beside = Beside::of(comparison, curve);
        let stops = |ceases| contradicted_stops(comparison, ceases).into_iter().map(|(volt, _)| volt).collect();
    } {
        parts: &'static str = "typical",
        slope_hz_per_v: f64 = curve.slope_hz_per_v(),
        predicted_slope_hz_per_v: Option<f64> = predicted.map(Curve::slope_hz_per_v),
        predicted_to_cease_at_clips_v: Option<f64> = ceases.map(|ceases| ceases.clips_v),
        contradicted_stops_v: Option<Vec<f64>> = ceases.map(stops),
        predicted_from_v: Option<f64> = predicted.map(|curve| curve.reach_v().low),
        predicted_to_v: Option<f64> = predicted.map(|curve| curve.reach_v().high),
        points: Vec<PointPart> = curve.points().iter().map(|&(volt, hertz)| PointPart::new(volt, hertz)).collect(),
        measured_less_modelled_hz_per_v: Option<f64> = beside.map(|beside| beside.more.value),
        half_width_hz_per_v: Option<f64> = beside.map(|beside| beside.more.half_width),
        is_inside_interval: Option<bool> = beside.map(|beside| beside.is_inside()),
    }
}

part! {
    struct PointPart(volt: f64, hertz: f64) {
        battery_v: f64 = volt,
        frequency_hz: f64 = hertz,
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::switched;
    use super::*;

    #[test]
    fn the_measured_slope_stands_beside_the_modelled_one() {
        let curve = Curve::from_points([(6.5, 6.0e6), (8.0, 6.0021e6)]).unwrap();
        let comparison = switched();
        let modelled = Modelled::Curve {
            read: curve,
            predicted: None,
            ceases: None,
        };
        insta::assert_snapshot!(text(&comparison, &modelled), @"
        modelled   pushing 1.40 kHz/V (233 ppm/V) from 6.50 V to 8.00 V at the clips, running fully with typical parts
                   measured less modelled 10.59993 kHz/V ± 120 mHz/V: warming and surroundings are in the measured one alone
        ");
        let value = serde_json::to_value(PushingPart::new(&comparison, &modelled)).unwrap();
        assert_eq!(value["is_inside_interval"], false);
        assert_eq!(value["points"][1]["battery_v"], 8.0);
    }

    #[test]
    fn a_stop_that_the_prediction_contradicts_is_said_with_both_voltages() {
        let ceases = Ceases {
            open_v: 8.1,
            clips_v: 7.95,
        };
        let words = |measured_v| stop_words(measured_v, ceases.beside(measured_v), &ceases);
        insta::assert_snapshot!(words(6.36).unwrap(), @"stopped only at 6.36 V at the clips, though typical parts were predicted to cease at 7.95 V (8.10 V open): this build runs on further than predicted");
        insta::assert_snapshot!(words(8.95).unwrap(), @"stopped at 8.95 V at the clips, where typical parts should run on to 7.95 V (8.10 V open): look at joints, surroundings and parts; the battery's voltage alone is not the cause");
        assert_eq!(words(8.0), None);
    }

    #[test]
    fn a_circuit_that_does_not_run_there_says_so() {
        let modelled = Modelled::NotRunning {
            low_v: 5.0,
            high_v: 6.0,
            ceases: None,
        };
        insta::assert_snapshot!(text(&switched(), &modelled), @"modelled   no pushing: with typical parts the circuit does not run fully from 5.0 V to 6.0 V");
        let value = serde_json::to_value(PushingPart::new(&switched(), &modelled)).unwrap();
        assert_eq!(value["result"], "not-running");
    }
}
