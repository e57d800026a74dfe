//! A lamp's distance among the marks: how far from the coil it was lit, and the battery's voltage at that moment.

use std::sync::Arc;

use crate::reading::Chunk;
use crate::units::{self, Unit, UnitError};

/// The statement of a mark about a lamp.
#[derive(Debug, Clone, PartialEq)]
pub struct LampMark {
    /// The lamp by the words before `lit`, in small letters; `lamp` if there are none.
    pub lamp: String,
    /// How far from the coil it was lit, in metres.
    pub distance_m: f64,
}

/// Why a mark that speaks of a lit lamp gives no distance.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LampError {
    /// The text after `lit at` is no length.
    #[error("mark \"{text}\": {reason}")]
    NoDistance {
        /// The mark.
        text: String,
        /// The reason why it is none.
        reason: UnitError,
    },
    /// The distance is below zero.
    #[error("mark \"{text}\": found a distance below 0: expected 0 or more")]
    Negative {
        /// The mark.
        text: String,
    },
}

/// Reads a mark like `lamp lit at 12 cm` or `Neon lit at 70mm, tired battery`; `None` if it speaks of no lit lamp.
///
/// # Errors
/// [`LampError`] for one that does, but whose distance cannot be read.
pub fn read(text: &str) -> Option<Result<LampMark, LampError>> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let verb = words.windows(2).position(|pair| {
        matches!(pair, [verb, at] if verb.eq_ignore_ascii_case("lit") && at.eq_ignore_ascii_case("at"))
    })?;
    let name = words.iter().take(verb).map(|word| word.to_lowercase());
    let name = name.collect::<Vec<_>>().join(" ");
    let rest = words.iter().skip(verb + 2).copied();
    let rest = rest.collect::<Vec<_>>().join(" ");
    let mark = || text.trim().to_owned();
    Some(match units::parse(length(&rest), Unit::Metre) {
        Ok(distance_m) if distance_m < 0.0 => Err(LampError::Negative { text: mark() }),
        Ok(distance_m) => Ok(LampMark {
            lamp: if name.is_empty() {
                "lamp".to_owned()
            } else {
                name
            },
            distance_m,
        }),
        Err(reason) => Err(LampError::NoDistance {
            text: mark(),
            reason,
        }),
    })
}

/// Returns the number with its unit at the head of a text; the whole text if it begins with no number.
fn length(text: &str) -> &str {
    if units::with_point(text).is_some() {
        return text;
    }
    let Some((_, _, rest)) = units::split_number(text) else {
        return text;
    };
    let unit = rest.trim_start();
    let tail = unit.trim_start_matches(char::is_alphabetic);
    let end = text.len() - tail.len();
    text.get(..end).unwrap_or(text).trim_end()
}

/// A lamp seen lit.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// When, in seconds since the session began.
    pub at_s: f64,
    /// The lamp and its distance.
    pub mark: LampMark,
    /// Battery voltage nearest in time, in volts; `None` if none was read near enough.
    pub battery_v: Option<f64>,
}

/// A mark that waits for the battery voltage nearest to it.
#[derive(Debug, Clone)]
struct Waiting {
    at_s: f64,
    mark: LampMark,
    /// The distance to the nearest reading, in seconds, and its value, in volts.
    nearest: Option<(f64, f64)>,
}

/// Finds the battery voltage beside each lamp among the marks of a session.
#[derive(Debug, Clone, Default)]
pub struct Lamps {
    marks: Vec<Waiting>,
    faults: Vec<LampError>,
    source: Option<Arc<str>>,
}

impl Lamps {
    /// Returns the lamps among marks, each with its time in seconds since the session began.
    pub fn new(marks: impl IntoIterator<Item = (f64, impl AsRef<str>)>) -> Self {
        let mut lamps = Self::default();
        for (at_s, text) in marks {
            match read(text.as_ref()) {
                Some(Ok(mark)) => lamps.marks.push(Waiting {
                    at_s,
                    mark,
                    nearest: None,
                }),
                Some(Err(fault)) => lamps.faults.push(fault),
                None => {}
            }
        }
        lamps
            .marks
            .sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
        lamps
    }

    /// Returns the marks that speak of a lit lamp and give no distance.
    pub fn faults(&self) -> &[LampError] {
        &self.faults
    }

    /// Takes rows in, in any order. Of several instruments the first that reads a battery voltage is used, as in pairing.
    pub fn push(&mut self, rows: &Chunk) {
        if self.marks.is_empty() {
            return;
        }
        for row in rows {
            let Some(volts) = row.battery_v() else {
                continue;
            };
            if **self.source.get_or_insert_with(|| Arc::clone(&row.source)) != *row.source {
                continue;
            }
            let read_s = row.stamp.elapsed_s();
            for mark in &mut self.marks {
                let away_s = (read_s - mark.at_s).abs();
                if mark.nearest.is_none_or(|(nearest_s, _)| away_s < nearest_s) {
                    mark.nearest = Some((away_s, volts));
                }
            }
        }
    }

    /// Returns the lamps in the order of time, with the voltages that were read within `window_s` seconds.
    pub fn sightings(&self, window_s: f64) -> Vec<Sighting> {
        let seen = |waiting: &Waiting| Sighting {
            at_s: waiting.at_s,
            mark: waiting.mark.clone(),
            battery_v: waiting
                .nearest
                .filter(|(away_s, _)| *away_s <= window_s)
                .map(|(_, volts)| volts),
        };
        self.marks.iter().map(seen).collect()
    }
}

/// From the first to the last sighting of one lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Last distance less first, as a share of the first; `None` where that was 0.
    pub distance_ratio: Option<f64>,
    /// Last battery voltage less first, in volts; `None` where one is not known.
    pub battery_v: Option<f64>,
}

impl Change {
    /// Returns the change over sightings of one lamp; `None` of fewer than two.
    pub fn of(sightings: &[&Sighting]) -> Option<Self> {
        let [first, .., last] = sightings else {
            return None;
        };
        let (from_m, to_m) = (first.mark.distance_m, last.mark.distance_m);
        Some(Self {
            distance_ratio: (from_m > 0.0).then(|| to_m / from_m - 1.0),
            battery_v: last
                .battery_v
                .zip(first.battery_v)
                .map(|(to, from)| to - from),
        })
    }
}

/// Returns the sightings by lamp, the lamps in the order they were first seen.
pub fn by_lamp(sightings: &[Sighting]) -> Vec<(&str, Vec<&Sighting>)> {
    let mut lamps: Vec<(&str, Vec<&Sighting>)> = Vec::new();
    for sighting in sightings {
        let name = sighting.mark.lamp.as_str();
        match lamps.iter_mut().find(|(known, _)| *known == name) {
            Some((_, found)) => found.push(sighting),
            None => lamps.push((name, vec![sighting])),
        }
    }
    lamps
}

#[cfg(test)]
mod tests {
    use super::super::testing::row;
    use super::*;
    use crate::reading::Status;

    fn lit(text: &str) -> (String, f64) {
        let found = read(text).unwrap().unwrap();
        (found.lamp, found.distance_m)
    }

    #[test]
    fn marks_of_lit_lamps_are_read_as_people_write_them() {
        for (text, lamp, distance_m) in [
            ("lamp lit at 12 cm", "lamp", 0.12),
            ("Neon lit at 7cm", "neon", 0.07),
            ("neon  LIT AT 70 mm, tired battery", "neon", 0.07),
            ("lit at 0.3 m", "lamp", 0.3),
            ("8 W tube lit at 5 in above the top", "8 w tube", 0.127),
            ("lamp lit at 0 cm", "lamp", 0.0),
            ("  lamp lit at 12.5cm; dark room", "lamp", 0.125),
        ] {
            let (name, found_m) = lit(text);
            assert_eq!(name, lamp, "{text}");
            assert!((found_m - distance_m).abs() < 1e-12, "{text}: {found_m}");
        }
    }

    #[test]
    fn other_marks_are_no_lamps() {
        for text in [
            "doors open",
            "a hand near the top",
            "lamp lit",
            "lit",
            "",
            "split at 3 cm",
            "lit up at 3 cm",
        ] {
            assert!(read(text).is_none(), "{text}");
        }
    }

    #[test]
    fn a_distance_that_cannot_be_read_is_told_with_the_mark() {
        for (text, words) in [
            (
                "lamp lit at 12",
                "mark \"lamp lit at 12\": \"12\" has no unit",
            ),
            ("lamp lit at once", "is not a number with a unit"),
            ("lamp lit at", "is not a number with a unit"),
            (
                "lamp lit at 12 volts",
                "has the unit \"volts\": expected a length",
            ),
            ("lamp lit at 12,5 cm", "write 12.5 cm, with a point"),
            ("lamp lit at -3 cm", "found a distance below 0"),
            ("lamp lit at 1e999 cm", "is out of range"),
            ("lamp lit at ß", "is not a number with a unit"),
        ] {
            let fault = read(text).unwrap().unwrap_err().to_string();
            assert!(fault.contains(words), "{text}: {fault}");
        }
    }

    #[test]
    fn each_lamp_takes_the_battery_voltage_nearest_in_time() {
        let marks = [
            (61.4, "lamp lit at 7 cm"),
            (10.2, "lamp lit at 12 cm"),
            (500.0, "lamp lit at 1 cm"),
        ];
        let mut lamps = Lamps::new(marks);
        let rows: Vec<_> = (0..100)
            .map(|second| {
                let volts = 9.1 - 0.02 * f64::from(second);
                row("meter", f64::from(second), None, Some(volts), Status::Ok)
            })
            .collect();
        rows.chunks(7).for_each(|some| lamps.push(some));
        lamps.push(&[row("other", 61.4, None, Some(1.0), Status::Ok)]);
        let seen = lamps.sightings(2.0);
        let volts: Vec<_> = seen.iter().map(|one| one.battery_v).collect();
        assert_eq!(seen[0].at_s.to_bits(), 10.2_f64.to_bits());
        assert!((volts[0].unwrap() - 8.9).abs() < 1e-9 && (volts[1].unwrap() - 7.88).abs() < 1e-9);
        assert_eq!(volts[2], None);
        let groups = by_lamp(&seen);
        assert_eq!(groups.len(), 1);
        let change = Change::of(&groups[0].1[..2]).unwrap();
        assert!((change.distance_ratio.unwrap() + 5.0 / 12.0).abs() < 1e-12);
        assert!((change.battery_v.unwrap() + 1.02).abs() < 1e-9);
        assert_eq!(Change::of(&groups[0].1[..1]), None);
    }

    #[test]
    fn lamps_are_kept_apart_by_name_and_a_touching_one_has_no_ratio() {
        let marks = [
            (1.0, "neon lit at 0 mm"),
            (2.0, "Tube lit at 3 cm"),
            (3.0, "NEON lit at 2 cm"),
            (4.0, "tube lit at"),
        ];
        let lamps = Lamps::new(marks);
        assert_eq!(lamps.faults().len(), 1);
        let seen = lamps.sightings(1.0);
        let groups = by_lamp(&seen);
        let names: Vec<_> = groups
            .iter()
            .map(|(name, found)| (*name, found.len()))
            .collect();
        assert_eq!(names, [("neon", 2), ("tube", 1)]);
        assert_eq!(Change::of(&groups[0].1).unwrap().distance_ratio, None);
    }
}
