//! Reads `[coil]`: shape, wire and turns, and whether they can be one winding.

use crate::coil::film::{Film, FilmError, Origin, OverEnamel, over_enamel};
use crate::coil::former::Former;
use crate::coil::rings::Board;
use crate::coil::spec::{Close, Tolerance};
use crate::coil::winding::{Sense, Shape, SpiralEnd, Winding};
use crate::coil::wire::Gauge;
use crate::faults::{Entry, Table};
use crate::units::{Unit, rounded};

use super::assumed::{Assumed, optional};
use super::tolerance::tolerances;

/// How much tighter than the thinnest enamel allows a winding may seem: chosen, a ruler's millimetre on a short coil.
const SLACK: f64 = 0.02;

/// How the words of a sheet name the shapes.
#[derive(Debug, Clone, Copy)]
enum Form {
    Cylinder,
    Cone,
    FlatSpiral,
}

const FORMS: [(&str, Form); 3] = [
    ("cylinder", Form::Cylinder),
    ("cone", Form::Cone),
    ("flat-spiral", Form::FlatSpiral),
];

/// Each sense by its word.
pub(super) const SENSES: [(&str, Sense); 2] = [("right", Sense::Right), ("left", Sense::Left)];

/// A key with its value, kept so that a later check can point at it.
type Given<'t> = Option<(Entry<'t>, f64)>;

/// The sheet's diameter.
#[derive(Debug)]
pub(super) struct Diameter<'t> {
    /// The key that says it.
    pub(super) entry: Entry<'t>,
    value_m: f64,
    is_former: bool,
}

impl Diameter<'_> {
    /// The diameter through the wire's centre, in metres, for a wire of this outer diameter.
    pub(super) fn mean_m(&self, wire_m: f64) -> f64 {
        self.value_m + if self.is_former { wire_m } else { 0.0 }
    }
}

/// The secondary as a sheet gives it.
#[derive(Debug)]
pub(super) struct Wound {
    pub(super) winding: Winding,
    pub(super) former: Former,
    /// The board below a winding that is not flat; a flat one's board is its former.
    pub(super) board: Option<Board>,
    pub(super) tolerance: Tolerance,
}

impl Wound {
    /// How thick the board below the winding is, in metres, if there is one.
    pub(super) fn board_m(&self) -> Option<f64> {
        match self.former {
            Former::Board { thickness_m, .. } => Some(thickness_m),
            _ => self.board.map(|board| board.thickness_m),
        }
    }
}

pub(super) fn read(table: &Table<'_>, assumed: &mut Assumed) -> Option<Wound> {
    let form = table
        .need("shape", "expected cylinder, cone or flat-spiral")
        .and_then(|entry| entry.choice(&FORMS));
    let wire = wire(table, assumed);
    let sense = optional(table.entry("sense"), |entry| entry.choice(&SENSES));
    let given = tolerances(table);
    let former = former(table, form);
    let board = board(table);
    let foot_end = match form {
        Some(Form::FlatSpiral) => optional(table.entry("foot_end"), |entry| {
            entry.choice(&SpiralEnd::WORDS)
        }),
        Some(Form::Cylinder | Form::Cone) => Some(None),
        None => {
            drop(table.entry("foot_end"));
            None
        }
    };
    let outer = wire.as_ref().map(|(_, outer)| *outer);
    let wound = match form {
        Some(Form::Cylinder) => cylinder(table, outer, assumed),
        Some(Form::Cone) => cone(table, outer),
        Some(Form::FlatSpiral) => flat_spiral(table, outer),
        None => {
            // The shape decides which keys are known; with it at fault no other may be blamed.
            for key in DIMENSIONS {
                drop(table.entry(key));
            }
            None
        }
    };
    table.close();
    let (gauge, over_enamel) = wire?;
    let (shape, turns, close) = wound?;
    let (former, board, foot_end) = (former?, board?, foot_end?);
    let is_flat = matches!(shape, Shape::FlatSpiral { .. });
    if is_flat && foot_end.is_none() {
        assumed.note("coil.foot_end", "the outer end at the base assumed");
    }
    let winding = Winding {
        shape,
        turns,
        gauge,
        over_enamel,
        sense: sense?.unwrap_or(Sense::Right),
        foot_end: foot_end.unwrap_or_default(),
    };
    let (former, board) = match board {
        Some(Board {
            thickness_m,
            permittivity,
        }) if is_flat => {
            let former = Former::Board {
                thickness_m,
                permittivity,
            };
            (former, None)
        }
        board => (former, board),
    };
    Some(Wound {
        tolerance: given?.or_usual(&winding, close, assumed),
        winding,
        former,
        board,
    })
}

/// Reads the former of a winding that is not flat.
fn former(table: &Table<'_>, form: Option<Form>) -> Option<Former> {
    match form {
        Some(Form::Cylinder | Form::Cone) => {
            let word = optional(table.entry("former"), |entry| entry.choice(&Former::WORDS));
            word.map(|former| former.unwrap_or(Former::Unsaid))
        }
        Some(Form::FlatSpiral) => Some(Former::Unsaid),
        None => {
            drop(table.entry("former"));
            None
        }
    }
}

/// Reads the board that the winding lies or stands on.
#[expect(
    clippy::option_option,
    reason = "missing and at fault are two things: the first has a default, the second has been reported"
)]
fn board(table: &Table<'_>) -> Option<Option<Board>> {
    let thickness = given(table.entry("board_thickness"), |entry| {
        entry.quantity(Unit::Metre, 1e-5..=0.1)
    });
    let permittivity = given(table.entry("board_permittivity"), |entry| {
        entry.number(1.0..=20.0)
    });
    match (thickness?, permittivity?) {
        (Some((_, thickness_m)), Some((_, permittivity))) => Some(Some(Board {
            thickness_m,
            permittivity,
        })),
        (None, None) => Some(None),
        (Some((entry, _)), None) => {
            entry.fault("expected coil.board_permittivity beside it, such as 3");
            None
        }
        (None, Some((entry, _))) => {
            entry.fault("expected coil.board_thickness beside it, such as \"2 mm\"");
            None
        }
    }
}

/// The keys that belong to one shape or another.
const DIMENSIONS: [&str; 9] = [
    "former_diameter",
    "mean_diameter",
    "foot_diameter",
    "top_diameter",
    "inner_diameter",
    "outer_diameter",
    "turns",
    "winding_length",
    "turn_pitch",
];

fn wire(table: &Table<'_>, assumed: &mut Assumed) -> Option<(Gauge, OverEnamel)> {
    let entry = table.need(
        "wire",
        "expected the bare wire, such as \"0.2 mm\" or \"32 AWG\"",
    );
    let film = match table.entry("film") {
        Some(entry) => entry.choice(&Film::WORDS).map(|film| Some((entry, film))),
        None => Some(None),
    };
    let measured = given(table.entry("over_enamel"), |entry| {
        entry.quantity(Unit::Metre, 10e-6..=15e-3)
    });
    let entry = entry?;
    let gauge = gauge(&entry)?;
    if let Some((measured, diameter_m)) = measured? {
        if diameter_m < gauge.bare_m() {
            let bare = rounded(gauge.bare_m(), Unit::Metre, 3);
            measured.fault(&format!(
                "expected more than the bare wire's {bare}, coil.wire"
            ));
            return None;
        }
        return Some((gauge, OverEnamel::measured(diameter_m)));
    }
    let film = film?;
    let grade = film
        .as_ref()
        .map_or_else(|| Film::usual(gauge), |(_, grade)| *grade);
    match over_enamel(gauge, grade) {
        Ok(outer) => {
            if film.is_none() {
                assumed.note("coil.film", format!("{} assumed", grade.name()));
            }
            if outer.origin != Origin::Listed {
                let diameter = rounded(outer.middle_m(), Unit::Metre, 3);
                let origin = outer.origin.words();
                assumed.note("coil.over_enamel", format!("{diameter}, {origin}"));
            }
            Some((gauge, outer))
        }
        Err(error) => {
            match (error, film) {
                (FilmError::OtherSystem { allowed, .. }, Some((film, _))) => film.fault(allowed),
                (error, _) => {
                    entry.fault(&format!(
                        "{error}; coil.over_enamel may say what callipers show"
                    ));
                }
            }
            None
        }
    }
}

/// Reads a wire's size.
pub(super) fn gauge(entry: &Entry<'_>) -> Option<Gauge> {
    let text = entry.text()?;
    Gauge::parse(text)
        .map_err(|error| entry.fault(&error.to_string()))
        .ok()
}

/// Reads `former_diameter` or `mean_diameter`, one of which must be there.
pub(super) fn diameter<'t>(table: &Table<'t>) -> Option<Diameter<'t>> {
    let mean = table.entry("mean_diameter");
    let former = if mean.is_some() {
        table.entry("former_diameter")
    } else {
        table.need(
            "former_diameter",
            "expected former_diameter or mean_diameter, such as \"16 mm\"",
        )
    };
    let is_former = mean.is_none();
    if let (Some(_), Some(former)) = (&mean, &former) {
        former.fault("expected either this or mean_diameter, not both");
        return None;
    }
    let entry = mean.or(former)?;
    let value_m = entry.quantity(Unit::Metre, 1e-3..=1.0)?;
    Some(Diameter {
        entry,
        value_m,
        is_former,
    })
}

fn given<'t>(
    entry: Option<Entry<'t>>,
    read: impl FnOnce(&Entry<'t>) -> Option<f64>,
) -> Option<Given<'t>> {
    match entry {
        Some(entry) => read(&entry).map(|value| Some((entry, value))),
        None => Some(None),
    }
}

fn turns_of(entry: &Entry<'_>) -> Option<f64> {
    entry.number(1.0..=20_000.0)
}

fn length_of(entry: &Entry<'_>) -> Option<f64> {
    entry.quantity(Unit::Metre, 1e-3..=3.0)
}

fn cylinder(
    table: &Table<'_>,
    outer: Option<OverEnamel>,
    assumed: &mut Assumed,
) -> Option<(Shape, f64, Close)> {
    let diameter = diameter(table);
    let length = given(table.entry("winding_length"), length_of);
    let pitch = given(table.entry("turn_pitch"), |entry| {
        entry.quantity(Unit::Metre, 10e-6..=0.1)
    });
    let turns = if matches!(length, Some(None)) {
        table.need("turns", "expected turns or winding_length")
    } else {
        table.entry("turns")
    };
    let turns = given(turns, turns_of);
    let (diameter, turns, length, pitch) = (diameter?, turns?, length?, pitch?);
    let outer = outer?;
    let (turns, length_m, close) = run(turns, length, pitch, outer, assumed)?;
    let shape = Shape::Cylinder {
        diameter_m: diameter.mean_m(outer.middle_m()),
        length_m,
    };
    Some((shape, turns, close))
}

/// Returns turns and winding length from those given of turns, length and pitch; close wound where two are missing. It also
/// returns which of them close winding gave.
fn run(
    turns: Given<'_>,
    length: Given<'_>,
    pitch: Given<'_>,
    outer: OverEnamel,
    assumed: &mut Assumed,
) -> Option<(f64, f64, Close)> {
    let close_m = outer.middle_m();
    let mut close_wound = || {
        let pitch = rounded(close_m, Unit::Metre, 3);
        assumed.note(
            "coil.turn_pitch",
            format!("close wound assumed, {pitch} a turn"),
        );
    };
    match (turns, length, pitch) {
        (Some((_, turns)), None, None) => {
            close_wound();
            Some((turns, turns * close_m, Close::Length))
        }
        (None, Some((_, length_m)), None) => {
            close_wound();
            let turns = length_m / close_m;
            assumed.note(
                "coil.turns",
                format!("{turns:.0} from winding_length and the wire over its enamel"),
            );
            Some((turns, length_m, Close::Turns))
        }
        (Some((_, turns)), Some((entry, length_m)), None) => {
            room_for(&entry, turns, length_m, outer).then_some((turns, length_m, Close::Nothing))
        }
        (Some((_, turns)), None, Some((entry, pitch_m))) => {
            room_for(&entry, turns, turns * pitch_m, outer).then_some((
                turns,
                turns * pitch_m,
                Close::Nothing,
            ))
        }
        (None, Some((_, length_m)), Some((entry, pitch_m))) => {
            let turns = length_m / pitch_m;
            room_for(&entry, turns, length_m, outer).then_some((turns, length_m, Close::Nothing))
        }
        (Some((_, turns)), Some((entry, length_m)), Some((_, pitch_m))) => {
            if (turns * pitch_m / length_m - 1.0).abs() > SLACK {
                let product = rounded(turns * pitch_m, Unit::Metre, 3);
                entry.fault(&format!("expected {product}, coil.turns × coil.turn_pitch"));
                return None;
            }
            room_for(&entry, turns, length_m, outer).then_some((turns, length_m, Close::Nothing))
        }
        // A sheet without both was reported where turns were asked for.
        (None, None, _) => None,
    }
}

/// Whether this number of turns fits side by side; if not, reports that at `entry`.
fn room_for(entry: &Entry<'_>, turns: f64, reach_m: f64, outer: OverEnamel) -> bool {
    let needed_m = turns * outer.low_m;
    let fits = reach_m >= needed_m * (1.0 - SLACK);
    if !fits {
        entry.fault(&format!(
            "expected room of {} or more for coil.turns = {turns:.0}, each {} or more over its enamel",
            rounded(needed_m, Unit::Metre, 3),
            rounded(outer.low_m, Unit::Metre, 3)
        ));
    }
    fits
}

fn span(table: &Table<'_>, key: &'static str, which: &str) -> Option<f64> {
    table
        .need(key, &format!("expected {which} through the wire's centre"))
        .and_then(|entry| entry.quantity(Unit::Metre, 1e-3..=1.0))
}

fn whole_turns<'t>(table: &Table<'t>) -> Option<(Entry<'t>, f64)> {
    let entry = table.need("turns", "expected the number of turns")?;
    let turns = turns_of(&entry)?;
    Some((entry, turns))
}

fn cone(table: &Table<'_>, outer: Option<OverEnamel>) -> Option<(Shape, f64, Close)> {
    let foot_diameter_m = span(table, "foot_diameter", "the diameter at the foot");
    let top_diameter_m = span(table, "top_diameter", "the diameter at the top");
    let length_m = table
        .need("winding_length", "expected the length along the axis")
        .and_then(|entry| length_of(&entry));
    let turns = whole_turns(table);
    let shape = Shape::Cone {
        foot_diameter_m: foot_diameter_m?,
        top_diameter_m: top_diameter_m?,
        length_m: length_m?,
    };
    let (entry, turns) = turns?;
    room_for(&entry, turns, shape.slope_m(), outer?).then_some((shape, turns, Close::Nothing))
}

fn flat_spiral(table: &Table<'_>, outer: Option<OverEnamel>) -> Option<(Shape, f64, Close)> {
    let inner_m = span(table, "inner_diameter", "the innermost turn's diameter");
    let outer_m = span(table, "outer_diameter", "the outermost turn's diameter");
    let turns = whole_turns(table);
    let (inner_m, outer_m) = (inner_m?, outer_m?);
    let (entry, turns) = turns?;
    if outer_m <= inner_m || turns < 2.0 {
        entry.fault("expected an outer_diameter above inner_diameter and two turns or more");
        return None;
    }
    // The diameters go through the wire; the winding as a sheet reaches half a pitch beyond each.
    let pitch_m = (outer_m - inner_m) / 2.0 / (turns - 1.0);
    let shape = Shape::FlatSpiral {
        inner_diameter_m: inner_m - pitch_m,
        outer_diameter_m: outer_m + pitch_m,
    };
    room_for(&entry, turns, shape.slope_m(), outer?).then_some((shape, turns, Close::Nothing))
}
