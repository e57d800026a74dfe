//! Why a recording ended, in words; `session.toml` has them too.

use crate::recording::{End, StopSignal};
use crate::report::battery::words::minutes;
use crate::units::{Unit, exact};

/// Returns why a recording ended.
pub fn end(end: &End) -> String {
    match end {
        End::Duration => "the duration was reached".to_owned(),
        End::BatteryBelow { limit_v } => {
            format!("the battery was below {}", exact(*limit_v, Unit::Volt))
        }
        End::SteppedDown => "the battery's output stepped down".to_owned(),
        End::LittleLeft { left_s } => format!("the forecast said {} left", minutes(*left_s)),
        End::Stopped(signal) => match signal {
            StopSignal::HangUp => "the terminal went away (SIGHUP)".to_owned(),
            StopSignal::Terminate => "it was told to end (SIGTERM)".to_owned(),
            StopSignal::Interrupt => "Ctrl-C".to_owned(),
        },
        End::LogsEnded => "the logs are at their end".to_owned(),
        End::GivenUp(label) => format!("{label} did not come back"),
        End::OtherTime { source, scale } => {
            format!("the time of {source} runs {scale} times as fast as the recording's")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_end_says_why() {
        let ends = [
            End::Duration,
            End::BatteryBelow { limit_v: 6.5 },
            End::SteppedDown,
            End::LittleLeft { left_s: 290.0 },
            End::Stopped(StopSignal::HangUp),
            End::LogsEnded,
            End::GivenUp("counter".into()),
            End::OtherTime {
                source: "board".into(),
                scale: 20.0,
            },
        ];
        let words: Vec<String> = ends.iter().map(end).collect();
        insta::assert_snapshot!(words.join("\n"), @"
        the duration was reached
        the battery was below 6.5 V
        the battery's output stepped down
        the forecast said 5 min left
        the terminal went away (SIGHUP)
        the logs are at their end
        counter did not come back
        the time of board runs 20 times as fast as the recording's
        ");
    }
}
