//! How far the frequency moved from the begin of a session to its end, and the battery's change meanwhile.

use crate::analysis::compare::{Comparison, Traces};
use crate::analysis::drift::{Fitted, Joint, Slope, Trust};
use crate::analysis::estimate::to_place_of;
use crate::analysis::level::START_S;
use crate::analysis::trace::Sample;
use crate::report::layout::kept;
use crate::units::{Span, Unit, rounded};

/// A drift per hour from less than this says nothing, in seconds. Chosen.
const LEAST_FOR_RATE_S: f64 = 600.0;
/// An interval that rests on fewer effective readings says nothing. Chosen.
const LEAST_EFFECTIVE: f64 = 3.0;
/// A change over less than this is not looked for, in seconds: begin and end would be the same readings. Chosen.
const LEAST_S: f64 = 3.0 * START_S;
/// A battery that moved by less is called steady, in volts. Chosen.
const STEADY_V: f64 = 0.05;

/// The change from the first to the last ten seconds of the longest stretch, without the moments at which something came near.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Change {
    /// The time between first and last reading, in seconds.
    pub(super) over_s: f64,
    change_hz: f64,
    /// How far the readings scatter at either end, in hertz.
    scatter_hz: f64,
    battery_v: Option<(f64, f64)>,
}

impl Change {
    /// The change of a session; `None` where it is too short for one.
    pub(super) fn of(comparison: &Comparison, traces: &Traces) -> Option<Self> {
        let stretch = comparison.stretches.get(comparison.longest)?;
        let is_calm = |sample: &Sample| {
            let at_s = sample.stamp.elapsed_s();
            let excursions = &comparison.excursions.entries;
            stretch.stretch.from_s <= at_s
                && stretch.to_s.is_none_or(|to_s| at_s < to_s)
                && !excursions
                    .iter()
                    .any(|one| one.from_s <= at_s && at_s <= one.to_s)
        };
        let pieces = traces.frequency.pieces();
        let calm: Vec<Sample> = pieces.into_iter().flatten().filter(is_calm).collect();
        let from_s = calm.first()?.stamp.elapsed_s();
        let to_s = calm.last()?.stamp.elapsed_s();
        let over_s = to_s - from_s;
        if over_s < LEAST_S {
            return None;
        }
        let near = |at_s: f64| {
            let is_near = |one: &&Sample| (one.stamp.elapsed_s() - at_s).abs() <= START_S;
            End::of(&calm.iter().filter(is_near).collect::<Vec<_>>())
        };
        let (begin, end) = (near(from_s)?, near(to_s)?);
        Some(Self {
            over_s,
            change_hz: end.hertz - begin.hertz,
            scatter_hz: begin.scatter_hz.max(end.scatter_hz),
            battery_v: begin.volts.zip(end.volts),
        })
    }
}

/// One end of it.
struct End {
    hertz: f64,
    scatter_hz: f64,
    volts: Option<f64>,
}

impl End {
    fn of(samples: &[&Sample]) -> Option<Self> {
        let hertz = || samples.iter().map(|sample| sample.value);
        Some(Self {
            hertz: median(hertz())?,
            scatter_hz: Span::over(hertz()).width(),
            volts: median(samples.iter().filter_map(|sample| sample.battery_v)),
        })
    }
}

/// The middle one, the lower of two.
fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len().saturating_sub(1) / 2).copied()
}

/// A time in words, as well as a person needs it.
pub(super) fn lasting(seconds: f64) -> String {
    let minutes = seconds / 60.0;
    let text = if seconds < 99.5 {
        format!("{seconds:.0} s")
    } else if minutes < 9.95 {
        format!("{minutes:.1} min")
    } else if minutes < 99.5 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.1} h", minutes / 60.0)
    };
    kept(&text)
}

/// `once`, `twice`, `7 times`.
pub(super) fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        count => kept(&format!("{count} times")),
    }
}

/// A value with two digits at the most, fewer where its uncertainty allows no more.
fn two_digits(value: f64, uncertainty: f64, per: &str) -> String {
    let text = to_place_of(value, uncertainty.max(value.abs()), Unit::Hertz);
    kept(&format!("{text}{per}"))
}

/// Returns how far it moved while the battery changed.
pub(super) fn sentence(comparison: &Comparison, change: Option<&Change>) -> String {
    let Some(change) = change else {
        let over = lasting(comparison.summary.duration_s());
        return format!("At {over}, the recording is too short to show a drift.");
    };
    let size = two_digits(change.change_hz.abs(), 0.0, "");
    let moved = if change.change_hz.abs() <= change.scatter_hz {
        let scatter = two_digits(change.scatter_hz, 0.0, "");
        if change.scatter_hz > 0.0 {
            format!("stayed within {scatter}")
        } else {
            "did not move".to_owned()
        }
    } else if change.change_hz < 0.0 {
        format!("fell by {size}")
    } else {
        format!("rose by {size}")
    };
    let battery = match change.battery_v {
        None => "; no battery voltage was read beside it".to_owned(),
        Some((from, to)) if (to - from).abs() < STEADY_V => {
            format!(
                " while the battery stayed at {}",
                kept(&rounded(from, Unit::Volt, 3))
            )
        }
        Some((from, to)) => {
            let volts = |value_v| kept(&to_place_of(value_v, (to - from).abs(), Unit::Volt));
            format!(
                " while the battery went from {} to {}",
                volts(from),
                volts(to)
            )
        }
    };
    format!("Over {} it {moved}{battery}.", lasting(change.over_s))
}

/// The rates, where the recording is long enough for them.
pub(super) fn rate(comparison: &Comparison, change: Option<&Change>) -> Option<String> {
    change.filter(|change| change.over_s >= LEAST_FOR_RATE_S)?;
    let drift = &comparison.drift;
    if let Joint::Separate {
        on_time,
        on_voltage,
        ..
    } = drift.joint
    {
        let (per_hour, per_volt) = (
            written(&on_time, 3600.0, "/h")?,
            written(&on_voltage, 1.0, "/V")?,
        );
        return Some(format!(
            "Separated: {per_volt} by the battery, {per_hour} by time at a steady battery."
        ));
    }
    let Slope::Fitted(on_time) = drift.on_time else {
        return None;
    };
    let per_hour = written(&on_time, 3600.0, "/h")?;
    let by = match drift.joint {
        Joint::Together { .. } => ", by time and battery together",
        _ => "",
    };
    Some(format!("The trend is {per_hour}{by}."))
}

/// A slope with its interval where that says something; `None` where too few readings bear it.
fn written(fit: &Fitted, factor: f64, per: &str) -> Option<String> {
    if fit.effective < LEAST_EFFECTIVE {
        return None;
    }
    let slope = fit.slope.scaled(factor);
    let value = two_digits(slope.value, slope.half_width, per);
    // Beside two digits, a narrower interval does not show.
    if slope.half_width < 0.05 * slope.value.abs() {
        return Some(value);
    }
    let half_width = two_digits(slope.half_width, slope.value.abs(), per);
    let or_more = match fit.trust {
        Trust::Fair => "",
        Trust::Wandering => " or more",
    };
    Some(format!("{value} ± {half_width}{or_more}"))
}
