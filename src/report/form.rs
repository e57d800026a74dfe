//! How a result is written for other programs: one JSON object with the version of its form first.
//!
//! A form is a struct that derives its keys. Figures are SI numbers under keys that end in their unit, and an unknown value is
//! null. The number of digits written is decided here; a model's figure in the form of a record is rounded where it is taken.

use std::io::{Result, Write};

use serde::Serialize;
use serde::ser::Error as _;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};

use super::digits::nine_digits;

/// Digits of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Digits {
    /// Nine, for a model's figures: a file does not change with the last bit of a machine's logarithm.
    Nine,
    /// All, for recorded figures: a time to the microsecond, a counter's twelfth digit.
    All,
}

/// The output of a command for other programs.
pub trait Form: Serialize + Sized {
    /// Version of the form; a reader must refuse one that it doesn't know.
    const SCHEMA: u32 = 1;
    /// How many digits its figures have.
    const DIGITS: Digits = Digits::Nine;

    /// The form as it is printed, ended by a line end.
    ///
    /// # Errors
    /// The error of the JSON writer, which numbers and words give no cause for.
    fn json(&self) -> serde_json::Result<String> {
        let mut out = Vec::new();
        let style = Style {
            pretty: PrettyFormatter::new(),
            digits: Self::DIGITS,
        };
        Whole::new(self).serialize(&mut Serializer::with_formatter(&mut out, style))?;
        out.push(b'\n');
        String::from_utf8(out).map_err(serde_json::Error::custom)
    }
}

/// A part of a form: each key with its type and its value, in the order of reading.
///
/// `struct Stop<'a>(stop: &'a events::Stop) { from_s: f64 = stop.from_s, }` is the struct with `new(stop)`. Values that several
/// keys share stand before them, `with { let … }`.
macro_rules! part {
    ($(#[$of:meta])* $public:vis struct $name:ident $(<$life:lifetime>)? ($($from:ident: $From:ty),* $(,)?) $(with { $($shared:tt)* })? {
        $($(#[$about:meta])* $key:ident: $Type:ty = $value:expr),* $(,)?
    }) => {
        $(#[$of])*
        #[derive(Debug, serde::Serialize)]
        #[cfg_attr(test, derive(schemars::JsonSchema))]
        $public struct $name $(<$life>)? {
            $($(#[$about])* $key: $Type),*
        }

        impl $(<$life>)? $name $(<$life>)? {
            /// The form of this.
            $public fn new($($from: $From),*) -> Self {
                $($($shared)*)?
                Self { $($key: $value),* }
            }
        }
    };
}
pub(crate) use part;

/// A form under its version.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(super) struct Whole<F> {
    /// Version of the form.
    schema: u32,
    #[serde(flatten)]
    form: F,
}

impl<'f, F: Form> Whole<&'f F> {
    const fn new(form: &'f F) -> Self {
        Self {
            schema: F::SCHEMA,
            form,
        }
    }
}

/// Indented JSON with the digits of the form.
struct Style {
    pretty: PrettyFormatter<'static>,
    digits: Digits,
}

impl Formatter for Style {
    fn write_f64<W: ?Sized + Write>(&mut self, writer: &mut W, value: f64) -> Result<()> {
        let value = match self.digits {
            // Adding zero makes a rounded -0 a plain one.
            Digits::Nine => nine_digits(value) + 0.0,
            Digits::All => value,
        };
        self.pretty.write_f64(writer, value)
    }

    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.begin_array(writer)
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.pretty.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.begin_object(writer)
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.pretty.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.pretty.end_object_value(writer)
    }
}
