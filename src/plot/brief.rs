//! Spans that are narrower than can be seen: a few are drawn wider than they are, many are counted instead.
//!
//! Ten thousand gaps of ten milliseconds in a day are a second and a half. Each at the least width that is seen, they would paint
//! the whole axis.

use crate::units::{Span, Unit, rounded};

/// Narrowest shading that is still seen.
pub(super) const LEAST_SHADE_PX: f64 = 3.0;

/// Spans that may be drawn wider than they are: at that width, a twentieth of the axis. Chosen.
const MOST_WIDENED: usize = 24;

/// Width of a bar that counts them.
const COLUMN_PX: f64 = 12.0;

/// A span: where it begins and ends on the x axis, and its words.
pub(super) type Place<'a> = (Span, &'a str);

/// Spans that begin in one column, against the fullest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bar {
    /// The column, on the x axis.
    pub(super) x: Span,
    /// How many it has, over how many the fullest has.
    pub(super) share: f64,
}

/// The spans of a figure: those that are shaded, and those that are counted.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Parted<'a> {
    pub(super) shaded: Vec<Place<'a>>,
    pub(super) bars: Vec<Bar>,
    /// The thing that the bars count; `None` where there are none.
    pub(super) note: Option<String>,
}

/// Parts the spans of an axis over a range, `width_px` wide.
pub(super) fn parted(spans: Vec<Place<'_>>, range: Span, width_px: f64) -> Parted<'_> {
    let least = LEAST_SHADE_PX * range.width() / width_px;
    let (brief, wide): (Vec<_>, Vec<_>) =
        spans.iter().copied().partition(|(x, _)| x.width() < least);
    if brief.len() <= MOST_WIDENED {
        return Parted {
            shaded: spans,
            bars: Vec::new(),
            note: None,
        };
    }
    let mut columns = vec![0_u32; columns(width_px)];
    let width = range.width() / columns.len() as f64;
    for (x, _) in &brief {
        let is_before = |edge: &usize| range.low + *edge as f64 * width <= x.low;
        let before = (1..columns.len()).take_while(is_before);
        if let Some(count) = columns.get_mut(before.count()) {
            *count += 1;
        }
    }
    let fullest = columns.iter().copied().max().unwrap_or(0);
    let bar = |(index, count): (usize, &u32)| Bar {
        x: Span::new(
            range.low + index as f64 * width,
            range.low + (index + 1) as f64 * width,
        ),
        share: f64::from(*count) / f64::from(fullest.max(1)),
    };
    let filled = columns.iter().enumerate().filter(|(_, count)| **count > 0);
    Parted {
        shaded: wide,
        bars: filled.map(bar).collect(),
        note: Some(note(&brief, fullest, range.width())),
    }
}

/// Bars that the axis has room for; the cast saturates far beyond any page.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a width in pixels; a cast saturates"
)]
fn columns(width_px: f64) -> usize {
    (width_px / COLUMN_PX).max(1.0) as usize
}

/// `gap (3026 times): too short to be shaded, counted by the bars at the foot, 33 in the highest; together 0.03 % of the time`.
fn note(brief: &[Place<'_>], fullest: u32, range: f64) -> String {
    let mut kinds: Vec<(&str, usize)> = Vec::new();
    for (_, words) in brief {
        match kinds.iter_mut().find(|(known, _)| known == words) {
            Some((_, count)) => *count += 1,
            None => kinds.push((words, 1)),
        }
    }
    let kinds: Vec<String> = kinds
        .iter()
        .map(|(words, count)| format!("{words} ({count} times)"))
        .collect();
    let length: f64 = brief.iter().map(|(x, _)| x.width()).sum();
    format!(
        "{}: too short to be shaded, counted by the bars at the foot, {fullest} in the highest; together {} of the axis",
        kinds.join(", "),
        rounded(length / range, Unit::Percent, 2)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_few_short_spans_are_shaded_and_many_are_counted_beside_the_wide_ones() {
        let few: Vec<Place<'_>> = (0..24).map(|at| (Span::of(f64::from(at)), "gap")).collect();
        let parts = parted(few.clone(), Span::new(0.0, 1000.0), 1200.0);
        assert_eq!((parts.shaded, parts.bars.len(), parts.note), (few, 0, None));

        // 100 columns of 10: 30 begin in the first, 15 in the last, and one is as wide as 100.
        let brief = (0..45).map(|at| if at < 30 { 0.3 * f64::from(at) } else { 999.0 });
        let mut many: Vec<Place<'_>> = brief.map(|at| (Span::new(at, at + 0.1), "gap")).collect();
        many.push((Span::new(500.0, 600.0), "stopped"));
        let parts = parted(many, Span::new(0.0, 1000.0), 1200.0);
        assert_eq!(parts.shaded, [(Span::new(500.0, 600.0), "stopped")]);
        let bars: Vec<_> = parts
            .bars
            .iter()
            .map(|bar| (bar.x.low, bar.x.high, bar.share))
            .collect();
        assert_eq!(bars, [(0.0, 10.0, 1.0), (990.0, 1000.0, 0.5)]);
        // 45 × 0.1 of 1000.
        insta::assert_snapshot!(parts.note.unwrap(), @"gap (45 times): too short to be shaded, counted by the bars at the foot, 30 in the highest; together 0.45 % of the axis");
    }
}
