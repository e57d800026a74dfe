//! The remarks on a battery while it runs: a few words for a line that moves, and sentences said once.

use super::outlook::log_it;
use super::words::{minutes, span};
use crate::battery::forecast::NoForecast;
use crate::battery::kind::Kind;
use crate::battery::outlook::Outlook;
use crate::battery::series::Weakest;
use crate::battery::watch::Alarm;
use crate::units::{Unit, rounded};

/// The time left in a few words, its band first.
pub fn left(looked: &Outlook) -> String {
    match (&looked.said, looked.stepped_s, looked.by_log_s) {
        (_, Some(_), _) => "stepped down, nearly empty".to_owned(),
        (Ok(said), ..) if said.is_too_wide() => format!("at least {} left", minutes(said.low_s)),
        (Ok(said), ..) => format!(
            "{} left, middle {}",
            span(said.low_s, said.high_s),
            minutes(said.middle_s)
        ),
        (Err(NoForecast::HoldsVoltage(_)), None, Some(left_s)) => {
            format!("{} left by its log", span(left_s.low, left_s.high))
        }
        (
            Err(NoForecast::TooEarly {
                elapsed_s,
                wanted_s,
            }),
            ..,
        ) => format!("time left: known in {}", minutes(wanted_s - elapsed_s)),
        (Err(_), ..) => "time left: not known".to_owned(),
    }
}

/// Returns why there is no forecast, and what would help.
pub fn refused(refused: NoForecast, looked: &Outlook, kind: Option<Kind>) -> String {
    let helps = match (refused, looked.by_log_s) {
        (NoForecast::HoldsVoltage(_), Some(left_s)) => {
            format!(
                "By its own log, as it was full at the start: {} left.",
                span(left_s.low, left_s.high)
            )
        }
        (NoForecast::HoldsVoltage(_), None) | (NoForecast::NoCurves, _) => log_it(kind).to_owned(),
        (NoForecast::NoEnd, _) => "Give that voltage with --battery-end 6.5V.".to_owned(),
        (NoForecast::TooEarly { .. }, _) => String::new(),
    };
    format!("time left: not known: {refused}. {helps}")
        .trim_end()
        .to_owned()
}

/// An alarm in a sentence.
pub fn alarm(alarm: Alarm, looked: &Outlook, end_v: Option<f64>) -> String {
    match alarm {
        Alarm::LittleLeft => format!("battery: little left, {}", left(looked)),
        Alarm::TurnsDown => {
            "battery: the voltage turns down: minutes left. This is an alarm, not a forecast."
                .to_owned()
        }
        Alarm::SteppedDown => format!(
            "battery: its output stepped down{}: this design is warning that it is nearly empty. In one measured log \
             of this design 6 % of the run was left. Finish now.",
            looked
                .stepped_s
                .map_or_else(String::new, |at_s| format!(" at {}", minutes(at_s)))
        ),
        Alarm::BelowEnd => format!(
            "battery: below its end{}: stop now, a weak cell is being reversed, and it can leak or grow hot.",
            end_v.map_or_else(String::new, |end_v| format!(
                " of {}",
                rounded(end_v, Unit::Volt, 3)
            ))
        ),
    }
}

/// One of several in series is far behind the others.
pub fn behind(weakest: Weakest, end_v: Option<f64>) -> String {
    let end = end_v.map_or_else(String::new, |end_v| {
        format!("; stop at {} together", rounded(end_v, Unit::Volt, 4))
    });
    format!(
        "battery {} is {} behind: it is empty first, and the others would reverse it{end}",
        weakest.place,
        rounded(weakest.behind_v, Unit::Volt, 2)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::forecast::{Level, TimeLeft};
    use crate::battery::outlook::Basis;
    use crate::battery::question::Claim;
    use crate::battery::series::weakest;
    use crate::units::Span;

    fn looked(said: Result<(f64, f64, f64), NoForecast>) -> Outlook {
        Outlook {
            said: said.map(|(low_s, middle_s, high_s)| TimeLeft {
                elapsed_s: 1200.0,
                low_s,
                middle_s,
                high_s,
                claim: Claim::Agrees,
            }),
            end: None,
            basis: Basis::Own(2),
            widening: 1.0,
            by_log_s: None,
            stepped_s: None,
            past_knee: false,
        }
    }

    #[test]
    fn the_band_comes_first_and_a_band_too_wide_says_its_foot_alone() {
        let words = |said| left(&looked(said));
        insta::assert_snapshot!(words(Ok((720.0, 900.0, 1140.0))), @"12 to 19 min left, middle 15 min");
        insta::assert_snapshot!(words(Ok((720.0, 2000.0, 19_000.0))), @"at least 12 min left");
        let early = NoForecast::TooEarly {
            elapsed_s: 60.0,
            wanted_s: 300.0,
        };
        insta::assert_snapshot!(words(Err(early)), @"time left: known in 4 min");
        insta::assert_snapshot!(words(Err(NoForecast::NoCurves)), @"time left: not known");
    }

    #[test]
    fn a_battery_that_holds_its_voltage_is_answered_from_its_log_or_told_what_to_log() {
        let mut held = looked(Err(NoForecast::HoldsVoltage(Level::Converter)));
        insta::assert_snapshot!(refused(NoForecast::HoldsVoltage(Level::Converter), &held, Some(Kind::UsbConverter)), @"time left: not known: this battery holds its voltage until it stops: its voltage does not tell how long is left. Charge it fully, note that with --battery-start full, run it to its cut-off once, and its log can tell the next time.");
        held.by_log_s = Some(Span::new(1020.0, 1380.0));
        insta::assert_snapshot!(refused(NoForecast::HoldsVoltage(Level::Converter), &held, Some(Kind::UsbConverter)), @"time left: not known: this battery holds its voltage until it stops: its voltage does not tell how long is left. By its own log, as it was full at the start: 17 to 23 min left.");
        insta::assert_snapshot!(left(&held), @"17 to 23 min left by its log");
    }

    #[test]
    fn alarms_say_what_to_do() {
        let last = looked(Ok((200.0, 290.0, 400.0)));
        let all: Vec<String> = Alarm::ALL
            .into_iter()
            .map(|one| alarm(one, &last, Some(7.0)))
            .collect();
        insta::assert_snapshot!(all.join("\n"), @"
        battery: little left, 3 to 7 min left, middle 5 min
        battery: the voltage turns down: minutes left. This is an alarm, not a forecast.
        battery: its output stepped down: this design is warning that it is nearly empty. In one measured log of this design 6 % of the run was left. Finish now.
        battery: below its end of 7.00 V: stop now, a weak cell is being reversed, and it can leak or grow hot.
        ");
    }

    #[test]
    fn a_battery_that_is_behind_is_told_with_where_to_stop() {
        let weakest = weakest(&[9.42, 9.10]).unwrap();
        insta::assert_snapshot!(behind(weakest, Some(11.12)), @"battery 2 is 320 mV behind: it is empty first, and the others would reverse it; stop at 11.12 V together");
    }
}
