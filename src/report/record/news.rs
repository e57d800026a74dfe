//! The news of a recording in words, a line each.

use super::board_clock;
use crate::plain::{Shown as _, with_causes};
use crate::recording::News;
use crate::report::battery::live;

/// Returns a fact in words; `None` for what is shown otherwise: rows, their header, and the time left.
pub fn news(news: &News) -> Option<String> {
    Some(match news {
        News::Header(_) | News::Rows { .. } | News::Forecast(_) => return None,
        News::MovedAside(aside) => format!("moved what was there to {}", aside.shown()),
        News::Begins(dir) => format!("recording to {}", dir.shown()),
        News::Marked(text) => format!("marked: {text}"),
        News::Identity { source, text } => format!("{source} is {text}"),
        News::Lost { source, reason } => format!("{source} is lost: {reason}; waiting for it"),
        News::Back(source) => format!("{source} is back"),
        News::Message { source, text } => format!("{source}: {text}"),
        News::Ended { source, fault } => format!("{source} ended: {fault}"),
        News::MostlyNoText(source) => format!(
            "{source} sends mostly bytes that are no text: is the speed right? set another with ,baud=N"
        ),
        News::NothingYet { source, note } => {
            format!("{source} gives nothing that can be read yet: {note}")
        }
        News::PartOnly { source, note } => format!("{source} gives a part of its values: {note}"),
        News::Odd {
            source,
            status,
            note,
        } => format!("{source} is {status}: {note}"),
        News::BoardClock { source, rate } => format!("{source}: {}", board_clock::text(*rate)),
        News::DiskFull => {
            "the disk is full: nothing is written until there is room again".to_owned()
        }
        News::RoomAgain(missing) => format!("there is room again; {missing}"),
        News::RefusedMissing(count) => {
            format!("the disk is still full: {count} refused texts are missing")
        }
        News::BytesEnd { source, why } => {
            format!("the byte log of {source} ends here: {why}; the recording goes on")
        }
        News::BatteryBehind { weakest, end_v } => live::behind(*weakest, *end_v),
        News::MayRipple(_) => live::RIPPLE.to_owned(),
        News::NoForecast { why, looked, kind } => live::refused(*why, looked, *kind),
        News::Alarm {
            alarm,
            looked,
            end_v,
        } => live::alarm(*alarm, looked, *end_v),
        News::ForecastsUnwritten(error) => format!(
            "{}; recording goes on, forecasts are only shown",
            with_causes(error)
        ),
    })
}
