//! A comparison as JSON for other programs: SI numbers, keys with their unit, null where there is no number.

use serde_json::{Map, Value, json};

use crate::analysis::compare::Comparison;
use crate::analysis::drift::{Fitted, Joint, Slope, Trust};
use crate::analysis::events::{Outage, Stop};
use crate::analysis::excursions::Excursion;
use crate::analysis::level::{BandPlace, Deviation, Level};
use crate::analysis::multiple::Multiple;
use crate::analysis::stretches::Judged;
use crate::analysis::summary::{ChannelSummary, SourceSummary};
use crate::analysis::timeline::not_listed;
use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;

/// Version of the form; a reader must refuse one that it doesn't know.
const SCHEMA: u32 = 1;

/// The comparison as one JSON object.
pub fn json(comparison: &Comparison) -> Value {
    let model = comparison.model.as_ref();
    let events = &comparison.events;
    let summary = &comparison.summary;
    let pairing = &comparison.pairing;
    json!({
        "schema": SCHEMA,
        "model": model.map(resonance),
        "start": comparison.start.map(|start| level(&start, model)),
        "whole": comparison.whole.map(|whole| level(&whole, model)),
        "inside_band_ratio": comparison.inside_share,
        "earth_stretches": comparison.stretches.iter().map(stretch).collect::<Vec<_>>(),
        "drift": {
            "earth_stretch": comparison.longest,
            "on_time": slope(comparison.drift.on_time, "hz_per_s"),
            "on_battery_voltage": slope(comparison.drift.on_voltage, "hz_per_v"),
            "joint": joint(comparison.drift.joint),
            "stretches": comparison.drift.stretches,
            "levels": comparison.drift.levels,
            "assumption": "intervals are 95 %, residuals of the means follow AR(1) with the rho beside them, battery voltage exact; \
                           where is_trusted is false they wander like a random walk and the interval is a lower bound",
        },
        "interval_s": comparison.interval_s,
        "pairing": {
            "frequency_source": pairing.frequency_source.as_deref(),
            "battery_source": pairing.voltage_source.as_deref(),
            "window_s": pairing.window_s,
            "rule": pairing.to_string(),
            "not_analysed": comparison.passed_over().map(|(source, summary)| json!({
                "source": source,
                "channel": summary.channel.column(),
                "readings": summary.readings,
            })).collect::<Vec<_>>(),
        },
        "excursions": comparison.excursions.entries.iter().map(excursion).collect::<Vec<_>>(),
        "excursions_not_listed": comparison.excursions.more,
        "readings_left_out": comparison.left_out,
        "events": super::events::json(comparison),
        "events_not_listed": not_listed(comparison),
        "stops": events.stops().entries.iter().map(stop).collect::<Vec<_>>(),
        "stops_not_listed": events.stops().more,
        "restarts": events.restarts(),
        "gaps": events.outages().entries.iter().map(outage).collect::<Vec<_>>(),
        "gaps_not_listed": events.outages().more,
        "rows": summary.rows(),
        "duration_s": summary.duration_s(),
        "sources": summary.sources().iter().map(source).collect::<Vec<_>>(),
    })
}

fn resonance(model: &Resonance) -> Value {
    json!({
        "value_hz": model.value_hz,
        "low_hz": model.low_hz,
        "high_hz": model.high_hz,
        "route": model.route,
    })
}

fn level(level: &Level, model: Option<&Resonance>) -> Value {
    let deviation = model.map(|model| Deviation::of(level.mean_hz, model));
    json!({
        "mean_hz": level.mean_hz,
        "half_width_hz": level.half_width_hz,
        "rho": level.rho,
        "low_hz": level.low_hz,
        "high_hz": level.high_hz,
        "readings": level.readings,
        "deviation_hz": deviation.map(|deviation| deviation.deviation_hz),
        "deviation_ratio": deviation.map(|deviation| deviation.ratio),
        "place": deviation.map(|deviation| match deviation.place {
            BandPlace::Below => "below",
            BandPlace::Inside => "inside",
            BandPlace::Above => "above",
        }),
        "looks_like_multiple": model
            .and_then(|model| Multiple::of(level.mean_hz, model))
            .map(Multiple::factor),
    })
}

fn stretch(judged: &Judged) -> Value {
    let model = judged.stretch.model.as_ref();
    json!({
        "from_s": judged.stretch.from_s.max(0.0),
        "to_s": judged.to_s,
        "earth": judged.stretch.earth.map(EarthState::name),
        "model": model.map(resonance),
        "start": judged.start.map(|start| level(&start, model)),
        "whole": judged.whole.map(|whole| level(&whole, model)),
        "inside_band_ratio": judged.inside_share,
    })
}

fn slope(slope: Slope, unit: &str) -> Value {
    match slope {
        Slope::Fitted(fit) => fitted(&fit, unit),
        Slope::TooFew { readings } => json!({ "result": "too-few", "readings": readings }),
        Slope::Level => json!({ "result": "level" }),
    }
}

fn fitted(fit: &Fitted, unit: &str) -> Value {
    let mut object = Map::new();
    object.insert("result".to_owned(), json!("fitted"));
    object.insert(format!("slope_{unit}"), json!(fit.slope.value));
    object.insert(format!("half_width_{unit}"), json!(fit.slope.half_width));
    object.insert("rho".to_owned(), json!(fit.rho));
    object.insert("readings".to_owned(), json!(fit.readings));
    object.insert("means".to_owned(), json!(fit.means));
    object.insert("mean_width_s".to_owned(), json!(fit.width_s));
    object.insert("effective_readings".to_owned(), json!(fit.effective));
    object.insert("is_trusted".to_owned(), json!(fit.trust == Trust::Fair));
    Value::Object(object)
}

fn joint(joint: Joint) -> Value {
    match joint {
        Joint::Separate {
            on_time,
            on_voltage,
            inflation,
        } => json!({
            "result": "separate",
            "on_time": fitted(&on_time, "hz_per_s"),
            "on_battery_voltage": fitted(&on_voltage, "hz_per_v"),
            "variance_inflation": inflation,
        }),
        Joint::Together { inflation } => {
            json!({ "result": "together", "variance_inflation": inflation })
        }
        Joint::Absent => json!({ "result": "absent" }),
    }
}

fn stop(stop: &Stop) -> Value {
    json!({
        "source": &*stop.source,
        "from_s": stop.from_s,
        "to_s": stop.to_s,
        "battery_from_v": stop.battery_from_v,
        "battery_to_v": stop.battery_to_v,
    })
}

fn excursion(excursion: &Excursion) -> Value {
    json!({
        "from_s": excursion.from_s,
        "to_s": excursion.to_s,
        "readings": excursion.readings,
        "low_hz": excursion.range_hz.low,
        "high_hz": excursion.range_hz.high,
        "deviation_hz": excursion.deviation_hz,
        "deviation_ratio": excursion.ratio,
    })
}

fn outage(outage: &Outage) -> Value {
    json!({
        "source": &*outage.source,
        "status": outage.status.word(),
        "reason": outage.reason,
        "from_s": outage.from_s,
        "to_s": outage.to_s,
    })
}

fn source(source: &SourceSummary) -> Value {
    let statuses = source
        .statuses()
        .map(|(status, rows)| (status.word().to_owned(), json!(rows)));
    let channels = source
        .channels
        .iter()
        .map(|summary| (summary.channel.column().to_owned(), channel(summary)));
    json!({
        "source": &*source.source,
        "rows": source.rows,
        "statuses": statuses.collect::<Map<_, _>>(),
        "channels": channels.collect::<Map<_, _>>(),
    })
}

/// Values are in the unit that the channel's own name ends in.
fn channel(summary: &ChannelSummary) -> Value {
    json!({
        "readings": summary.readings,
        "first": summary.first,
        "last": summary.last,
        "min": summary.min,
        "max": summary.max,
        "mean": summary.mean,
        "median": summary.median(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::{disturbed, model, switched};
    use super::*;
    use crate::analysis::compare::Compare;

    #[test]
    fn an_empty_record_has_every_key_and_null_for_what_it_lacks() {
        let text = serde_json::to_string_pretty(&json(&Compare::default().report())).unwrap();
        insta::assert_snapshot!(text, @r#"
        {
          "drift": {
            "assumption": "intervals are 95 %, residuals of the means follow AR(1) with the rho beside them, battery voltage exact; where is_trusted is false they wander like a random walk and the interval is a lower bound",
            "earth_stretch": 0,
            "joint": {
              "result": "absent"
            },
            "levels": 1,
            "on_battery_voltage": {
              "readings": 0,
              "result": "too-few"
            },
            "on_time": {
              "readings": 0,
              "result": "too-few"
            },
            "stretches": 0
          },
          "duration_s": 0.0,
          "earth_stretches": [
            {
              "earth": null,
              "from_s": 0.0,
              "inside_band_ratio": null,
              "model": null,
              "start": null,
              "to_s": null,
              "whole": null
            }
          ],
          "events": [],
          "events_not_listed": 0,
          "excursions": [],
          "excursions_not_listed": 0,
          "gaps": [],
          "gaps_not_listed": 0,
          "inside_band_ratio": null,
          "interval_s": null,
          "model": null,
          "pairing": {
            "battery_source": null,
            "frequency_source": null,
            "not_analysed": [],
            "rule": "no frequency was read",
            "window_s": 1.0
          },
          "readings_left_out": 0,
          "restarts": 0,
          "rows": 0,
          "schema": 1,
          "sources": [],
          "start": null,
          "stops": [],
          "stops_not_listed": 0,
          "whole": null
        }
        "#);
    }

    #[test]
    fn numbers_are_in_si_units_and_those_of_the_comparison() {
        let comparison = switched();
        let value = json(&comparison);
        let number = |path: &str| value.pointer(path).and_then(Value::as_f64).unwrap();
        let Joint::Separate { on_voltage, .. } = comparison.drift.joint else {
            panic!("{comparison:?}");
        };
        let slope_hz_per_v = number("/drift/joint/on_battery_voltage/slope_hz_per_v");
        assert_eq!(slope_hz_per_v.to_bits(), on_voltage.slope.value.to_bits());
        assert!((slope_hz_per_v - 12e3).abs() < 20.0, "{slope_hz_per_v}");
        assert_eq!(value["stops"][0]["battery_to_v"], 6.6);
        assert_eq!(value["gaps"][0]["to_s"], Value::Null);
        assert_eq!(value["gaps"][0]["reason"], "unplugged");
        assert_eq!(value["sources"][0]["statuses"]["no-signal"], 1);
        assert_eq!(value["sources"][0]["channels"]["battery_v"]["min"], 6.5);
    }

    #[test]
    fn a_reading_at_twice_the_model_says_which_multiple_it_looks_like() {
        let factor = |low_hz, high_hz| {
            let mut comparison = switched();
            comparison.model = Some(model(low_hz, high_hz));
            json(&comparison)["start"]["looks_like_multiple"].clone()
        };
        assert_eq!(factor(2.9e6, 3.1e6), json!(2.0));
        assert_eq!(factor(11.5e6, 12.5e6), json!(0.5));
        assert_eq!(factor(5.9e6, 6.1e6), Value::Null);
        assert_eq!(factor(4e6, 4.1e6), Value::Null);
    }

    #[test]
    fn excursions_and_what_was_not_analysed_are_listed() {
        let value = json(&disturbed());
        assert_eq!(value["readings_left_out"], 40);
        let excursion = &value["excursions"][0];
        assert_eq!(
            (&excursion["from_s"], &excursion["to_s"]),
            (&json!(400.0), &json!(439.0))
        );
        assert_eq!(excursion["readings"], 40);
        assert_eq!(
            value["pairing"]["not_analysed"],
            json!([{ "source": "other", "channel": "frequency_hz", "readings": 300 }])
        );
        assert_eq!(value["drift"]["on_time"]["readings"], 860);
    }
}
