//! The key above a panel: the meaning of its lines, dots and bands, in rows that wrap.

use super::data;
use super::face::Weight;
use super::letters::{self, LINE_PX, TEXT_PX};
use super::path::Frame;
use super::scene::Shape;
use crate::figure::{Band, Role, Series, Stroke};

const SAMPLE_PX: f64 = 92.0;
const SAMPLE_GAP_PX: f64 = 16.0;
const ENTRY_GAP_PX: f64 = 48.0;

#[derive(Debug, Clone, Copy)]
enum Sample<'a> {
    Series(Role, Stroke),
    Band(&'a Band),
}

/// One entry, placed from the upper left corner of the key.
#[derive(Debug)]
struct Entry<'a> {
    sample: Sample<'a>,
    lines: Vec<String>,
    left_px: f64,
    top_px: f64,
}

/// A key laid out for a width.
#[derive(Debug)]
pub(super) struct Key<'a> {
    entries: Vec<Entry<'a>>,
    pub(super) height_px: f64,
}

impl<'a> Key<'a> {
    /// Lays out all that has a label.
    pub(super) fn new(series: &'a [Series], bands: &'a [Band], room_px: f64) -> Self {
        let of_series = series
            .iter()
            .filter(|series| data::is_in_key(series))
            .map(|series| (Sample::Series(series.role, series.stroke), &series.label));
        let of_bands = bands.iter().map(|band| (Sample::Band(band), &band.label));
        let sample_px = SAMPLE_PX + SAMPLE_GAP_PX;
        let mut entries = Vec::new();
        let (mut left_px, mut top_px, mut row_px) = (0.0, 0.0, 0.0_f64);
        for (sample, label) in of_series.chain(of_bands) {
            let lines = Weight::Regular.wrap(label, TEXT_PX, room_px - sample_px);
            let widths = lines
                .iter()
                .map(|line| Weight::Regular.width_px(line, TEXT_PX));
            let width_px = sample_px + widths.fold(0.0, f64::max);
            if lines.is_empty() {
                continue;
            }
            if left_px > 0.0 && left_px + width_px > room_px {
                (left_px, top_px) = (0.0, top_px + row_px);
                row_px = 0.0;
            }
            row_px = row_px.max(lines.len() as f64 * LINE_PX);
            entries.push(Entry {
                sample,
                lines,
                left_px,
                top_px,
            });
            left_px += width_px + ENTRY_GAP_PX;
        }
        Self {
            entries,
            height_px: top_px + row_px,
        }
    }

    /// Draws the key with its upper left corner at a place.
    pub(super) fn draw(&self, left_px: f64, top_px: f64, shapes: &mut Vec<Shape>) {
        for entry in &self.entries {
            let left = left_px + entry.left_px;
            let top = top_px + entry.top_px;
            let frame = Frame {
                left,
                top: top + 0.22 * LINE_PX,
                right: left + SAMPLE_PX,
                bottom: top + 0.82 * LINE_PX,
            };
            shapes.extend(match entry.sample {
                Sample::Series(role, stroke) => data::series_sample(role, stroke, frame),
                Sample::Band(band) => data::band_sample(band, frame),
            });
            for (index, line) in entry.lines.iter().enumerate() {
                let baseline = top + index as f64 * LINE_PX + 0.8 * LINE_PX;
                shapes.push(letters::plain(
                    line,
                    (frame.right + SAMPLE_GAP_PX, baseline),
                ));
            }
        }
    }
}
