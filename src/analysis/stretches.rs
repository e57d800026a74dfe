//! Stretches of a session, each in its own earth state: the marks about it, and the figures of each stretch.

use crate::coil::Resonance;
use crate::coil::surroundings::EarthState;

use super::level::Level;

/// The statement of a mark about the earth state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EarthMark {
    /// From here on it is this.
    State(EarthState),
    /// A word that names none.
    Unknown(String),
}

/// Reads a mark: `earth: held`, or `earth: held, both hands`; capitals and blanks do not count.
///
/// `None` for a mark about something else. The text behind a comma is the person's own remark.
pub fn earth_mark(text: &str) -> Option<EarthMark> {
    let (key, rest) = text.split_once(':')?;
    if !key.trim().eq_ignore_ascii_case("earth") {
        return None;
    }
    let word = rest.split(',').next().unwrap_or("").trim();
    let state = EarthState::WORDS
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(word));
    Some(state.map_or_else(
        || EarthMark::Unknown(word.to_owned()),
        |(_, state)| EarthMark::State(*state),
    ))
}

/// A stretch that is to be judged: its beginning and the expectation it is judged against.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Its first moment, in seconds since the session began.
    pub from_s: f64,
    /// The earth state in it; `None` where nobody said.
    pub earth: Option<EarthState>,
    /// The modelled resonance in that state; `None` without a build sheet.
    pub model: Option<Resonance>,
}

/// The figures of a stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The stretch.
    pub stretch: Stretch,
    /// Where the next one begins, in seconds; `None` for the last.
    pub to_s: Option<f64>,
    /// Its first [`super::level::START_S`] of good readings.
    pub start: Option<Level>,
    /// All its good readings.
    pub whole: Option<Level>,
    /// Share of its readings that lie inside its model's band.
    pub inside_share: Option<f64>,
}

/// Returns the places where the earth state changes, from its state at the start and the marks in the order of their time.
///
/// A mark that names the present state changes nothing.
pub fn changes(
    at_start: Option<EarthState>,
    marks: impl IntoIterator<Item = (f64, EarthState)>,
) -> Vec<(f64, Option<EarthState>)> {
    let mut found = vec![(f64::NEG_INFINITY, at_start)];
    for (at_s, earth) in marks {
        if found.last().is_some_and(|(_, state)| *state != Some(earth)) {
            found.push((at_s, Some(earth)));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_names_the_state_after_its_colon() {
        for (text, want) in [
            ("earth: held", EarthState::Held),
            ("Earth :  Standing", EarthState::Standing),
            ("earth:clipped, scope on the clip", EarthState::Clipped),
            ("EARTH: earthed", EarthState::Earthed),
        ] {
            assert_eq!(earth_mark(text), Some(EarthMark::State(want)), "{text}");
        }
        for text in [
            "a hand near the top",
            "doors: open",
            "the earth was wet",
            "",
        ] {
            assert_eq!(earth_mark(text), None, "{text}");
        }
        let unknown = EarthMark::Unknown("hand off".to_owned());
        assert_eq!(earth_mark("earth: hand off"), Some(unknown));
        assert_eq!(
            earth_mark("earth:"),
            Some(EarthMark::Unknown(String::new()))
        );
    }

    #[test]
    fn only_another_state_begins_another_stretch() {
        let marks = [
            (3.0, EarthState::Earthed),
            (8.0, EarthState::Held),
            (9.0, EarthState::Held),
            (20.0, EarthState::Earthed),
        ];
        let found = changes(Some(EarthState::Earthed), marks);
        let times: Vec<f64> = found.iter().skip(1).map(|(at_s, _)| *at_s).collect();
        assert_eq!(times, [8.0, 20.0]);
    }
}
