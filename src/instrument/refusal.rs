//! Why a line, a value or a block gives no number.

/// Why a line, a value or a block gives no number, in the words of a row's note and of `rejected.log`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each has its words above it")]
pub enum Refusal {
    // A line.
    #[error("bytes that are no text")]
    NoText,
    #[error("the checksum is wrong")]
    ChecksumWrong,
    #[error("the checksum is missing")]
    ChecksumMissing,
    #[error("a quote that is not closed")]
    OpenQuote,
    #[error("too few values")]
    TooFewValues,
    #[error("too many values")]
    TooManyValues,
    #[error("a field without its name, or without = or : behind it")]
    NameMissing,
    #[error("a field stands twice")]
    FieldTwice,
    #[error("two fields of one value")]
    ValueTwice,
    // A frame of fixed places.
    #[error("no digits of its number")]
    NoDigits,
    #[error("bytes that are no text among the digits")]
    DigitsNoText,
    #[error("segments that are no digit")]
    SegmentsNoDigit,
    #[error("two sizes of its number at once")]
    TwoSizes,
    #[error("no size of its number that the profile knows")]
    UnknownSize,
    // A number.
    #[error("an empty value")]
    Empty,
    #[error("not a number")]
    NotANumber,
    #[error("a block of bytes or a broken number where a number is expected")]
    BrokenNumber,
    #[error("a decimal point where the profile has a comma")]
    DecimalPoint,
    #[error("thousands that are not grouped by threes")]
    Thousands,
    #[error("a number too small")]
    TooSmall,
    #[error("a number too large")]
    TooLarge,
    #[error("a negative frequency")]
    NegativeFrequency,
    #[error("a period that is not above 0")]
    PeriodNotAboveZero,
    #[error("a period too long or too short")]
    PeriodOutOfRange,
    #[error("a rate that is not above 0")]
    RateNotAboveZero,
    // The text around a number.
    #[error("a value behind the header of another question")]
    OtherHeader,
    #[error("a value behind other letters than the profile's header")]
    OtherLetters,
    #[error("letters glued to the number, and no header in the profile that names them")]
    GluedLetters,
    #[error("a number without its unit")]
    WithoutUnit,
    #[error("a number with another unit or other text behind it")]
    OtherUnit,
    #[error("{0} is no unit of a battery voltage")]
    NoBatteryUnit(&'static str),
    #[error("a lone prefix beside the number: unit_position says whether it is its unit")]
    LonePrefix,
    #[error(
        "a unit beside the number that means milli to some and mega to others, or is of another kind"
    )]
    TwoMeanings,
    #[error("a unit beside the number that may be its own: unit_position says whose it is")]
    WhoseUnit,
    #[error("a unit of another quantity behind the number: unit_position = 0 says that it is none")]
    OtherQuantity,
    #[error("the cell of its unit holds no unit of the quantity")]
    NoUnitInCell,
    // The samples of a block.
    #[error("half a sample at the end of the block")]
    HalfSample,
    #[error("half a number at the end of the block")]
    HalfNumber,
    #[error("a sample that is no number")]
    SampleNoNumber,
    #[error("samples that are no text")]
    SamplesNoText,
    #[error("a brace without its other half")]
    LoneBrace,
    #[error("the block ends before its samples")]
    EndsBeforeSamples,
    #[error("a block without samples")]
    NoSamples,
    #[error("the samples are not as many as points says")]
    NotAsManyAsPoints,
    // A waveform's scale.
    #[error("no whole number above 0")]
    NoCount,
    #[error("not above 0")]
    NotAboveZero,
    #[error("0 volts")]
    NoVolts,
    #[error("too few values in the preamble")]
    TooFewInPreamble,
    #[error("no number in the preamble")]
    NoNumberInPreamble,
    #[error("too few values in the answer to its question")]
    TooFewInAnswer,
    #[error("no number in the answer to its question")]
    NoNumberInAnswer,
    #[error("the block ends before it")]
    EndsBeforeNumber,
    #[error("no number in the block")]
    NoNumberInBlock,
}
