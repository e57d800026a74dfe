//! Exit codes, and failures with the hint that helps.

use std::process::ExitCode;

use crate::coil::fit::FitError;
use crate::coil::predict::PredictError;
use crate::logbook::LogbookError;
use crate::plain::{Shown as _, with_causes};
use crate::session::SessionError;
use crate::sheet::{drive::WhyNone, supply::SupplyError};

/// Done.
pub(super) const DONE: u8 = 0;
/// Done, and the answer is "no": with `--strict`, or nothing explains a measured resonance.
pub(super) const ANSWER_IS_NO: u8 = 1;
/// Usage, or a bad file.
pub(super) const USAGE: u8 = 2;
/// The instrument can't be opened, is silent or talks nonsense.
pub(super) const INSTRUMENT: u8 = 3;
/// The result can't be written.
pub(super) const CANNOT_WRITE: u8 = 4;

/// The codes as `--help` shows them.
pub(super) const TABLE: &str = "\
Exit codes:
  0    done
  1    done, and the answer is \"no\": with --strict, or --fit finds no explanation
  2    wrong usage, or a bad file
  3    an instrument cannot be opened, is silent or sends unreadable data
  4    the result can't be written
  129, 130, 143   a requested duration was cut short by SIGHUP, SIGINT, SIGTERM";

/// Why a command failed: the text to print, the advice, and the exit code.
#[derive(Debug)]
pub(super) struct Failure {
    pub(super) code: u8,
    pub(super) message: String,
    pub(super) hint: Option<String>,
}

impl Failure {
    pub(super) fn new(code: u8, message: impl Into<String>) -> Self {
        Self {
            code,
            message: message.into(),
            hint: None,
        }
    }

    #[must_use]
    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// A failure because a build has no circuit for a result.
    pub(super) fn no_circuit(wanted: &str, build: &str, why: WhyNone) -> Self {
        let text =
            format!("{wanted} of {build}: {why}: expected a coil that the model can compute");
        Self::new(USAGE, text)
    }

    /// A failure described by an error and its causes.
    pub(super) fn from_error(code: u8, error: &dyn std::error::Error) -> Self {
        Self::new(code, with_causes(error))
    }
}

impl From<PredictError> for Failure {
    fn from(error: PredictError) -> Self {
        Self::from_error(USAGE, &error)
            .hint("a measured frequency in the sheet, under [measured], takes the model's place")
    }
}

impl From<SessionError> for Failure {
    fn from(error: SessionError) -> Self {
        let failure = Self::from_error(USAGE, &error);
        match &error {
            SessionError::NotASession { .. } => {
                failure.hint("name the folder that record made, the one with session.toml in it")
            }
            SessionError::Damaged { path, .. } => {
                let dir = path.parent().unwrap_or(path).shown();
                failure.hint(format!(
                    "its rows may be whole; copy them with: sagtrace check {dir} --repair"
                ))
            }
            _ => failure,
        }
    }
}

impl From<LogbookError> for Failure {
    fn from(error: LogbookError) -> Self {
        let hint = match error {
            LogbookError::Session(error) => return error.into(),
            LogbookError::Coil(error) => return error.into(),
            LogbookError::Supply(error) => return error.into(),
            LogbookError::Sheet { .. } => Some("see every key with: sagtrace sheet template"),
            LogbookError::NoStop { .. } => Some(
                "draw without --coil-stop, or record with a build sheet: sagtrace record -b SHEET",
            ),
            LogbookError::HasGoodDay(_) => Some("--force moves it aside; it is never deleted"),
            LogbookError::Multiple { .. } => Some(
                "it looks like a harmonic (or a gate setting); look at the signal with a scope",
            ),
            LogbookError::Fit(FitError::OutOfReach { .. }) => Some(
                "try another of --fit winding, earth, top and former, or count turns and measure the coil again",
            ),
            LogbookError::OtherBuild { .. } | LogbookError::NoReading | LogbookError::Fit(_) => {
                None
            }
        };
        let code = match error {
            LogbookError::Fit(FitError::OutOfReach { .. } | FitError::NotSettled) => ANSWER_IS_NO,
            _ => USAGE,
        };
        let failure = Self::from_error(code, &error);
        match hint {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    }
}

impl From<SupplyError> for Failure {
    fn from(error: SupplyError) -> Self {
        match error {
            SupplyError::Coil(error) => error.into(),
            SupplyError::Circuit { .. } => Self::from_error(USAGE, &error)
                .hint("measure the current once and type it, like --load 0.3A"),
        }
    }
}

/// How a command ended that did not fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Outcome(pub(super) u8);

impl Outcome {
    pub(super) const DONE: Self = Self(DONE);
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        Self::from(outcome.0)
    }
}
