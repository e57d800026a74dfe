//! A question as a plain value.

/// One question about a build.
#[derive(Debug, PartialEq)]
pub struct Question {
    /// The key of the sheet that it fills; one under `counted` is a step on the way to others.
    pub key: &'static str,
    /// The part of the build that it belongs to.
    pub part: &'static str,
    /// The thing it asks for, as a noun.
    pub name: &'static str,
    /// The question.
    pub asks: &'static str,
    /// How to find the answer.
    pub explains: &'static str,
    /// The form of its answer.
    pub form: Form,
    /// The stand-in for an answer that nobody knows.
    pub unknown: Unknown,
    /// It is only asked where this key was answered with one of these words.
    pub only_if: Option<(&'static str, &'static [&'static str])>,
}

/// The form of an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// A text, or a quantity with its unit.
    Text,
    /// A plain number.
    Number,
    /// One of several.
    Choice(&'static [Choice]),
}

/// One of several answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choice {
    /// The sheet's word; nothing where the sheet then has no such key.
    pub word: &'static str,
    /// Another word that may be typed.
    pub also: &'static str,
    /// Its description.
    pub label: &'static str,
}

/// The stand-in for an answer that nobody knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Nothing can: why it is needed.
    Needed(&'static str),
    /// The value of the sheet to fill in.
    Usual,
    /// The first choice.
    First,
    /// A primary that is wound clear of the secondary.
    Clear,
    /// The key is left out, and this is assumed.
    LeftOut(&'static str),
}
