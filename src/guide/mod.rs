//! The pages of the guide: Markdown files of this folder, also read as `sagtrace guide TOPIC`.

/// One page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// The word that asks for it, and its file's name.
    pub topic: &'static str,
    /// What it is about, for a list.
    pub about: &'static str,
    /// The page in Markdown.
    pub markdown: &'static str,
}

/// Declares pages by their topic.
macro_rules! pages {
    ($($topic:literal: $about:literal,)+) => {
        &[$(Page {
            topic: $topic,
            about: $about,
            markdown: include_str!(concat!($topic, ".md")),
        }),+]
    };
}

/// All pages, in the order in which a newcomer needs them.
pub const PAGES: &[Page] = pages! {
    "safety": "cautions and published limits, with their sources",
    "first-session": "from the sheet to the comparison",
    "joining": "pick-up, probe, ground and battery divider",
    "starting": "what a prediction says about the start",
    "plots": "how to read the plots and the comparison",
    "drift": "what moves the frequency, and why",
    "gate": "gate and averaging time of a counter",
    "batteries": "time left, evenings, logbook",
    "dark": "find out why a build stays dark",
    "good-days": "judge a session by an earlier good one",
    "profiles": "describe an instrument of your own",
    "boards": "a microcontroller that sends lines",
    "files": "session folder, tables, logs, settings, exit codes",
    "statistics": "every method with its source",
    "limits": "what the model cannot know",
};

/// The page on a topic.
pub fn page(topic: &str) -> Option<&'static Page> {
    PAGES.iter().find(|page| page.topic == topic)
}
