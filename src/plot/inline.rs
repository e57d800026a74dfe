//! Words on the lines of equal value: each where it hides no other, on a piece of paper of its own.

use super::data::{self, Window};
use super::face::Weight;
use super::letters::{self, TEXT_PX};
use super::palette::{self, PAPER};
use super::path::{self, Frame};
use super::scene::{Hang, Shape};
use super::thin::Place;
use crate::figure::{Series, Stroke};

/// Room kept round the words.
const CLEAR_PX: f64 = 6.0;
/// How much of a line its words may hide.
const MOST_HIDDEN: f64 = 0.4;
/// Places that are tried along a line.
const TRIES: u32 = 24;
/// Where they are tried first, as a share of the way along: off the middle, where lines of a like shape lie closest.
const FIRST: f64 = 0.3;
const PAPER_OPACITY: f64 = 0.85;

/// Writes the label of each contour on its longest stretch; one that finds no room has none.
pub(super) fn write(series: &[Series], window: &Window, shapes: &mut Vec<Shape>) {
    let mut taken = outlines(series, window);
    // The last one drawn lies on top, so it has the first choice.
    for one in series.iter().rev().filter(|one| is_labelled(one)) {
        let paths = data::free_paths(one, window);
        let by_length =
            |a: &&Vec<Place>, b: &&Vec<Place>| path::length_px(a).total_cmp(&path::length_px(b));
        let Some(longest) = paths.iter().max_by(by_length) else {
            continue;
        };
        let width_px = Weight::Regular.width_px(&one.label, TEXT_PX);
        if width_px > MOST_HIDDEN * path::length_px(longest) {
            continue;
        }
        let Some(frame) = room(longest, width_px, window.frame, &taken) else {
            continue;
        };
        shapes.push(Shape::Fill {
            frame,
            colour: PAPER,
            opacity: PAPER_OPACITY,
        });
        let middle_px = f64::midpoint(frame.left, frame.right);
        let baseline = f64::midpoint(frame.top, frame.bottom) + 0.36 * TEXT_PX;
        let colour = palette::look(one.role).colour;
        shapes.push(letters::label(
            &one.label,
            (middle_px, baseline),
            Hang::Middle,
            colour,
        ));
        taken.push(frame);
    }
}

fn is_labelled(series: &Series) -> bool {
    matches!(series.stroke, Stroke::Contour(_)) && !series.label.is_empty()
}

/// Returns the room that outlines and dots need for themselves.
fn outlines(series: &[Series], window: &Window) -> Vec<Frame> {
    let things = series
        .iter()
        .filter(|one| matches!(one.stroke, Stroke::Outline | Stroke::Dots));
    let points = things.flat_map(|one| match one.stroke {
        Stroke::Outline => {
            let paths = data::free_paths(one, window);
            paths.iter().flat_map(|path| dotted(path)).collect()
        }
        _ => data::places(one, window),
    });
    points
        .map(|(x, y)| Frame {
            left: x - CLEAR_PX,
            top: y - CLEAR_PX,
            right: x + CLEAR_PX,
            bottom: y + CLEAR_PX,
        })
        .collect()
}

/// Returns a place for words of that width, their middle on the line, inside the frame and clear of the places taken.
fn room(line: &[Place], width_px: f64, within: Frame, taken: &[Frame]) -> Option<Frame> {
    let whole_px = path::length_px(line);
    (0..TRIES)
        .map(|step| {
            // To and fro from the first: 0, +1, −1, +2 …
            let off = f64::from(step.div_ceil(2)) * if step % 2 == 0 { -1.0 } else { 1.0 };
            FIRST + off / f64::from(TRIES)
        })
        .filter(|share| (0.02..=0.98).contains(share))
        .filter_map(|share| along(line, share * whole_px))
        .map(|(x, y)| Frame {
            left: x - width_px / 2.0 - CLEAR_PX,
            top: y - 0.5 * TEXT_PX - CLEAR_PX,
            right: x + width_px / 2.0 + CLEAR_PX,
            bottom: y + 0.5 * TEXT_PX + CLEAR_PX,
        })
        .find(|frame| {
            let corners = [(frame.left, frame.top), (frame.right, frame.bottom)];
            corners.iter().all(|corner| within.holds(*corner))
                && !taken.iter().any(|other| overlap(frame, other))
        })
}

fn overlap(one: &Frame, other: &Frame) -> bool {
    one.left < other.right
        && other.left < one.right
        && one.top < other.bottom
        && other.top < one.bottom
}

/// Points along a line that leave no room for words between them.
fn dotted(path: &[Place]) -> Vec<Place> {
    let whole_px = path::length_px(path);
    let mut points: Vec<Place> = path.to_vec();
    let mut way_px = 0.0;
    while way_px < whole_px {
        points.extend(along(path, way_px));
        way_px += 2.0 * CLEAR_PX;
    }
    points
}

/// The point of a line a number of pixels from its beginning.
fn along(line: &[Place], way_px: f64) -> Option<Place> {
    let mut left_px = way_px;
    for (&from, &to) in line.iter().zip(line.iter().skip(1)) {
        let step_px = (to.0 - from.0).hypot(to.1 - from.1);
        if step_px >= left_px && step_px > 0.0 {
            let share = left_px / step_px;
            return Some((
                share.mul_add(to.0 - from.0, from.0),
                share.mul_add(to.1 - from.1, from.1),
            ));
        }
        left_px -= step_px;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Contour, Role};
    use crate::units::Span;

    const WINDOW: Window = Window {
        frame: Frame {
            left: 0.0,
            top: 0.0,
            right: 1000.0,
            bottom: 1000.0,
        },
        x: Span::new(0.0, 1.0),
        y: Span::new(0.0, 1.0),
    };

    fn contour(label: &str, height: f64, length: f64) -> Series {
        Series {
            label: label.to_owned(),
            role: Role::Limit,
            stroke: Stroke::Contour(Contour::Main),
            pieces: vec![vec![(0.0, height), (length, height)]],
        }
    }

    fn frames(series: &[Series]) -> Vec<Frame> {
        let mut shapes = Vec::new();
        write(series, &WINDOW, &mut shapes);
        let frame = |shape: &Shape| match shape {
            Shape::Fill { frame, .. } => Some(*frame),
            _ => None,
        };
        shapes.iter().filter_map(frame).collect()
    }

    #[test]
    fn words_on_near_lines_do_not_hide_each_other() {
        let near = [contour("100 V/m", 0.5, 1.0), contour("90 V/m", 0.51, 1.0)];
        let [one, other] = frames(&near)[..] else {
            panic!("both find room");
        };
        assert!(!overlap(&one, &other));
    }

    #[test]
    fn a_line_shorter_than_its_words_and_one_at_the_very_edge_have_none() {
        assert!(frames(&[contour("100 V/m", 0.5, 0.1)]).is_empty());
        assert!(frames(&[contour("100 V/m", 1.0, 1.0)]).is_empty());
        assert!(frames(&[contour("", 0.5, 1.0)]).is_empty());
    }

    #[test]
    fn words_keep_clear_of_the_things_that_are_drawn() {
        let thing = Series {
            label: "coil".to_owned(),
            role: Role::Measured,
            stroke: Stroke::Outline,
            // Two ends alone: the line between them is kept clear too.
            pieces: vec![vec![(0.3, 0.2), (0.3, 0.8)]],
        };
        let found = frames(&[thing, contour("100 V/m", 0.5, 1.0)]);
        assert!(found.len() == 1 && (found[0].left > 306.0 || found[0].right < 294.0));
    }
}
