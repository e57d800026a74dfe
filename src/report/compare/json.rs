//! A comparison as JSON for other programs: SI numbers, keys with their unit, null where there is no number.

use std::collections::BTreeMap;

use serde::Serialize;

use super::events::EventPart;
use super::explained::ExplainedPart;
use super::lamp::LampPart;
use super::pushing::PushingPart;
use crate::analysis::compare::Comparison;
use crate::analysis::drift::{Fitted, Joint, Slope, Trust};
use crate::analysis::events::{Outage, Stop};
use crate::analysis::excursions::Excursion;
use crate::analysis::lamp::Sighting;
use crate::analysis::level::{BandPlace, Deviation, Level};
use crate::analysis::multiple::Multiple;
use crate::analysis::pushing::Modelled;
use crate::analysis::stretches::Judged;
use crate::analysis::summary::{ChannelSummary, SourceSummary};
use crate::analysis::timeline::not_listed;
use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;
use crate::report::form::{Digits, Form, part};

/// The basis of the intervals.
const ASSUMPTION: &str = "intervals are 95 %, residuals of the means follow AR(1) with the rho beside them, battery voltage exact; \
     where is_trusted is false they wander like a random walk and the interval is a lower bound";

/// The parts that a comparison may have beside it.
#[derive(Debug, Default)]
pub struct Beside<'a> {
    /// Whether the session's sheet was changed after it.
    pub is_sheet_changed: bool,
    /// The lamps that were lit.
    pub lamps: &'a [Sighting],
    /// The modelled pushing.
    pub pushing: Option<&'a Modelled>,
    /// The explanation of the measured resonance.
    pub explained: Option<ExplainedPart>,
}

part! {
    /// A comparison for other programs.
    pub struct Json<'a>(comparison: &'a Comparison, beside: Beside<'a>) with {
        let model = comparison.model.as_ref();
        let events = &comparison.events;
        let summary = &comparison.summary;
    } {
        build_sheet_changed: bool = beside.is_sheet_changed,
        model: Option<ModelPart> = model.map(ModelPart::new),
        start: Option<LevelPart> = comparison.start.map(|start| LevelPart::new(start, model)),
        whole: Option<LevelPart> = comparison.whole.map(|whole| LevelPart::new(whole, model)),
        inside_band_ratio: Option<f64> = comparison.inside_share,
        earth_stretches: Vec<StretchPart> = comparison.stretches.iter().map(StretchPart::new).collect(),
        drift: DriftPart = DriftPart::new(comparison),
        modelled_pushing: Option<PushingPart> = beside.pushing.map(|modelled| PushingPart::new(comparison, modelled)),
        explained: Option<ExplainedPart> = beside.explained,
        interval_s: Option<f64> = comparison.interval_s,
        pairing: PairingPart<'a> = PairingPart::new(comparison),
        excursions: Vec<ExcursionPart> = comparison.excursions.entries.iter().map(ExcursionPart::new).collect(),
        excursions_not_listed: usize = comparison.excursions.more,
        readings_left_out: usize = comparison.left_out,
        events: Vec<EventPart<'a>> = super::events::parts(comparison),
        events_not_listed: usize = not_listed(comparison),
        stops: Vec<StopPart<'a>> = events.stops().entries.iter().map(StopPart::new).collect(),
        stops_not_listed: usize = events.stops().more,
        restarts: usize = events.restarts(),
        gaps: Vec<GapPart<'a>> = events.outages().entries.iter().map(GapPart::new).collect(),
        gaps_not_listed: usize = events.outages().more,
        lamps: Vec<LampPart<'a>> = super::lamp::parts(beside.lamps),
        rows: usize = summary.rows(),
        duration_s: f64 = summary.duration_s(),
        sources: Vec<SourcePart<'a>> = summary.sources().iter().map(SourcePart::new).collect(),
    }
}

impl Form for Json<'_> {
    const DIGITS: Digits = Digits::All;
}

part! {
    struct ModelPart(model: &Resonance) {
        value_hz: f64 = model.value_hz,
        low_hz: f64 = model.low_hz,
        high_hz: f64 = model.high_hz,
        route: String = model.route.to_string(),
    }
}

part! {
    struct LevelPart(level: Level, model: Option<&Resonance>) with {
        let deviation = model.map(|model| Deviation::of(level.mean_hz, model));
    } {
        mean_hz: f64 = level.mean_hz,
        half_width_hz: Option<f64> = level.half_width_hz,
        rho: Option<f64> = level.rho,
        low_hz: f64 = level.low_hz,
        high_hz: f64 = level.high_hz,
        readings: usize = level.readings,
        deviation_hz: Option<f64> = deviation.map(|deviation| deviation.deviation_hz),
        deviation_ratio: Option<f64> = deviation.map(|deviation| deviation.ratio),
        place: Option<&'static str> = deviation.map(|deviation| match deviation.place {
            BandPlace::Below => "below",
            BandPlace::Inside => "inside",
            BandPlace::Above => "above",
        }),
        looks_like_multiple: Option<f64> = model
            .and_then(|model| Multiple::of(level.mean_hz, model))
            .map(Multiple::factor),
    }
}

part! {
    struct StretchPart(judged: &Judged) with {
        let model = judged.stretch.model.as_ref();
    } {
        from_s: f64 = judged.stretch.from_s.max(0.0),
        to_s: Option<f64> = judged.to_s,
        earth: Option<&'static str> = judged.stretch.earth.map(EarthState::name),
        model: Option<ModelPart> = model.map(ModelPart::new),
        start: Option<LevelPart> = judged.start.map(|start| LevelPart::new(start, model)),
        whole: Option<LevelPart> = judged.whole.map(|whole| LevelPart::new(whole, model)),
        inside_band_ratio: Option<f64> = judged.inside_share,
    }
}

part! {
    struct DriftPart(comparison: &Comparison) with {
        let drift = &comparison.drift;
    } {
        earth_stretch: usize = comparison.longest,
        on_time: SlopePart<PerSecond> = slope(drift.on_time, PerSecond::new),
        on_battery_voltage: SlopePart<PerVolt> = slope(drift.on_voltage, PerVolt::new),
        joint: JointPart = joint(drift.joint),
        stretches: usize = drift.stretches,
        levels: usize = drift.levels,
        assumption: &'static str = ASSUMPTION,
    }
}

#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "result", rename_all = "kebab-case")]
enum SlopePart<S> {
    Fitted(S),
    TooFew { readings: usize },
    Level,
}

fn slope<S>(slope: Slope, fitted: fn(&Fitted) -> S) -> SlopePart<S> {
    match slope {
        Slope::Fitted(fit) => SlopePart::Fitted(fitted(&fit)),
        Slope::TooFew { readings } => SlopePart::TooFew { readings },
        Slope::Level => SlopePart::Level,
    }
}

part! {
    struct PerSecond(fit: &Fitted) {
        slope_hz_per_s: f64 = fit.slope.value,
        half_width_hz_per_s: f64 = fit.slope.half_width,
        #[serde(flatten)]
        rests_on: FitPart = FitPart::new(fit),
    }
}

part! {
    struct PerVolt(fit: &Fitted) {
        slope_hz_per_v: f64 = fit.slope.value,
        half_width_hz_per_v: f64 = fit.slope.half_width,
        #[serde(flatten)]
        rests_on: FitPart = FitPart::new(fit),
    }
}

part! {
    struct FitPart(fit: &Fitted) {
        rho: f64 = fit.rho,
        readings: usize = fit.readings,
        means: usize = fit.means,
        mean_width_s: Option<f64> = fit.width_s,
        effective_readings: f64 = fit.effective,
        is_trusted: bool = fit.trust == Trust::Fair,
    }
}

#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "result", rename_all = "kebab-case")]
enum JointPart {
    Separate {
        on_time: SlopePart<PerSecond>,
        on_battery_voltage: SlopePart<PerVolt>,
        variance_inflation: f64,
    },
    Together {
        variance_inflation: f64,
    },
    Absent,
}

fn joint(joint: Joint) -> JointPart {
    match joint {
        Joint::Separate {
            on_time,
            on_voltage,
            inflation,
        } => JointPart::Separate {
            on_time: SlopePart::Fitted(PerSecond::new(&on_time)),
            on_battery_voltage: SlopePart::Fitted(PerVolt::new(&on_voltage)),
            variance_inflation: inflation,
        },
        Joint::Together { inflation } => JointPart::Together {
            variance_inflation: inflation,
        },
        Joint::Absent => JointPart::Absent,
    }
}

part! {
    struct PairingPart<'a>(comparison: &'a Comparison) with {
        let pairing = &comparison.pairing;
    } {
        frequency_source: Option<&'a str> = pairing.frequency_source.as_deref(),
        battery_source: Option<&'a str> = pairing.voltage_source.as_deref(),
        window_s: f64 = pairing.window_s,
        rule: String = pairing.to_string(),
        not_analysed: Vec<PassedOver<'a>> = comparison
            .passed_over()
            .map(|(source, summary)| PassedOver::new(source, summary))
            .collect(),
    }
}

part! {
    struct PassedOver<'a>(label: &'a str, summary: &ChannelSummary) {
        source: &'a str = label,
        channel: &'static str = summary.channel.column(),
        readings: usize = summary.readings,
    }
}

part! {
    struct ExcursionPart(excursion: &Excursion) {
        from_s: f64 = excursion.from_s,
        to_s: f64 = excursion.to_s,
        readings: usize = excursion.readings,
        low_hz: f64 = excursion.range_hz.low,
        high_hz: f64 = excursion.range_hz.high,
        deviation_hz: f64 = excursion.deviation_hz,
        deviation_ratio: f64 = excursion.ratio,
    }
}

part! {
    struct StopPart<'a>(stop: &'a Stop) {
        source: &'a str = &stop.source,
        from_s: f64 = stop.from_s,
        to_s: Option<f64> = stop.to_s,
        battery_from_v: Option<f64> = stop.battery_from_v,
        battery_to_v: Option<f64> = stop.battery_to_v,
    }
}

part! {
    struct GapPart<'a>(outage: &'a Outage) {
        source: &'a str = &outage.source,
        status: &'static str = outage.status.word(),
        reason: &'a str = &outage.reason,
        from_s: f64 = outage.from_s,
        to_s: Option<f64> = outage.to_s,
    }
}

part! {
    struct SourcePart<'a>(source: &'a SourceSummary) {
        source: &'a str = &source.source,
        rows: usize = source.rows,
        /// How many rows have each status.
        statuses: BTreeMap<&'static str, usize> = source.statuses().map(|(status, rows)| (status.word(), rows)).collect(),
        /// By column; values are in the unit that the column's name ends in.
        channels: BTreeMap<&'static str, ChannelPart> = source
            .channels
            .iter()
            .map(|summary| (summary.channel.column(), ChannelPart::new(summary)))
            .collect(),
    }
}

part! {
    struct ChannelPart(summary: &ChannelSummary) {
        readings: usize = summary.readings,
        first: f64 = summary.first,
        last: f64 = summary.last,
        min: f64 = summary.min,
        max: f64 = summary.max,
        mean: f64 = summary.mean,
        median: Option<f64> = summary.median(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json, to_value};

    use super::super::tests::{disturbed, model, switched};
    use super::*;
    use crate::analysis::compare::Compare;

    fn value(comparison: &Comparison) -> Value {
        to_value(Json::new(comparison, Beside::default())).unwrap()
    }

    #[test]
    fn an_empty_record_has_every_key_and_null_for_what_it_lacks() {
        let empty = Compare::default().report();
        let text = Json::new(&empty, Beside::default()).json().unwrap();
        insta::assert_snapshot!(text, @r#"
        {
          "schema": 1,
          "build_sheet_changed": false,
          "model": null,
          "start": null,
          "whole": null,
          "inside_band_ratio": null,
          "earth_stretches": [
            {
              "from_s": 0.0,
              "to_s": null,
              "earth": null,
              "model": null,
              "start": null,
              "whole": null,
              "inside_band_ratio": null
            }
          ],
          "drift": {
            "earth_stretch": 0,
            "on_time": {
              "result": "too-few",
              "readings": 0
            },
            "on_battery_voltage": {
              "result": "too-few",
              "readings": 0
            },
            "joint": {
              "result": "absent"
            },
            "stretches": 0,
            "levels": 1,
            "assumption": "intervals are 95 %, residuals of the means follow AR(1) with the rho beside them, battery voltage exact; where is_trusted is false they wander like a random walk and the interval is a lower bound"
          },
          "modelled_pushing": null,
          "explained": null,
          "interval_s": null,
          "pairing": {
            "frequency_source": null,
            "battery_source": null,
            "window_s": 1.0,
            "rule": "no frequency was read",
            "not_analysed": []
          },
          "excursions": [],
          "excursions_not_listed": 0,
          "readings_left_out": 0,
          "events": [],
          "events_not_listed": 0,
          "stops": [],
          "stops_not_listed": 0,
          "restarts": 0,
          "gaps": [],
          "gaps_not_listed": 0,
          "lamps": [],
          "rows": 0,
          "duration_s": 0.0,
          "sources": []
        }
        "#);
    }

    #[test]
    fn numbers_are_in_si_units_and_those_of_the_comparison() {
        let comparison = switched();
        let value = value(&comparison);
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
            value(&comparison)["start"]["looks_like_multiple"].clone()
        };
        assert_eq!(factor(2.9e6, 3.1e6), json!(2.0));
        assert_eq!(factor(11.5e6, 12.5e6), json!(0.5));
        assert_eq!(factor(5.9e6, 6.1e6), Value::Null);
        assert_eq!(factor(4e6, 4.1e6), Value::Null);
    }

    #[test]
    fn excursions_and_what_was_not_analysed_are_listed() {
        let value = value(&disturbed());
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
