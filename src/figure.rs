//! A picture as a value: its contents, without a word on how they are drawn.
//!
//! The pure rooms build figures; `plot/` draws them. Values are in SI units; the drawing chooses the prefix.

use crate::units::{Span, Unit};

/// The quantity that an axis measures, which decides how its numbers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A quantity in an SI unit, with a prefix that fits.
    Si(Unit),
    /// Seconds since the session began, written in seconds, minutes or hours.
    Elapsed,
    /// A ratio, written in per cent.
    Percent,
    /// A ratio, written in parts per million.
    Ppm,
    /// Places of an axis of names.
    Name,
    /// A place in metres, written in centimetres. Where x and the y of a single panel are places, the picture is to scale.
    Place,
}

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// The name of the quantity, without the unit: `"frequency"`.
    pub label: String,
    /// The quantity of its numbers.
    pub quantity: Quantity,
    /// The range to show; `None` takes the data's own.
    pub range: Option<Span>,
    /// Names of the places 0, 1, 2 …, which stand in place of numbers; empty where the axis measures something.
    pub names: Vec<String>,
}

impl Axis {
    /// An axis that takes its range from the data.
    pub fn new(label: &str, quantity: Quantity) -> Self {
        Self {
            label: label.to_owned(),
            quantity,
            range: None,
            names: Vec::new(),
        }
    }

    /// An axis of named places: the first name at 0, the next at 1.
    pub fn of_names(label: &str, names: Vec<String>) -> Self {
        Self {
            range: Some(Span::new(-0.5, names.len() as f64 - 0.5)),
            names,
            ..Self::new(label, Quantity::Name)
        }
    }
}

/// The meaning of a series, band or line; each has its own colour in every picture of ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// A measured frequency, or a value computed from one.
    Measured,
    /// A battery voltage.
    Battery,
    /// A model's value or band.
    Modelled,
    /// A fit to the measurement.
    Fitted,
    /// A limit or threshold.
    Limit,
    /// A second measured quantity, to be distinguished from the first.
    Second,
}

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// A line through the points.
    Line,
    /// A dashed line through the points.
    Dashed,
    /// A dot at each point.
    Dots,
    /// A bar along x from the first to the last point of each piece, as thick as suits an axis of names.
    Bars,
    /// The edge of a thing, in the ink of the words, through points in any order.
    Outline,
    /// A line of equal value through points in any order, its label written on it and not in the key. One without pieces
    /// is the key's entry for its like.
    Contour(Contour),
}

/// How a line of equal value is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Contour {
    /// It is as strong as a series.
    Main,
    /// It is as strong, and dashed.
    Dashed,
    /// Thin, for the many between.
    Thin,
}

/// Points that belong together. A break in the data is a break between pieces; a line never crosses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Its name in the legend; empty for none.
    pub label: String,
    /// Its meaning.
    pub role: Role,
    /// How it is drawn.
    pub stroke: Stroke,
    /// Runs of `(x, y)` with rising x for lines, any order for dots.
    pub pieces: Vec<Vec<(f64, f64)>>,
}

/// A range of y over the whole width, for instance the modelled resonance with its band.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its name in the legend; empty for none.
    pub label: String,
    /// Its meaning.
    pub role: Role,
    /// Lower edge, the value itself if there is one, and upper edge.
    pub low: f64,
    /// The middle value, drawn as a line.
    pub value: Option<f64>,
    /// Upper edge.
    pub high: f64,
}

/// A stretch of x over the whole height: the coil stopped, or the data are missing.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// The event: `"stopped"`, `"gap"`.
    pub label: String,
    /// The span that it lasts, on the x axis.
    pub x: Span,
}

/// A moment that a person noted.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its place on the x axis.
    pub at: f64,
    /// The words.
    pub text: String,
}

/// One set of axes with the drawings in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// The y axis.
    pub y: Axis,
    /// The series, in the order of drawing.
    pub series: Vec<Series>,
    /// Bands behind the series.
    pub bands: Vec<Band>,
}

/// A whole picture: panels above each other on one x axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The heading: the subject of the picture.
    pub title: String,
    /// Under the heading: build, date, instrument, and whatever must be known to read it.
    pub caption: Vec<String>,
    /// Words that stand across the picture, such as `"simulated"`; `None` for measured data.
    pub stamp: Option<String>,
    /// The common x axis.
    pub x: Axis,
    /// The panels, top first.
    pub panels: Vec<Panel>,
    /// Stretches shaded through all panels.
    pub spans: Vec<Stretch>,
    /// Moments marked through all panels.
    pub marks: Vec<Mark>,
}

/// A drawing that is no plot: strokes and words on a page 1600 wide, y counted downwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Height of the page, in the same measure as its width.
    pub height: f64,
    /// The items to draw, the hindmost first.
    pub items: Vec<Item>,
}

/// An element of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A line through points.
    Line {
        /// The points.
        points: Vec<(f64, f64)>,
        /// How thick.
        width: f64,
        /// Its meaning; `None` for the ink of the words.
        role: Option<Role>,
    },
    /// A filled rectangle in light grey, from its upper left to its lower right corner.
    Patch {
        /// The upper left corner.
        from: (f64, f64),
        /// The lower right corner.
        to: (f64, f64),
    },
    /// A disc.
    Dot {
        /// Its middle.
        at: (f64, f64),
        /// Its radius.
        radius: f64,
    },
    /// Words in one line.
    Words {
        /// The words.
        text: String,
        /// Where the line begins, on its baseline; its middle where it is centred.
        at: (f64, f64),
        /// Height of the letters.
        size: f64,
        /// How they are set.
        setting: Setting,
    },
}

/// How words are set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    /// They begin at their place.
    Plain,
    /// The same, bold.
    Bold,
    /// About their place, bold.
    Centred,
}
