//! Lines on the page: cut at the edge of a plot, and cut into dashes.

use super::thin::Place;

/// A rectangle on the page, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Frame {
    pub(super) const fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(super) const fn height(&self) -> f64 {
        self.bottom - self.top
    }

    pub(super) fn holds(&self, place: Place) -> bool {
        (self.left..=self.right).contains(&place.0) && (self.top..=self.bottom).contains(&place.1)
    }

    /// Returns the part of a segment inside: each edge bounds the stretch of the parameter that is inside. The method is that of
    /// Liang and Barsky, "A new concept and method for line clipping", ACM Transactions on Graphics 3 (1984), from memory.
    fn cut(&self, from: Place, to: Place) -> Option<(Place, Place)> {
        let (run, rise) = (to.0 - from.0, to.1 - from.1);
        let mut enters = 0.0_f64;
        let mut leaves = 1.0_f64;
        for (along, room) in [
            (-run, from.0 - self.left),
            (run, self.right - from.0),
            (-rise, from.1 - self.top),
            (rise, self.bottom - from.1),
        ] {
            if along == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if along < 0.0 {
                enters = enters.max(room / along);
            } else {
                leaves = leaves.min(room / along);
            }
        }
        let at = |part: f64| (part.mul_add(run, from.0), part.mul_add(rise, from.1));
        let start = if enters > 0.0 { at(enters) } else { from };
        let end = if leaves < 1.0 { at(leaves) } else { to };
        (enters <= leaves).then_some((start, end))
    }

    /// The parts of a line that lie inside.
    pub(super) fn clip(&self, line: &[Place]) -> Vec<Vec<Place>> {
        let mut parts: Vec<Vec<Place>> = Vec::new();
        for (&from, &to) in line.iter().zip(line.iter().skip(1)) {
            let Some((start, end)) = self.cut(from, to) else {
                continue;
            };
            match parts.last_mut() {
                Some(part) if part.last() == Some(&start) => part.push(end),
                _ => parts.push(vec![start, end]),
            }
        }
        parts
    }
}

/// Length of a line, in pixels.
pub(super) fn length_px(line: &[Place]) -> f64 {
    line.iter()
        .zip(line.iter().skip(1))
        .map(|(a, b)| (b.0 - a.0).hypot(b.1 - a.1))
        .sum()
}

/// Cuts a line into strokes: `pattern_px` is stroke, gap, stroke, gap … in turn.
pub(super) fn dashes(line: &[Place], pattern_px: &[f64]) -> Vec<Vec<Place>> {
    let mut turns = pattern_px.iter().copied().enumerate().cycle();
    let Some((mut turn, mut left_px)) = turns.next() else {
        return vec![line.to_vec()];
    };
    let mut strokes = Vec::new();
    let mut stroke: Vec<Place> = line.first().copied().into_iter().collect();
    for (&from, &to) in line.iter().zip(line.iter().skip(1)) {
        let whole_px = (to.0 - from.0).hypot(to.1 - from.1);
        let mut done_px = 0.0;
        while whole_px - done_px > left_px {
            done_px += left_px;
            let part = done_px / whole_px;
            let at = (
                part.mul_add(to.0 - from.0, from.0),
                part.mul_add(to.1 - from.1, from.1),
            );
            if turn % 2 == 0 {
                stroke.push(at);
                strokes.push(std::mem::take(&mut stroke));
            } else {
                stroke = vec![at];
            }
            // A pattern without length would never come to the line's end.
            (turn, left_px) = turns
                .next()
                .map_or((0, 1.0), |(turn, px)| (turn, px.max(1.0)));
        }
        left_px -= whole_px - done_px;
        if turn % 2 == 0 {
            stroke.push(to);
        }
    }
    if stroke.len() > 1 {
        strokes.push(stroke);
    }
    strokes
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame {
        left: 0.0,
        top: 0.0,
        right: 10.0,
        bottom: 10.0,
    };

    #[test]
    fn a_line_is_cut_where_it_leaves_and_taken_up_where_it_returns() {
        let parts = FRAME.clip(&[
            (-5.0, 5.0),
            (5.0, 5.0),
            (5.0, 15.0),
            (8.0, 15.0),
            (8.0, 2.0),
        ]);
        assert_eq!(
            parts,
            [
                vec![(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)],
                vec![(8.0, 10.0), (8.0, 2.0)]
            ]
        );
        assert!(FRAME.clip(&[(-5.0, 5.0), (5.0, 25.0)]).is_empty());
        assert!(FRAME.clip(&[(3.0, 3.0)]).is_empty());
    }

    #[test]
    fn dashes_follow_corners_and_keep_their_lengths() {
        let strokes = dashes(&[(0.0, 0.0), (6.0, 0.0), (6.0, 30.0)], &[8.0, 4.0]);
        assert_eq!(
            strokes,
            [
                vec![(0.0, 0.0), (6.0, 0.0), (6.0, 2.0)],
                vec![(6.0, 6.0), (6.0, 14.0)],
                vec![(6.0, 18.0), (6.0, 26.0)]
            ]
        );
        assert_eq!(dashes(&[(0.0, 0.0), (6.0, 0.0)], &[]).len(), 1);
    }
}
