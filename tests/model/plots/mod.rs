//! Whole pictures, judged from outside: what the drawn SVG and PNG hold, for figures that make layouts break.

use std::sync::Arc;

use proptest::prelude::*;
use resvg::{tiny_skia, usvg};
use sagtrace::figure::{Axis, Band, Figure, Mark, Panel, Quantity, Role, Series, Stretch, Stroke};
use sagtrace::plot::{self, PlotError, Size};
use sagtrace::units::{Span, Unit};

mod figures;

use figures::*;

/// A box that letters fill.
#[derive(Debug, Clone)]
struct Placed {
    words: String,
    left: f32,
    top: f32,
    right: f32,
    bottom: f32,
}

impl Placed {
    fn overlaps(&self, other: &Self) -> bool {
        // Boxes include the empty room over and under the letters; a hair of common room touches nothing.
        let slack = 1.0;
        self.left + slack < other.right
            && other.left + slack < self.right
            && self.top + slack < other.bottom
            && other.top + slack < self.bottom
    }
}

fn read(svg: &str) -> usvg::Tree {
    let mut options = usvg::Options::default();
    for face in [dejavu::sans::regular(), dejavu::sans::bold()] {
        options
            .fontdb_mut()
            .load_font_source(usvg::fontdb::Source::Binary(Arc::new(face)));
    }
    usvg::Tree::from_str(svg, &options).expect("the SVG is well formed")
}

/// All upright texts, and those across the picture.
fn texts(group: &usvg::Group, upright: &mut Vec<Placed>, stamps: &mut Vec<String>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => texts(inner, upright, stamps),
            usvg::Node::Text(text) => {
                let words: String = text.chunks().iter().map(usvg::TextChunk::text).collect();
                if text.abs_transform().has_skew() {
                    stamps.push(words);
                } else {
                    let room = text.abs_bounding_box();
                    upright.push(Placed {
                        words,
                        left: room.left(),
                        top: room.top(),
                        right: room.right(),
                        bottom: room.bottom(),
                    });
                }
            }
            _ => {}
        }
    }
}

/// End points of every stroke of a colour, in pixels of the picture.
fn strokes(group: &usvg::Group, colour: (u8, u8, u8), found: &mut Vec<Vec<(f32, f32)>>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => strokes(inner, colour, found),
            usvg::Node::Path(path) => {
                let wanted = usvg::Color::new_rgb(colour.0, colour.1, colour.2);
                let drawn = path.stroke().map(|stroke| stroke.paint().clone());
                if !matches!(drawn, Some(usvg::Paint::Color(drawn)) if drawn == wanted) {
                    continue;
                }
                let mut points: Vec<_> = path.data().points().to_vec();
                path.abs_transform().map_points(&mut points);
                found.push(points.iter().map(|point| (point.x, point.y)).collect());
            }
            _ => {}
        }
    }
}

fn measured_strokes(svg: &str) -> Vec<Vec<(f32, f32)>> {
    let mut found = Vec::new();
    strokes(read(svg).root(), (0x05, 0x4e, 0xa8), &mut found);
    found
}

fn all_texts(svg: &str) -> (Vec<Placed>, Vec<String>) {
    let (mut upright, mut stamps) = (Vec::new(), Vec::new());
    texts(read(svg).root(), &mut upright, &mut stamps);
    (upright, stamps)
}

fn check_layout(name: &str, figure: &Figure, size: Size) {
    let svg = plot::svg(figure, size).expect("the figure is drawn");
    assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}");
    let (placed, _) = all_texts(&svg);
    assert!(!placed.is_empty(), "{name}: no words");
    let scale = size.width_px as f32 / 1600.0;
    for (index, text) in placed.iter().enumerate() {
        assert!(
            text.left >= 0.0
                && text.top >= 0.0
                && text.right <= size.width_px as f32
                && text.bottom <= size.height_px as f32,
            "{name}: {text:?} leaves the picture"
        );
        // 34 pixels of type at 1600 pixels; the box is the face's 1.16 ems high.
        assert!(
            text.bottom - text.top >= 34.0 * 1.16 * scale,
            "{name}: {text:?} is too small"
        );
        for other in placed.iter().skip(index + 1) {
            assert!(
                !text.overlaps(other),
                "{name}: {text:?} lies over {other:?}"
            );
        }
    }
}

#[test]
fn no_words_overlap_or_leave_the_picture() {
    for (name, figure) in nasty() {
        let usual = plot::usual_size(&figure);
        check_layout(name, &figure, usual);
        let taller = Size {
            width_px: 800,
            height_px: usual.height_px,
        };
        check_layout(name, &figure, taller);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_the_values_are_the_words_stay_apart(
        values in proptest::collection::vec((0.0..1.0_f64, -1.0..1.0_f64), 1..40),
        (x_power, y_power, offset) in (-3.0..6.0_f64, -14.0..12.0_f64, -1e3..1e3_f64),
        places in proptest::collection::vec(0.0..1.0_f64, 0..15),
    ) {
        let (x_size, y_size) = (10_f64.powf(x_power), 10_f64.powf(y_power));
        let mut points: Vec<_> = values.iter().map(|(x, y)| (x * x_size, (y + offset) * y_size)).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut figure = one_line(points);
        figure.marks = places.iter().map(|at| mark(at * x_size, "noted")).collect();
        figure.spans = places.iter().map(|at| span(at * x_size, (at + 0.03) * x_size, "gap")).collect();
        check_layout("made up", &figure, plot::usual_size(&figure));
    }
}

#[test]
fn no_line_crosses_a_break() {
    let step = |from: u32, to: u32| {
        (from..to)
            .map(|i| (f64::from(i), f64::from(i % 17)))
            .collect::<Vec<_>>()
    };
    // Two pieces, and a fault inside one: breaks from 400 to 500 and from 700 to 740.
    let mut late = step(500, 1000);
    late.iter_mut()
        .skip(200)
        .take(40)
        .for_each(|point| point.1 = f64::NAN);
    let mut broken = one_line(Vec::new());
    broken.panels[0].series[0].pieces = vec![step(0, 400), late];
    let svg = plot::svg(&broken, plot::usual_size(&broken)).expect("the figure is drawn");
    let lines = measured_strokes(&svg);
    assert_eq!(lines.len(), 3, "one line for each unbroken run");
    for line in &lines {
        for (a, b) in line.iter().zip(line.iter().skip(1)) {
            assert!((b.0 - a.0).abs() < 5.0, "{a:?} to {b:?} spans a break");
        }
    }
    for stroke in [Stroke::Dashed, Stroke::Dots] {
        broken.panels[0].series[0].stroke = stroke;
        let svg = plot::svg(&broken, plot::usual_size(&broken)).expect("the figure is drawn");
        for line in measured_strokes(&svg) {
            for (a, b) in line.iter().zip(line.iter().skip(1)) {
                assert!((b.0 - a.0).abs() < 5.0, "{a:?} to {b:?} spans a break");
            }
        }
    }
}

#[test]
fn a_single_spike_in_a_million_readings_is_still_drawn_and_the_file_stays_small() {
    let mut points = each(1_000_000, 0.01, |_, i| 6.23e6 + 20.0 * rough(i));
    points[654_321].1 = 6.24e6;
    let mut long = one_line(points);
    for stroke in [Stroke::Line, Stroke::Dashed] {
        long.panels[0].series[0].stroke = stroke;
        let svg = plot::svg(&long, plot::usual_size(&long)).expect("the figure is drawn");
        assert!(svg.len() < 1_000_000, "{} bytes", svg.len());
        let lines = measured_strokes(&svg);
        let heights: Vec<f32> = lines.iter().flatten().map(|point| point.1).collect();
        let top = heights.iter().copied().fold(f32::MAX, f32::min);
        let bottom = heights.iter().copied().fold(0.0, f32::max);
        assert!(
            bottom - top > 500.0,
            "{stroke:?}: the spike is as high as the plot"
        );
        let near_top = lines.iter().flatten().filter(|point| point.1 < top + 50.0);
        let places: Vec<f32> = near_top.map(|point| point.0).collect();
        let (first, last) = places
            .iter()
            .fold((f32::MAX, 0.0_f32), |(a, b), x| (a.min(*x), b.max(*x)));
        assert!(
            last - first < 1.0,
            "{stroke:?}: one reading alone stands out, {places:?}"
        );
    }
}

#[test]
fn a_range_asked_for_cuts_the_line_at_the_frame() {
    let cut = cut();
    let svg = plot::svg(&cut, plot::usual_size(&cut)).expect("the figure is drawn");
    let mut frames = Vec::new();
    strokes(read(&svg).root(), (0x6e, 0x6e, 0x6e), &mut frames);
    let frame = frames
        .iter()
        .find(|points| points.len() == 5)
        .expect("a plot has a frame");
    let lines = measured_strokes(&svg);
    assert_eq!(lines.len(), 1);
    let reach = |points: &[(f32, f32)]| {
        let heights = points.iter().map(|point| point.1);
        heights.fold((f32::MAX, 0.0_f32), |(top, bottom), y| {
            (top.min(y), bottom.max(y))
        })
    };
    let (line, frame) = (reach(&lines[0]), reach(frame));
    assert!(
        (line.0 - frame.0).abs() < 0.3 && (line.1 - frame.1).abs() < 0.3,
        "{line:?} in {frame:?}"
    );
}

#[test]
fn a_million_readings_in_tiny_pieces_stay_a_small_file() {
    let mut shreds = one_line(Vec::new());
    shreds.panels[0].series[0].pieces = (0..300_000_u32)
        .map(|i| {
            vec![
                (f64::from(3 * i), rough(i)),
                (f64::from(3 * i + 1), rough(i + 1)),
            ]
        })
        .collect();
    shreds.spans = (0..300_000_u32)
        .map(|i| span(f64::from(3 * i + 1), f64::from(3 * i + 3), "gap"))
        .collect();
    let svg = plot::svg(&shreds, plot::usual_size(&shreds)).expect("the figure is drawn");
    assert!(svg.len() < 1_000_000, "{} bytes", svg.len());
}

#[test]
fn a_lone_reading_is_a_dot_and_no_readings_are_said() {
    let lone = one_line(vec![
        (0.0, 1.0),
        (1.0, f64::NAN),
        (2.0, 2.0),
        (3.0, f64::NAN),
        (4.0, 3.0),
    ]);
    let svg = plot::svg(&lone, plot::usual_size(&lone)).expect("the figure is drawn");
    assert_eq!(svg.matches("<circle").count(), 3);
    assert!(measured_strokes(&svg).is_empty());
    for empty in [
        one_line(Vec::new()),
        figure(Vec::new()),
        one_line(vec![(1.0, f64::NAN)]),
    ] {
        assert!(
            words(&empty)
                .iter()
                .any(|text| text.trim() == "no readings")
        );
    }
}

/// The share of the first plot's width that grey covers over most of its height, by the pixels of one row.
fn grey_share(figure: &Figure) -> f64 {
    let bytes = plot::png(figure, plot::usual_size(figure)).unwrap();
    let picture = tiny_skia::Pixmap::decode_png(&bytes).unwrap();
    // A row in the upper half of the plot, clear of the ramp and of the grid's lines.
    let (row, left, right) = (420, 300, 1500);
    let is_grey = |x: &u32| {
        let pixel = picture.pixel(*x, row).unwrap();
        pixel.red() < 240 && pixel.red().abs_diff(pixel.blue()) < 12
    };
    (left..right).filter(is_grey).count() as f64 / f64::from(right - left)
}

#[test]
fn ten_thousandths_of_the_time_are_not_painted_as_nine_tenths() {
    // 3000 gaps of 10 ms in 100 000 s, and two hours without data.
    let mut many = ramp(200, 100_000.0, 6.25e6, 6.26e6);
    many.spans = (0..3000)
        .map(|index| 33.0 * f64::from(index) + 5.0)
        .map(|at| span(at, at + 0.01, "gap"))
        .collect();
    let painted = grey_share(&many);
    assert!(painted < 0.03, "{painted}");
    let said = words(&many).join(" ");
    assert!(
        said.contains("gap (3000 times): too short to be shaded"),
        "{said}"
    );

    // What is wide is still drawn to scale beside them: 30 000 of some 105 000 s.
    many.spans.push(span(40_000.0, 70_000.0, "stopped"));
    let painted = grey_share(&many);
    assert!((0.25..0.35).contains(&painted), "{painted}");
}

#[test]
fn marks_are_numbered_in_order_and_listed_with_their_times() {
    let mut marked = one_line(vec![(0.0, 1.0), (600.0, 2.0)]);
    marked.marks = vec![
        mark(300.0, "second"),
        mark(60.0, "first"),
        mark(9000.0, "outside"),
    ];
    marked.x.range = Some(Span::new(0.0, 600.0));
    let words = words(&marked);
    let listed = |text: &str| words.iter().any(|found| found.trim() == text);
    assert!(
        listed("1.00 min: first") && listed("5.00 min: second"),
        "{words:?}"
    );
    assert!(!words.iter().any(|text| text.contains("outside")));
}

#[test]
fn the_stamp_lies_across_every_plot_behind_all_else() {
    let mut stamped = busy();
    stamped.title = "rotate(90, 1, 1)".to_owned();
    let svg = plot::svg(&stamped, plot::usual_size(&stamped)).expect("the figure is drawn");
    let (upright, stamps) = all_texts(&svg);
    assert_eq!(stamps.len(), 3);
    assert!(stamps.iter().all(|words| words.trim() == "simulated"));
    assert!(
        upright
            .iter()
            .any(|text| text.words.trim() == "rotate(90, 1, 1)")
    );
    let last_stamp = svg.rfind("simulated").expect("it is there");
    let first_line = svg.find("<polyline").expect("there are lines");
    assert!(last_stamp < first_line);
}

#[test]
fn the_png_has_the_size_asked_for_and_its_colours_are_on_it() {
    let busy = busy();
    let size = plot::usual_size(&busy);
    assert_eq!(size.width_px, 1600);
    let png = plot::png(&busy, size).expect("the figure is drawn");
    let pixels = tiny_skia::Pixmap::decode_png(&png).expect("it is a PNG");
    assert_eq!(
        (pixels.width(), pixels.height()),
        (size.width_px, size.height_px)
    );
    let count = |colour: [u8; 3]| {
        let same = |pixel: &&tiny_skia::PremultipliedColorU8| {
            [pixel.red(), pixel.green(), pixel.blue()] == colour
        };
        pixels.pixels().iter().filter(same).count()
    };
    assert!(
        count([0x05, 0x4e, 0xa8]) > 2000,
        "the measured line is drawn"
    );
    assert!(
        count([0xff, 0xff, 0xff]) > pixels.pixels().len() / 2,
        "the page is white"
    );
    assert_eq!(
        png,
        plot::png(&busy, size).expect("the figure is drawn"),
        "the same bytes each time"
    );
}

#[test]
fn a_size_that_will_not_do_is_refused_with_what_would() {
    let busy = busy();
    let usual = plot::usual_size(&busy);
    let low = Size {
        height_px: 400,
        ..usual
    };
    let Err(PlotError::TooLow { least_px, .. }) = plot::svg(&busy, low) else {
        panic!("400 pixels are too low for three panels");
    };
    let told = plot::svg(&busy, low).expect_err("too low").to_string();
    assert_eq!(
        told,
        format!("picture height: 400 pixels at 1600 wide, at least {least_px} for this figure")
    );
    let least = Size {
        height_px: least_px,
        ..usual
    };
    check_layout("least height", &busy, least);
    insta::assert_snapshot!(
        plot::svg(&busy, Size { width_px: 0, height_px: 9 }).expect_err("nothing to draw on"),
        @"picture size: 0 × 9 pixels, 1 to 16000 each way"
    );
    assert!(matches!(
        plot::png(&busy, low),
        Err(PlotError::TooLow { .. })
    ));
}
