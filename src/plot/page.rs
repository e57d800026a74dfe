//! The page: headings, panels under each other on one x axis, lists below. Everything is measured before it is drawn.

use super::brief::{Bar, parted};
use super::data::{MOST_SHAPES, Window};
use super::face::Weight;
use super::letters::{self, LINE_PX, TEXT_PX, TICK_GAP_PX, TITLE_LINE_PX, TITLE_PX};
use super::palette::{INK, SOFT_INK};
use super::panel::PanelPlan;
use super::path::Frame;
use super::ranges;
use super::scene::{Hang, PAGE_WIDTH_PX, Scene, Shape, Text};
use super::tags::{self, Tag};
use super::ticks::{MOST_TICKS, Scale, Tick};
use crate::figure::{Figure, Quantity, Stroke};
use crate::units::Span;

/// Room between title and caption.
const TITLE_GAP_PX: f64 = 10.0;

const MARGIN_PX: f64 = 40.0;
const ROOM_PX: f64 = PAGE_WIDTH_PX - 2.0 * MARGIN_PX;
/// Room between the headings and the first panel, between two panels, and before the lists.
const BREAK_PX: f64 = 30.0;
/// Room between a plot and the parts over it.
const OVER_PX: f64 = 24.0;
/// Room between a plot and the numbers under it: it keeps them clear of the lowest number on its left.
const UNDER_GAP_PX: f64 = 28.0;
/// A row of names over the first plot.
const TAG_ROW_PX: f64 = 1.2 * TEXT_PX;
/// Width of the number before an entry of the lists.
const NOTE_TAG_PX: f64 = 76.0;

/// The least height of a plot: below it a plot shows nothing.
const LEAST_PLOT_PX: f64 = 180.0;
/// Least distance between two numbers on the x axis.
const X_NUMBER_GAP_PX: f64 = 40.0;
/// Marks listed below the picture; more would be a table.
const MOST_NOTES: usize = 30;
/// Stands for the bars in the lists, and looks like them.
const BARS_TAG: &str = "\u{2582}";
/// Lines of one entry of the lists; the whole text is in the session.
const MOST_NOTE_LINES: usize = 4;

/// An entry of the lists: its number or letter, and its lines.
#[derive(Debug)]
struct Note {
    tag: String,
    lines: Vec<String>,
}

impl Note {
    fn new(tag: String, words: &str) -> Self {
        let room_px = ROOM_PX - NOTE_TAG_PX - Weight::Regular.width_px("…", TEXT_PX);
        let mut lines = Weight::Regular.wrap(words, TEXT_PX, room_px);
        if lines.len() > MOST_NOTE_LINES {
            lines.truncate(MOST_NOTE_LINES);
            lines
                .iter_mut()
                .skip(MOST_NOTE_LINES - 1)
                .for_each(|line| line.push('…'));
        }
        Self { tag, lines }
    }
}

/// A figure measured: all but the height of the plots is settled.
#[derive(Debug)]
pub(super) struct Page<'a> {
    title: Vec<String>,
    caption: Vec<String>,
    stamp: Option<String>,
    panels: Vec<PanelPlan<'a>>,
    x_range: Span,
    x_title: Vec<String>,
    x_ticks: Vec<Tick>,
    /// Left and right edge of every plot; top and bottom are not known yet.
    across: Frame,
    marks_at: Vec<f64>,
    mark_tags: Vec<Tag>,
    spans_at: Vec<Span>,
    bars: Vec<Bar>,
    span_tags: Vec<Tag>,
    notes: Vec<Note>,
    /// Shapes each series may have.
    share: usize,
    /// Where a metre is as long across as up: height over width of the one plot, and the scale that numbers the x axis anew.
    to_scale: Option<(f64, Scale)>,
}

impl<'a> Page<'a> {
    pub(super) fn new(figure: &'a Figure) -> Self {
        let mut panels: Vec<_> = figure
            .panels
            .iter()
            .map(|panel| PanelPlan::new(panel, ROOM_PX))
            .collect();
        if panels.is_empty() {
            panels.push(PanelPlan::blank());
        }
        let known = ranges::x(figure);
        let x_range = known.unwrap_or(Span::new(0.0, 1.0));
        let scale = known.map(|range| Scale::new(&figure.x, range));
        let widest = panels.iter().map(PanelPlan::numbers_px).fold(0.0, f64::max);
        let half_px = scale
            .as_ref()
            .map_or(0.0, |scale| letters::widest_px(scale) / 2.0);
        let across = Frame {
            left: MARGIN_PX + (widest + TICK_GAP_PX).max(half_px),
            top: 0.0,
            right: PAGE_WIDTH_PX - MARGIN_PX - half_px,
            bottom: 1.0,
        };
        let x_title = scale.as_ref().map_or(&figure.x.label, |scale| &scale.title);
        let mut page = Self {
            title: Weight::Bold.wrap(&figure.title, TITLE_PX, ROOM_PX),
            caption: lines_of(&figure.caption),
            stamp: figure.stamp.clone(),
            x_title: Weight::Bold.wrap(x_title, TEXT_PX, across.width()),
            x_ticks: scale
                .as_ref()
                .map_or_else(Vec::new, |scale| x_ticks(scale, x_range, &across)),
            panels,
            x_range,
            across,
            marks_at: Vec::new(),
            mark_tags: Vec::new(),
            spans_at: Vec::new(),
            bars: Vec::new(),
            span_tags: Vec::new(),
            notes: Vec::new(),
            share: share(figure),
            to_scale: scale
                .clone()
                .zip(proportion(figure))
                .map(|(scale, proportion)| (proportion, scale)),
        };
        if let Some(scale) = scale {
            page.name(figure, &scale);
        }
        page
    }

    /// Places the names of spans and marks, and lists their meanings.
    fn name(&mut self, figure: &Figure, scale: &Scale) {
        let x_px = self.window(0.0, 1.0, Span::new(0.0, 1.0));
        let shown = tags::shown_spans(&figure.spans, self.x_range);
        let parts = parted(shown, self.x_range, self.across.width());
        let spans = parts.shaded;
        self.bars = parts.bars;
        let middles: Vec<_> = spans
            .iter()
            .map(|(x, words)| (x_px.x_px(f64::midpoint(x.low, x.high)), *words))
            .collect();
        let names = tags::spans(&middles, TEXT_PX, &self.across);
        let pixel = self.x_range.width() / self.across.width();
        self.spans_at = tags::merged(&spans, pixel);
        self.span_tags = names.tags;
        let of_spans = names.notes.into_iter();
        self.notes = of_spans
            .map(|(letter, words)| Note::new(letter, &words))
            .chain(
                parts
                    .note
                    .map(|words| Note::new(BARS_TAG.to_owned(), &words)),
            )
            .collect();

        let marks = tags::shown_marks(&figure.marks, self.x_range);
        self.marks_at = marks.iter().map(|mark| mark.at).collect();
        let places_px: Vec<_> = marks.iter().map(|mark| x_px.x_px(mark.at)).collect();
        self.mark_tags = tags::marks(&places_px, TEXT_PX, &self.across);
        for (mark, number) in marks.iter().zip(1..=MOST_NOTES) {
            let words = format!("{}: {}", scale.value(mark.at), mark.text);
            self.notes.push(Note::new(number.to_string(), &words));
        }
        if marks.len() > MOST_NOTES {
            let more = format!("and {} more marks", marks.len() - MOST_NOTES);
            self.notes.push(Note::new("…".to_owned(), &more));
        }
    }

    /// The page in a height, a plot that is to scale made narrower where it would be too high.
    pub(super) fn fitted(mut self, height_px: f64) -> Self {
        if let Some((proportion, scale)) = &self.to_scale {
            let width_px = (height_px - self.fixed_px()).max(LEAST_PLOT_PX) / proportion;
            if width_px < self.across.width() {
                self.across.right = self.across.left + width_px;
                self.x_ticks = x_ticks(scale, self.x_range, &self.across);
            }
        }
        self
    }

    /// A plot between two heights.
    fn window(&self, top: f64, bottom: f64, y: Span) -> Window {
        Window {
            frame: Frame {
                top,
                bottom,
                ..self.across
            },
            x: self.x_range,
            y,
        }
    }

    fn tags_px(&self) -> f64 {
        self.tag_rows().len() as f64 * TAG_ROW_PX
    }

    /// Names over the first plot, the lowest row first. Numbers of marks and names of spans are in one row where they stay apart;
    /// else those of spans are above.
    fn tag_rows(&self) -> Vec<Vec<&Tag>> {
        let (marks, spans) = (&self.mark_tags, &self.span_tags);
        let rows = if tags::stay_apart(marks, spans, TEXT_PX) {
            vec![marks.iter().chain(spans).collect()]
        } else {
            vec![marks.iter().collect::<Vec<_>>(), spans.iter().collect()]
        };
        rows.into_iter().filter(|row| !row.is_empty()).collect()
    }

    /// Height of all but the plots.
    fn fixed_px(&self) -> f64 {
        let title = self.title.len() as f64 * TITLE_LINE_PX + TITLE_GAP_PX;
        let heading = title + self.caption.len() as f64 * LINE_PX;
        let heads: f64 = self.panels.iter().map(PanelPlan::head_px).sum();
        let breaks = self.panels.len() as f64 * (BREAK_PX + OVER_PX);
        let under = self.under_px() + self.x_title.len() as f64 * LINE_PX;
        let lines: usize = self.notes.iter().map(|note| note.lines.len()).sum();
        let notes = if lines == 0 {
            0.0
        } else {
            BREAK_PX + lines as f64 * LINE_PX
        };
        2.0 * MARGIN_PX + heading + heads + breaks + self.tags_px() + under + notes
    }

    /// Height of the numbers under the last plot.
    const fn under_px(&self) -> f64 {
        if self.x_ticks.is_empty() {
            UNDER_GAP_PX
        } else {
            UNDER_GAP_PX + LINE_PX
        }
    }

    pub(super) fn least_height_px(&self) -> f64 {
        self.fixed_px() + self.panels.len() as f64 * LEAST_PLOT_PX
    }

    pub(super) fn usual_height_px(&self) -> f64 {
        if let Some((proportion, _)) = self.to_scale {
            return self.fixed_px() + (proportion * self.across.width()).max(LEAST_PLOT_PX);
        }
        let plot_px = match self.panels.len() {
            1 => 700.0,
            2 => 520.0,
            _ => 420.0,
        };
        self.fixed_px() + self.panels.len() as f64 * plot_px
    }

    /// Draws the page in a height not below [`Page::least_height_px`].
    pub(super) fn scene(&self, height_px: f64) -> Scene {
        let most_px = (height_px - self.fixed_px()) / self.panels.len() as f64;
        let plot_px = match self.to_scale {
            Some((proportion, _)) => most_px.min(proportion * self.across.width()),
            None => most_px,
        };
        let mut shapes = Vec::new();
        let mut y_px = MARGIN_PX;
        let heading = heading(&self.title, &self.caption, &mut y_px);
        let mut windows = Vec::new();
        let mut heads = Vec::new();
        for (index, panel) in self.panels.iter().enumerate() {
            y_px += BREAK_PX;
            heads.push(y_px);
            y_px += panel.head_px() + OVER_PX;
            if index == 0 {
                y_px += self.tags_px();
            }
            windows.push(self.window(y_px, y_px + plot_px, panel.y_range()));
            y_px += plot_px;
        }
        // The words across the picture must be the first shapes: all else lies over them.
        if let Some(stamp) = &self.stamp {
            shapes.extend(
                windows
                    .iter()
                    .filter_map(|window| stamped(stamp, &window.frame)),
            );
        }
        shapes.extend(heading);
        for ((panel, window), head_px) in self.panels.iter().zip(&windows).zip(heads) {
            panel.draw_head((MARGIN_PX, head_px), &mut shapes);
            panel.draw_back(
                window,
                &self.spans_at,
                &self.bars,
                &self.x_ticks,
                &mut shapes,
            );
            panel.draw_data(window, &self.marks_at, self.share, &mut shapes);
        }
        if let Some(first) = windows.first() {
            self.draw_tags(first.frame.top, &mut shapes);
        }
        self.draw_x_axis(y_px, &mut shapes);
        self.draw_notes(y_px, &mut shapes);
        Scene { height_px, shapes }
    }

    fn draw_tags(&self, plot_top_px: f64, shapes: &mut Vec<Shape>) {
        let mut baseline = plot_top_px - TICK_GAP_PX;
        for row in self.tag_rows() {
            let at = |tag: &Tag| (tag.middle_px, baseline);
            shapes.extend(
                row.iter()
                    .map(|tag| letters::label(&tag.words, at(tag), Hang::Middle, SOFT_INK)),
            );
            baseline -= TAG_ROW_PX;
        }
    }

    fn draw_x_axis(&self, plot_bottom_px: f64, shapes: &mut Vec<Shape>) {
        let row = self.window(0.0, 1.0, Span::new(0.0, 1.0));
        let baseline = plot_bottom_px + UNDER_GAP_PX + 0.8 * TEXT_PX;
        for tick in &self.x_ticks {
            let at = (row.x_px(tick.at_si), baseline);
            shapes.push(letters::label(&tick.text, at, Hang::Middle, INK));
        }
        let middle_px = f64::midpoint(self.across.left, self.across.right);
        let mut baseline = plot_bottom_px + self.under_px() + 0.8 * TEXT_PX;
        for line in &self.x_title {
            shapes.push(letters::axis(line, (middle_px, baseline), Hang::Middle));
            baseline += LINE_PX;
        }
    }

    fn draw_notes(&self, plot_bottom_px: f64, shapes: &mut Vec<Shape>) {
        let titles = self.x_title.len() as f64 * LINE_PX;
        let mut baseline = plot_bottom_px + self.under_px() + titles + BREAK_PX + 0.8 * TEXT_PX;
        for note in &self.notes {
            shapes.push(letters::plain(&note.tag, (MARGIN_PX, baseline)));
            for line in &note.lines {
                let at = (MARGIN_PX + NOTE_TAG_PX, baseline);
                shapes.push(letters::label(line, at, Hang::Left, SOFT_INK));
                baseline += LINE_PX;
            }
        }
    }
}

/// Height over width of a plot that is to scale; `None` for one that is not, or would be no plot.
fn proportion(figure: &Figure) -> Option<f64> {
    let [panel] = figure.panels.as_slice() else {
        return None;
    };
    if figure.x.quantity != Quantity::Place || panel.y.quantity != Quantity::Place {
        return None;
    }
    let (x, y) = (ranges::x(figure)?, ranges::y(panel)?);
    let proportion = y.width() / x.width();
    (0.1..=4.0).contains(&proportion).then_some(proportion)
}

fn lines_of(caption: &[String]) -> Vec<String> {
    let lines = caption.iter();
    lines
        .flat_map(|line| Weight::Regular.wrap(line, TEXT_PX, ROOM_PX))
        .collect()
}

/// Title and caption from `y_px` down, which is moved below them.
fn heading(title: &[String], caption: &[String], y_px: &mut f64) -> Vec<Shape> {
    let mut shapes = Vec::new();
    for line in title {
        let at = (MARGIN_PX, *y_px + 0.85 * TITLE_PX);
        shapes.push(letters::title(line, at));
        *y_px += TITLE_LINE_PX;
    }
    *y_px += TITLE_GAP_PX;
    for line in caption {
        let at = (MARGIN_PX, *y_px + 0.85 * TEXT_PX);
        shapes.push(letters::label(line, at, Hang::Left, SOFT_INK));
        *y_px += LINE_PX;
    }
    shapes
}

/// Words across a plot, as large as it allows.
fn stamped(words: &str, frame: &Frame) -> Option<Shape> {
    let words = Weight::Bold.wrap(words, 1.0, f64::INFINITY).pop()?;
    let width_em = Weight::Bold.width_px(&words, 1.0);
    // Turned by 14°: the height taken is width × sin 14° and one line more.
    let by_height_px = 0.85 * frame.height() / 0.242_f64.mul_add(width_em, 1.0);
    let size_px = (0.75 * frame.width() / width_em)
        .min(by_height_px)
        .min(190.0);
    let middle = (
        f64::midpoint(frame.left, frame.right),
        f64::midpoint(frame.top, frame.bottom),
    );
    Some(Shape::Stamp(Text {
        words,
        // It turns about the middle of its upper edge, not of its letters: moved so that these end up in the middle.
        at: (
            0.1_f64.mul_add(-size_px, middle.0),
            0.37_f64.mul_add(size_px, middle.1),
        ),
        hang: Hang::Middle,
        size_px,
        weight: Weight::Bold,
        colour: super::palette::STAMP,
    }))
}

/// Returns as many ticks as have room for their numbers.
fn x_ticks(scale: &Scale, range: Span, across: &Frame) -> Vec<Tick> {
    let step_px = |ticks: &[Tick]| match ticks {
        [a, b, ..] => (b.at_si - a.at_si) / range.width() * across.width(),
        _ => f64::INFINITY,
    };
    let roomy = |ticks: &Vec<Tick>| {
        let widths = ticks
            .iter()
            .map(|tick| Weight::Regular.width_px(&tick.text, TEXT_PX));
        step_px(ticks) >= widths.fold(0.0, f64::max) + X_NUMBER_GAP_PX
    };
    let choices = (1..=MOST_TICKS).rev().map(|most| scale.ticks(most));
    choices.into_iter().find(roomy).unwrap_or_default()
}

/// Shapes each series may be made of, so that the whole stays within [`MOST_SHAPES`].
fn share(figure: &Figure) -> usize {
    let series = figure.panels.iter().flat_map(|panel| &panel.series);
    let crowds = series.filter(|series| {
        series.stroke == Stroke::Dots
            || series.pieces.len() > 1
            || series.pieces.iter().any(|piece| piece.len() > 1)
    });
    MOST_SHAPES / crowds.count().max(1)
}
