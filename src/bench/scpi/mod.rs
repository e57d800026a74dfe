//! Instruments that answer by SCPI, on the `scpi` crate's parser: a counter that reads volts too, and a scope.

use std::collections::VecDeque;
use std::fmt;

use scpi::error::ErrorCode;
use scpi::{Context, Device as _};

use super::world::{Moment, World};
use super::{Instrument, LineEnd};

mod commands;
mod number;
mod panel;
mod parameters;
mod sampling;
mod trace;

pub use number::Resolution;
pub use panel::Model;
pub use sampling::{Form, Sampling};

use commands::{COUNTER, SCOPE};
use panel::Panel;

/// Bytes of one message at most; a longer one is thrown away with error -363.
const LONGEST_MESSAGE: usize = 1024;

/// An instrument that answers by SCPI.
pub struct Scpi {
    panel: Panel,
    end: LineEnd,
    heard: Vec<u8>,
    overrun: bool,
}

impl Scpi {
    /// Creates an instrument; `resolution` is that of the frequency, the other quantities have a fitting one.
    pub fn new(model: Model, resolution: Resolution, end: LineEnd) -> Self {
        let sampling = Sampling::default();
        Self {
            panel: Panel {
                model,
                time_scale: 1,
                resolution,
                moment: None,
                errors: VecDeque::new(),
                sampling,
                form: sampling.form,
                traces: 0,
                block_len: 0,
            },
            end,
            heard: Vec::new(),
            overrun: false,
        }
    }

    /// Creates a counter that reads to 0.1 Hz, ended by a line feed.
    pub fn counter() -> Self {
        Self::new(Model::Counter, Resolution::Decade(-1), LineEnd::Lf)
    }

    /// Creates a scope that reads to four digits, ended by a line feed.
    pub fn scope() -> Self {
        Self::new(Model::Scope, Resolution::Digits(4), LineEnd::Lf)
    }

    /// Creates a scope that samples its waveforms so.
    pub fn scope_sampling(sampling: Sampling) -> Self {
        let mut scope = Self::scope();
        scope.panel.sampling = sampling;
        scope.panel.form = sampling.form;
        scope
    }

    /// Returns the same instrument in a world whose time runs that many times faster than real; its identity says so.
    #[must_use]
    pub fn in_time(mut self, scale: u32) -> Self {
        self.panel.time_scale = scale;
        self
    }

    /// Returns the answer to one message; `None` when it asked nothing that could be answered.
    fn answer(&mut self, message: &[u8], moment: Moment) -> Option<Vec<u8>> {
        let tree = match self.panel.model {
            Model::Counter => COUNTER,
            Model::Scope => SCOPE,
        };
        self.panel.moment = Some(moment);
        self.panel.block_len = 0;
        let mut answer = Vec::new();
        // A fault ends the message and is in the queue by now; the queries before it are still answered.
        tree.run(message, &mut self.panel, &mut Context::new(), &mut answer)
            .ok();
        // A block may end in these bytes too; it comes alone, and is longer than its samples by its head.
        while answer.len() > head_len(self.panel.block_len) + self.panel.block_len
            && matches!(answer.last(), Some(b'\n' | b';'))
        {
            answer.pop();
        }
        if answer.is_empty() {
            return None;
        }
        answer.extend_from_slice(self.end.bytes());
        Some(answer)
    }
}

/// Returns how many bytes stand before the samples of a block: `#`, a digit, and the length.
fn head_len(block_len: usize) -> usize {
    match block_len.checked_ilog10() {
        Some(digits) => 3 + digits as usize,
        None => 0,
    }
}

impl fmt::Debug for Scpi {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Scpi")
            .field("model", &self.panel.model)
            .finish_non_exhaustive()
    }
}

impl Instrument for Scpi {
    /// Opening a line clears half a message that the one before left.
    fn opened(&mut self) -> Vec<Vec<u8>> {
        self.heard.clear();
        self.overrun = false;
        Vec::new()
    }

    fn hear(&mut self, bytes: &[u8], world: &World, elapsed_s: f64) -> Vec<Vec<u8>> {
        let mut answers = Vec::new();
        for &byte in bytes {
            if byte != b'\n' {
                self.overrun |= self.heard.len() == LONGEST_MESSAGE;
                if !self.overrun {
                    self.heard.push(byte);
                }
                continue;
            }
            let message = std::mem::take(&mut self.heard);
            if std::mem::take(&mut self.overrun) {
                self.panel
                    .handle_error(ErrorCode::InputBufferOverrun.into());
            } else {
                let message = message.strip_suffix(b"\r").unwrap_or(&message);
                answers.extend(self.answer(message, world.at(elapsed_s)));
            }
        }
        answers
    }
}

#[cfg(test)]
mod tests {
    use super::super::world::{Restart, Stop, WorldSpec};
    use super::panel::QUEUE_LENGTH;
    use super::*;
    use proptest::prelude::*;

    fn world() -> World {
        World::new(WorldSpec::steady(6_231_234.56, 8.9124)).unwrap()
    }

    fn stopped() -> World {
        let mut spec = WorldSpec::steady(6_231_234.56, 8.9124);
        spec.stop = Some(Stop {
            below_v: 9.0,
            restart: Restart::Never,
        });
        World::new(spec).unwrap()
    }

    /// All that comes back, as text.
    fn ask(instrument: &mut Scpi, message: &str) -> String {
        let answers = instrument.hear(format!("{message}\n").as_bytes(), &world(), 1.0);
        String::from_utf8(answers.concat()).unwrap()
    }

    #[test]
    fn short_and_long_forms_in_any_case_are_one_command() {
        let mut counter = Scpi::counter();
        for message in [
            "MEASure:FREQuency?",
            "meas:freq?",
            ":Meas:FREQUENCY?",
            "MEASURE:freq? (@1)",
            "MEAS:FREQ? 6E6,0.1",
        ] {
            assert_eq!(ask(&mut counter, message), "+6.2312346E+06\n", "{message}");
        }
        for message in ["MEAS:VOLT:DC?", "MEAS:VOLT?", "MEASure:VOLTage?"] {
            assert_eq!(ask(&mut counter, message), "+8.912E+00\n", "{message}");
        }
        assert_eq!(ask(&mut counter, "MEAS:CURR?"), "+3.000E-01\n");
        assert_eq!(ask(&mut counter, "MEAS:TEMP?"), "+2.00E+01\n");
        assert_eq!(
            ask(&mut counter, "MEASU:FREQ?"),
            "",
            "neither short nor long"
        );
    }

    #[test]
    fn an_unknown_header_is_not_answered_and_stands_in_the_queue_as_113() {
        let mut counter = Scpi::counter();
        assert_eq!(ask(&mut counter, "MEAS:RES?"), "");
        assert_eq!(ask(&mut counter, "*IDN"), "", "there is no such command");
        assert_eq!(
            ask(&mut counter, "SYST:ERR?"),
            "-113,\"Undefined header\"\n"
        );
        assert_eq!(
            ask(&mut counter, "SYSTem:ERRor:NEXT?"),
            "-113,\"Undefined header\"\n"
        );
        assert_eq!(ask(&mut counter, "SYST:ERR?"), "0,\"No error\"\n");
    }

    #[test]
    fn the_queue_is_emptied_by_cls_kept_by_rst_and_ends_in_an_overflow() {
        let mut counter = Scpi::counter();
        for _ in 0..QUEUE_LENGTH + 5 {
            ask(&mut counter, "BOGUS?");
        }
        ask(&mut counter, "*RST");
        let errors: Vec<String> = (0..=QUEUE_LENGTH)
            .map(|_| ask(&mut counter, "SYST:ERR?"))
            .collect();
        assert!(errors[0].starts_with("-113,"));
        assert_eq!(errors[QUEUE_LENGTH - 1], "-350,\"Queue overflow\"\n");
        assert_eq!(errors[QUEUE_LENGTH], "0,\"No error\"\n");
        ask(&mut counter, "BOGUS?");
        assert_eq!(ask(&mut counter, "*CLS;*OPC?"), "1\n");
        assert_eq!(ask(&mut counter, "SYST:ERR?"), "0,\"No error\"\n");
    }

    #[test]
    fn compound_messages_keep_the_path_and_give_one_answer() {
        let mut counter = Scpi::counter();
        assert_eq!(
            ask(&mut counter, "MEAS:FREQ?;VOLT?;*OPC?;:MEAS:CURR?"),
            "+6.2312346E+06;+8.912E+00;1;+3.000E-01\n"
        );
        assert_eq!(
            ask(&mut counter, "MEAS:VOLT?;BOGUS?;FREQ?"),
            "+8.912E+00\n",
            "what stands before the fault is answered, what stands after it is not"
        );
        assert_eq!(
            ask(&mut counter, "SYST:ERR?"),
            "-113,\"Undefined header\"\n"
        );
    }

    #[test]
    fn a_wrong_parameter_is_refused_without_half_an_answer() {
        let mut counter = Scpi::counter();
        for (message, code) in [
            ("*IDN? 5", "-108"),
            ("*OPC? 5", "-108"),
            ("MEAS:FREQ? 1,2,3", "-108"),
            ("MEAS:FREQ? (@1),3", "-108"),
            ("MEAS:FREQ? (@2)", "-222"),
            ("MEAS:FREQ? (@)", "-171"),
            ("MEAS:FREQ? 'x'", "-104"),
        ] {
            assert_eq!(ask(&mut counter, message), "", "{message}");
            let error = ask(&mut counter, "SYST:ERR?");
            assert!(error.starts_with(code), "{message}: {error}");
        }
    }

    #[test]
    fn identities_have_four_fields_and_say_which_model() {
        let version = env!("CARGO_PKG_VERSION");
        assert_eq!(
            ask(&mut Scpi::counter(), "*IDN?"),
            format!("sagtrace,virtual counter,0,{version}\n")
        );
        assert_eq!(
            ask(&mut Scpi::scope(), "*idn?"),
            format!("sagtrace,virtual scope,0,{version}\n")
        );
    }

    #[test]
    fn the_scope_reads_the_pick_up_on_one_channel_and_the_battery_on_the_other() {
        let mut scope = Scpi::scope();
        for (message, want) in [
            ("MEAS:VOLT:FREQ? (@1)", "+6.231E+06\n"),
            ("MEAS:VOLT:PTP? (@1)", "+3.000E+00\n"),
            ("MEASure:VOLTage:PTPeak?", "+3.000E+00\n"),
            ("MEAS:VOLT? (@2)", "+8.912E+00\n"),
            ("MEAS:VOLT:DC? (@2)", "+8.912E+00\n"),
            ("MEAS:VOLT:DC? (@1:2)", "+0.000E+00,+8.912E+00\n"),
            ("MEAS:VOLT:FREQ? (@1,2)", "+6.231E+06,9.91E+37\n"),
        ] {
            assert_eq!(ask(&mut scope, message), want, "{message}");
        }
    }

    #[test]
    fn a_stopped_coil_reads_as_not_a_number() {
        let answer = |instrument: &mut Scpi, message: &[u8]| {
            instrument.hear(message, &stopped(), 10.0).concat()
        };
        assert_eq!(answer(&mut Scpi::counter(), b"MEAS:FREQ?\n"), b"9.91E+37\n");
        assert_eq!(
            answer(&mut Scpi::scope(), b"MEAS:VOLT:FREQ? (@1);PTP? (@1)\n"),
            b"9.91E+37;+0.000E+00\n"
        );
    }

    #[test]
    fn messages_may_come_in_pieces_with_either_line_end_and_answers_have_their_own() {
        let mut counter = Scpi::new(Model::Counter, Resolution::Decade(0), LineEnd::CrLf);
        let world = world();
        assert!(counter.hear(b"MEAS:FR", &world, 0.0).is_empty());
        let answers = counter.hear(b"EQ?\r\n\n*OPC?\n*O", &world, 0.0);
        assert_eq!(answers, [b"+6.231235E+06\r\n".to_vec(), b"1\r\n".to_vec()]);
    }

    #[test]
    fn a_message_without_end_is_thrown_away_as_363() {
        let mut counter = Scpi::counter();
        assert_eq!(ask(&mut counter, &"x".repeat(LONGEST_MESSAGE + 1)), "");
        assert_eq!(
            ask(&mut counter, "SYST:ERR?"),
            "-363,\"Input buffer overrun\"\n"
        );
    }

    proptest! {
        #[test]
        fn any_bytes_leave_an_instrument_that_answers(
            bytes in prop::collection::vec(any::<u8>(), 0..200),
            text in "[A-Z*:;?,()@!'\"#0-9. +-]{0,60}",
        ) {
            for mut instrument in [Scpi::counter(), Scpi::scope()] {
                instrument.hear(&bytes, &world(), 0.0);
                instrument.hear(format!("\n{text}\n*CLS\n").as_bytes(), &world(), 0.0);
                prop_assert_eq!(ask(&mut instrument, "*OPC?"), "1\n");
            }
        }
    }
}
