//! Measured beside modelled pushing, in text and JSON: a part of a comparison.

use serde_json::{Value, json};

use crate::analysis::compare::Comparison;
use crate::analysis::pushing::{Beside, Modelled};
use crate::units::{self, Unit};

/// The lines that follow a comparison's text.
pub fn text(comparison: &Comparison, modelled: &Modelled) -> String {
    let volt = |value_v| units::rounded(value_v, Unit::Volt, 2);
    match modelled {
        Modelled::NotComputed { reason } => {
            format!("modelled   pushing not computed: {reason}\n")
        }
        Modelled::NotRunning { low_v, high_v } => format!(
            "modelled   no pushing: with typical parts the circuit does not run fully from {} to {}\n",
            volt(*low_v),
            volt(*high_v)
        ),
        Modelled::Curve(curve) => {
            let (low_v, high_v) = curve.reach_v();
            let slope_hz_per_v = curve.slope_hz_per_v();
            let ppm_per_v = slope_hz_per_v / curve.at_hz(high_v) * 1e6;
            let mut out = format!(
                "modelled   pushing {}/V ({ppm_per_v:.0} ppm/V) from {} to {} at the clips, running fully with typical parts\n",
                units::rounded(slope_hz_per_v, Unit::Hertz, 3),
                volt(low_v),
                volt(high_v)
            );
            if let Some(beside) = Beside::of(comparison, curve) {
                out.push_str(&beside_line(&beside));
            }
            out
        }
    }
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

/// The same as JSON; null where there was nothing to follow the circuit through.
pub fn json(comparison: &Comparison, modelled: Option<&Modelled>) -> Value {
    let curve = match modelled {
        None => return Value::Null,
        Some(Modelled::Curve(curve)) => curve,
        Some(Modelled::NotRunning { .. }) => return json!({ "result": "not-running" }),
        Some(Modelled::NotComputed { reason }) => {
            return json!({ "result": "not-computed", "reason": reason });
        }
    };
    let beside = Beside::of(comparison, curve);
    let points = curve.points().iter().map(
        |(battery_v, frequency_hz)| json!({ "battery_v": battery_v, "frequency_hz": frequency_hz }),
    );
    json!({
        "result": "computed",
        "parts": "typical",
        "slope_hz_per_v": curve.slope_hz_per_v(),
        "points": points.collect::<Vec<_>>(),
        "measured_less_modelled_hz_per_v": beside.map(|beside| beside.more.value),
        "half_width_hz_per_v": beside.map(|beside| beside.more.half_width),
        "is_inside_interval": beside.map(|beside| beside.is_inside()),
    })
}

#[cfg(test)]
mod tests {
    use super::super::compare::tests::switched;
    use super::*;
    use crate::circuit::pushing::Curve;

    #[test]
    fn the_measured_slope_stands_beside_the_modelled_one() {
        let curve = Curve::from_points([(6.5, 6.0e6), (8.0, 6.0021e6)]).unwrap();
        let comparison = switched();
        let modelled = Modelled::Curve(curve);
        insta::assert_snapshot!(text(&comparison, &modelled), @"
        modelled   pushing 1.40 kHz/V (233 ppm/V) from 6.5 V to 8.0 V at the clips, running fully with typical parts
                   measured less modelled 10.59993 kHz/V ± 120 mHz/V: warming and surroundings are in the measured one alone
        ");
        let value = json(&comparison, Some(&modelled));
        assert_eq!(value["is_inside_interval"], false);
        assert_eq!(value["points"][1]["battery_v"], 8.0);
        assert!(json(&comparison, None).is_null());
    }

    #[test]
    fn a_circuit_that_does_not_run_there_says_so() {
        let modelled = Modelled::NotRunning {
            low_v: 5.0,
            high_v: 6.0,
        };
        insta::assert_snapshot!(text(&switched(), &modelled), @"modelled   no pushing: with typical parts the circuit does not run fully from 5.0 V to 6.0 V");
        assert_eq!(json(&switched(), Some(&modelled))["result"], "not-running");
    }
}
