//! The columns of `forecast.csv`.

/// The form of a column.
#[derive(Debug, Clone, Copy)]
pub(super) enum Form {
    Time,
    /// Seconds, each row later than the one before.
    Decimal,
    Number,
    Text,
    Words(&'static [&'static str]),
}

/// Why there is a time left or none.
const SAID: &[&str] = &[
    "forecast",
    "too-early",
    "holds-voltage",
    "no-end",
    "no-curves",
];

const ALARMS: &[&str] = &["little-left", "turns-down", "stepped-down", "below-end"];

/// Name, description and form of each column.
pub(super) const COLUMNS: [(&str, &str, Form); 14] = [
    (
        "timestamp",
        "wall time in UTC of the last row that was looked at",
        Form::Time,
    ),
    (
        "elapsed_s",
        "seconds since the session began, rising",
        Form::Decimal,
    ),
    ("running_s", "seconds under load", Form::Number),
    ("battery_v", "battery voltage under load in V", Form::Number),
    ("charge_ah", "charge given so far in Ah", Form::Number),
    (
        "charge_from",
        "where the current for it comes from",
        Form::Words(&["measured", "estimated"]),
    ),
    (
        "said",
        "whether there is a forecast from the voltage, else why not",
        Form::Words(SAID),
    ),
    (
        "left_low_s",
        "foot of the 90 % band of the time left in s",
        Form::Number,
    ),
    (
        "left_middle_s",
        "middle of it; empty where the band is too wide for one",
        Form::Number,
    ),
    ("left_high_s", "top of it", Form::Number),
    (
        "log_low_s",
        "foot of the time left by the battery's own full runs alone in s",
        Form::Number,
    ),
    ("log_high_s", "top of it", Form::Number),
    ("basis", "the curves that the forecast rests on", Form::Text),
    (
        "alarm",
        "the most urgent alarm that stands",
        Form::Words(ALARMS),
    ),
];
