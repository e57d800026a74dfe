//! Words that all reports of batteries share.

pub(in crate::report) fn minutes(time_s: f64) -> String {
    format!("{:.0} min", time_s / 60.0)
}

/// A band of time, to the minute.
pub(in crate::report) fn span(low_s: f64, high_s: f64) -> String {
    if high_s < 60.0 {
        return "less than a minute".to_owned();
    }
    format!("{:.0} to {}", low_s / 60.0, minutes(high_s))
}

/// `1 run`, `2 runs`.
pub(in crate::report) fn counted(count: usize, one: &str, several: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { several })
}
