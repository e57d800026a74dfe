//! Short names over the plot that never overlap: neighbours too close to be named apart are named together.

use super::face::Weight;
use super::path::Frame;
use super::ranges::is_drawable;
use crate::figure::{Mark, Stretch};
use crate::units::Span;

/// Least distance between two names.
const GAP_PX: f64 = 18.0;

/// A name and the middle of its place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tag {
    pub(super) middle_px: f64,
    pub(super) words: String,
}

/// How the spans of a figure are named.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SpanNames {
    pub(super) tags: Vec<Tag>,
    /// Letter and meaning, where there was no room for the words themselves.
    pub(super) notes: Vec<(String, String)>,
}

/// Puts numbers over the marks, which are in rising order and numbered from 1.
pub(super) fn marks(places_px: &[f64], size_px: f64, frame: &Frame) -> Vec<Tag> {
    let numbered: Vec<_> = places_px.iter().copied().zip(1..).collect();
    together(&numbered, size_px, frame, |number| number.to_string())
}

/// The marks that can be shown in a range of x, in rising order.
pub(super) fn shown_marks(marks: &[Mark], range: Span) -> Vec<&Mark> {
    let mut shown: Vec<_> = marks
        .iter()
        .filter(|mark| range.contains(mark.at))
        .collect();
    shown.sort_by(|a, b| a.at.total_cmp(&b.at));
    shown
}

/// The spans that reach into a range of x, cut to it, in rising order.
pub(super) fn shown_spans(spans: &[Stretch], range: Span) -> Vec<(Span, &str)> {
    let mut shown: Vec<_> = spans
        .iter()
        .filter(|span| is_drawable(&(span.x.low, span.x.high)))
        .map(|span| (Span::over([span.x.low, span.x.high]), span.label.trim()))
        .filter(|(x, _)| x.high >= range.low && x.low <= range.high)
        .map(|(x, words)| {
            let cut = Span::new(x.low.max(range.low), x.high.min(range.high));
            (cut, words)
        })
        .collect();
    shown.sort_by(|(a, _), (b, _)| a.low.total_cmp(&b.low));
    shown
}

/// Spans in rising order as stretches of x; those no further apart than `gap` are one.
pub(super) fn merged(spans: &[(Span, &str)], gap: f64) -> Vec<Span> {
    let mut stretches: Vec<Span> = Vec::new();
    for &(x, _) in spans {
        match stretches.last_mut() {
            Some(last) if x.low <= last.high + gap => *last = last.joined(x),
            _ => stretches.push(x),
        }
    }
    stretches
}

/// Names spans, given as middle and words: by the words if there is room for all, else by letters.
pub(super) fn spans(places: &[(f64, &str)], size_px: f64, frame: &Frame) -> SpanNames {
    let named: Vec<_> = places
        .iter()
        .filter(|(_, words)| !words.is_empty())
        .collect();
    let mut kinds: Vec<(&str, usize)> = Vec::new();
    let mut lettered = Vec::new();
    for (middle_px, words) in &named {
        let kind = kinds.iter().position(|(known, _)| known == words);
        let kind = kind.unwrap_or_else(|| {
            kinds.push((words, 0));
            kinds.len() - 1
        });
        if let Some((_, count)) = kinds.get_mut(kind) {
            *count += 1;
        }
        lettered.push((*middle_px, kind));
    }
    let words = together(&lettered, size_px, frame, |kind| {
        let words = kinds.get(kind).map_or("", |(words, _)| words);
        // In one line, without the characters that XML does not admit.
        Weight::Regular.wrap(words, size_px, f64::INFINITY).concat()
    });
    let roomy = words
        .iter()
        .all(|tag| Weight::Regular.width_px(&tag.words, size_px) <= frame.width());
    if words.len() == named.len() && roomy {
        return SpanNames {
            tags: words,
            notes: Vec::new(),
        };
    }
    let notes = kinds.iter().enumerate().map(|(kind, (words, count))| {
        let often = if *count > 1 {
            format!(" ({count} times)")
        } else {
            String::new()
        };
        (letter(kind), format!("{words}{often}"))
    });
    SpanNames {
        tags: together(&lettered, size_px, frame, letter),
        notes: notes.collect(),
    }
}

/// Whether names of one kind can stand in a row with those of the other.
pub(super) fn stay_apart(some: &[Tag], others: &[Tag], size_px: f64) -> bool {
    let half_px = |tag: &Tag| Weight::Regular.width_px(&tag.words, size_px) / 2.0;
    some.iter().all(|one| {
        let is_clear = |other: &Tag| {
            (one.middle_px - other.middle_px).abs() >= half_px(one) + GAP_PX + half_px(other)
        };
        others.iter().all(is_clear)
    })
}

/// a, b … z, a1, b1 …
fn letter(index: usize) -> String {
    let turn = index / 26;
    let letter = ('a'..='z').nth(index % 26).unwrap_or('z');
    if turn == 0 {
        letter.to_string()
    } else {
        format!("{letter}{turn}")
    }
}

/// Names at rising places; those that would overlap become one.
fn together(
    places: &[(f64, usize)],
    size_px: f64,
    frame: &Frame,
    name: impl Fn(usize) -> String,
) -> Vec<Tag> {
    let tag = |group: &Group| {
        let words = group.words(&name);
        let half_px = Weight::Regular.width_px(&words, size_px) / 2.0;
        let least_px = frame.left + half_px;
        let middle_px = f64::midpoint(group.first_px, group.last_px);
        (
            Tag {
                // A name at the edge of the plot stays over the plot.
                middle_px: middle_px.clamp(least_px, (frame.right - half_px).max(least_px)),
                words,
            },
            half_px,
        )
    };
    let mut groups: Vec<Group> = Vec::new();
    for &(place_px, number) in places {
        let mut group = Group {
            first_px: place_px,
            last_px: place_px,
            numbers: vec![number],
        };
        while let Some(before) = groups.last_mut() {
            let (left, left_half_px) = tag(before);
            let (right, right_half_px) = tag(&group);
            if left.middle_px + left_half_px + GAP_PX <= right.middle_px - right_half_px {
                break;
            }
            group.first_px = before.first_px;
            group.numbers.append(&mut before.numbers);
            group.numbers.sort_unstable();
            group.numbers.dedup();
            groups.pop();
        }
        groups.push(group);
    }
    groups.iter().map(|group| tag(group).0).collect()
}

#[derive(Debug)]
struct Group {
    first_px: f64,
    last_px: f64,
    /// Rising, none twice.
    numbers: Vec<usize>,
}

impl Group {
    /// `3`, `3, 4`, `3–5, 7`.
    fn words(&self, name: &impl Fn(usize) -> String) -> String {
        let runs = self.numbers.chunk_by(|a, b| a + 1 == *b);
        let parts: Vec<String> = runs
            .map(|run| match run {
                [first, .., last] if run.len() > 2 => format!("{}–{}", name(*first), name(*last)),
                _ => run
                    .iter()
                    .map(|number| name(*number))
                    .collect::<Vec<_>>()
                    .join(", "),
            })
            .collect();
        parts.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame {
        left: 100.0,
        top: 0.0,
        right: 1500.0,
        bottom: 500.0,
    };

    fn words(tags: &[Tag]) -> Vec<&str> {
        tags.iter().map(|tag| tag.words.as_str()).collect()
    }

    #[test]
    fn marks_apart_have_their_own_numbers_and_close_ones_share_a_label() {
        assert_eq!(
            words(&marks(&[200.0, 800.0, 1400.0], 36.0, &FRAME)),
            ["1", "2", "3"]
        );
        assert_eq!(
            words(&marks(&[200.0, 210.0, 1400.0], 36.0, &FRAME)),
            ["1, 2", "3"]
        );
        assert_eq!(
            words(&marks(&[200.0, 210.0, 220.0, 1500.0], 36.0, &FRAME)),
            ["1–3", "4"]
        );
    }

    #[test]
    fn any_crowd_of_marks_gives_labels_that_do_not_touch() {
        let crowd: Vec<f64> = (0..300_u32)
            .map(|index| 100.0 + f64::from(index * index) / 65.0)
            .collect();
        let tags = marks(&crowd, 36.0, &FRAME);
        assert!(tags.len() > 3, "{tags:?}");
        for (a, b) in tags.iter().zip(tags.iter().skip(1)) {
            let half = |tag: &Tag| Weight::Regular.width_px(&tag.words, 36.0) / 2.0;
            assert!(a.middle_px + half(a) < b.middle_px - half(b), "{a:?} {b:?}");
            assert!(a.middle_px - half(a) >= 99.0 && b.middle_px + half(b) <= 1501.0);
        }
    }

    #[test]
    fn wide_spans_carry_their_words_and_crowded_ones_letters_with_a_key() {
        let roomy = spans(&[(300.0, "stopped"), (900.0, "gap")], 36.0, &FRAME);
        assert_eq!(words(&roomy.tags), ["stopped", "gap"]);
        assert!(roomy.notes.is_empty());
        let crowded = spans(
            &[(300.0, "stopped"), (310.0, "gap"), (700.0, "gap")],
            36.0,
            &FRAME,
        );
        assert_eq!(words(&crowded.tags), ["a, b", "b"]);
        assert_eq!(
            crowded.notes,
            [
                ("a".to_owned(), "stopped".to_owned()),
                ("b".to_owned(), "gap (2 times)".to_owned())
            ]
        );
    }

    #[test]
    fn marks_and_spans_share_a_row_only_where_they_stay_apart() {
        let tag = |middle_px: f64, words: &str| Tag {
            middle_px,
            words: words.to_owned(),
        };
        let mark = [tag(300.0, "1")];
        assert!(stay_apart(&mark, &[tag(400.0, "a")], 36.0));
        assert!(!stay_apart(&mark, &[tag(335.0, "a")], 36.0));
        assert!(!stay_apart(&mark, &[tag(400.0, "stopped")], 36.0));
        assert!(stay_apart(&mark, &[], 36.0));
    }

    #[test]
    fn spans_are_cut_to_the_axis_and_those_outside_dropped() {
        let span = |low, high| Stretch {
            label: "gap".to_owned(),
            x: Span::new(low, high),
        };
        let spans = [
            span(9.0, 20.0),
            span(5.0, 1.0),
            span(30.0, 40.0),
            span(f64::NAN, 2.0),
        ];
        assert_eq!(
            shown_spans(&spans, Span::new(0.0, 10.0)),
            [(Span::new(1.0, 5.0), "gap"), (Span::new(9.0, 10.0), "gap")]
        );
    }
}
