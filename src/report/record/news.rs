//! The news of a recording in words, a line each.

use super::board_clock;
use crate::caution::Caution;
use crate::plain::{Shown as _, with_causes};
use crate::recording::{FromInstrument, News};
use crate::report::battery::live;

/// Returns a fact in words; `None` for those shown otherwise: rows, their header, and the time left.
pub fn news(news: &News) -> Option<String> {
    Some(match news {
        News::Header(_) | News::Rows { .. } | News::Forecast(_) => return None,
        News::MovedAside(aside) => format!("moved what was there to {}", aside.shown()),
        News::Begins(dir) => format!("recording to {}", dir.shown()),
        News::Marked(text) => format!("marked: {text}"),
        News::Instrument(source, what) => instrument(source, what),
        News::DiskFull => {
            "the disk is full: nothing is written until there is room again".to_owned()
        }
        News::RoomAgain(missing) => format!("there is room again; {missing}"),
        News::RefusedMissing(count) => {
            format!("the disk is still full: {count} refused texts are missing")
        }
        News::BatteryBehind { weakest, end_v } => live::behind(*weakest, *end_v),
        News::MayRipple(_) => Caution::Ripple.words().to_owned(),
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

fn instrument(source: &str, what: &FromInstrument) -> String {
    match what {
        FromInstrument::Identity(text) => format!("{source} is {text}"),
        FromInstrument::Lost(reason) => format!("{source} is lost: {reason}; waiting for it"),
        FromInstrument::Back => format!("{source} is back"),
        FromInstrument::Message(text) => format!("{source}: {text}"),
        FromInstrument::Ended(fault) => format!("{source} ended: {fault}"),
        FromInstrument::MostlyNoText => format!(
            "{source} sends mostly bytes that are no text: is the speed right? set another with ,baud=N"
        ),
        FromInstrument::NothingYet(note) => {
            format!("{source} gives nothing that can be read yet: {note}")
        }
        FromInstrument::PartOnly(note) => format!("{source} gives a part of its values: {note}"),
        FromInstrument::Odd(status, note) => format!("{source} is {status}: {note}"),
        FromInstrument::Clock(rate) => format!("{source}: {}", board_clock::text(*rate)),
        FromInstrument::BytesEnd(why) => {
            format!("the byte log of {source} ends here: {why}; the recording goes on")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Status;
    use crate::recording::Missing;

    #[test]
    fn each_fact_is_a_line_and_rows_are_none() {
        let of = |what| News::Instrument("counter".into(), what);
        let facts = [
            News::MovedAside("out.before-1".into()),
            News::Begins("out".into()),
            News::Marked("doors open".to_owned()),
            of(FromInstrument::Identity("maker,counter".to_owned())),
            of(FromInstrument::Lost("unplugged".to_owned())),
            of(FromInstrument::Back),
            of(FromInstrument::MostlyNoText),
            of(FromInstrument::NothingYet("no answer".to_owned())),
            of(FromInstrument::Odd(Status::Stale, "the same".to_owned())),
            of(FromInstrument::BytesEnd("no space".to_owned())),
            News::DiskFull,
            News::RoomAgain(Missing { rows: 3, marks: 0 }),
            News::RoomAgain(Missing { rows: 3, marks: 2 }),
            News::RefusedMissing(7),
        ];
        let lines: Vec<String> = facts.iter().filter_map(news).collect();
        insta::assert_snapshot!(lines.join("\n"), @"
        moved what was there to out.before-1
        recording to out
        marked: doors open
        counter is maker,counter
        counter is lost: unplugged; waiting for it
        counter is back
        counter sends mostly bytes that are no text: is the speed right? set another with ,baud=N
        counter gives nothing that can be read yet: no answer
        counter is stale: the same
        the byte log of counter ends here: no space; the recording goes on
        the disk is full: nothing is written until there is room again
        there is room again; 3 rows are missing
        there is room again; 3 rows and 2 marks are missing
        the disk is still full: 7 refused texts are missing
        ");
        assert_eq!(news(&News::Header("timestamp\n".to_owned())), None);
    }
}
