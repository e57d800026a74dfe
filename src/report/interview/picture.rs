//! A build's cross-section in letters, as far as it is known. It is not to scale: its dimensions stand beside it.

use crate::sheet::interview::{Interview, millimetres};
use crate::units::{self, Unit};

/// Rows of the winding.
const ROWS: usize = 6;

/// Rows of the primary among them.
const PRIMARY_ROWS: usize = 2;

/// The former's inside in columns.
const INSIDE: usize = 9;

/// Where the dimensions begin.
const LABEL_COLUMN: usize = 26;

/// The widest line.
const WIDTH: usize = 60;

/// Returns the picture of the answers so far; `None` before the former is known.
pub fn picture(interview: &Interview) -> Option<String> {
    let diameter = interview.said("coil.former_diameter")?;
    let mut rows = above(interview);
    rows.extend(winding(interview));
    rows.push((
        format!("{:^INSIDE$}", format!("|{diameter}|")),
        "not to scale".to_owned(),
    ));
    rows.extend(plane(interview));
    let line = |(drawn, label): (String, String)| {
        let drawn = format!("{drawn:^w$}", w = LABEL_COLUMN - 2);
        let line = format!("  {drawn}{label}");
        let line: String = line.trim_end().chars().take(WIDTH).collect();
        line + "\n"
    };
    Some(rows.into_iter().map(line).collect())
}

/// A hand, and the top.
fn above(interview: &Interview) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    if let Some(far) = interview.said("usual.hand") {
        rows.push(("~".repeat(15), format!("hand or lamp, {far} above")));
    }
    let top = match interview.said("top.shape") {
        Some("sphere") => Some(("(     )", "ball")),
        Some("disc") => Some(("=============", "plate")),
        Some("toroid") => Some(("(_)-------(_)", "ring")),
        _ => None,
    };
    rows.extend(top.map(|(drawn, name)| {
        let of = |key, words: &str| {
            let said = interview.said(key);
            said.map_or_else(String::new, |said| format!("{words}{said}"))
        };
        let [size, gap] = [of("top.diameter", " of "), of("top.gap", ", gap ")];
        (drawn.to_owned(), format!("top: {name}{size}{gap}"))
    }));
    rows
}

/// Former and windings, cut through their axis.
fn winding(interview: &Interview) -> Vec<(String, String)> {
    let (wall, filling) = match interview.said("coil.former") {
        Some("air") => (" ", " "),
        Some("rod") => ("|", ":"),
        _ => ("|", " "),
    };
    let wire = if interview.said("coil.wire").is_some() {
        "o"
    } else {
        " "
    };
    let primary = Primary::of(interview);
    let mut labels = secondary(interview);
    labels.resize(ROWS - PRIMARY_ROWS, String::new());
    labels.extend(
        primary
            .as_ref()
            .map(|primary| primary.labels.clone())
            .into_iter()
            .flatten(),
    );
    labels.resize(ROWS, String::new());
    let row = |(at, label)| {
        let here = primary
            .as_ref()
            .filter(|primary| primary.rows.contains(&at));
        let (outer, inner) = match here {
            Some(Primary {
                is_inside: true, ..
            }) => (" ", "O"),
            Some(_) => ("O", filling),
            None => (" ", filling),
        };
        let inside = format!("{inner}{}{inner}", filling.repeat(INSIDE - 2));
        (
            format!("{outer} {wire}{wall}{inside}{wall}{wire} {outer}"),
            label,
        )
    };
    labels.into_iter().enumerate().map(row).collect()
}

/// The secondary's dimensions, those that are computed with "about".
fn secondary(interview: &Interview) -> Vec<String> {
    let Some(wire) = interview.said("coil.wire") else {
        return Vec::new();
    };
    let wire = format!("secondary: {wire} wire");
    let is_counted = ["coil.turns", "coil.winding_length"]
        .iter()
        .any(|key| interview.said(key).is_some());
    let Some(sheet) = interview.sheet().ok().filter(|_| is_counted) else {
        return vec![wire];
    };
    let turns = match interview.said("coil.turns") {
        Some(turns) => format!("{turns} turns"),
        None => format!("about {:.0} turns", sheet.turns()),
    };
    let length = match interview.said("coil.winding_length") {
        Some(length) => format!("{length} long"),
        None => format!(
            "about {} long",
            millimetres((sheet.winding_length_m() * 1e4).round() / 1e4)
        ),
    };
    vec![wire, turns, length]
}

/// The primary in the picture.
struct Primary {
    /// From the winding's top.
    rows: std::ops::Range<usize>,
    is_inside: bool,
    labels: Vec<String>,
}

impl Primary {
    fn of(interview: &Interview) -> Option<Self> {
        let turns = interview.said("primary.turns")?;
        let metres = |key| units::parse(interview.said(key)?, Unit::Metre).ok();
        let inner = metres("primary.former_diameter").zip(metres("coil.former_diameter"));
        let length_m = interview
            .sheet()
            .map_or(f64::INFINITY, |sheet| sheet.winding_length_m());
        // The picture has room beside the winding alone; the label says how far above it or below it the primary is.
        let top = ROWS - PRIMARY_ROWS;
        let row_m = length_m / ROWS as f64;
        let above_m = metres("primary.position").unwrap_or(0.0);
        let reaches = |row: &usize| (top - row) as f64 * row_m + row_m / 2.0 > above_m;
        let lowest = (0..=top).rev().find(reaches).unwrap_or(0);
        let wire = interview.said("primary.wire");
        let wire = wire.map_or_else(String::new, |wire| format!(" of {wire}"));
        let mut labels = vec![format!("primary: {turns} turns{wire}")];
        let inside = interview
            .said("primary.former_diameter")
            .map(|said| format!("{said} inside"));
        let above = interview.said("primary.position").map(|said| {
            let below = said
                .strip_prefix('-')
                .map(|far| format!("{far} below the foot"));
            below.unwrap_or_else(|| format!("{said} above the foot"))
        });
        let place: Vec<String> = inside.into_iter().chain(above).collect();
        labels.push(place.join(", "));
        Some(Self {
            rows: lowest..lowest + PRIMARY_ROWS,
            is_inside: inner.is_some_and(|(own_m, former_m)| own_m < former_m),
            labels,
        })
    }
}

/// The surface below.
fn plane(interview: &Interview) -> Option<(String, String)> {
    let (drawn, name) = match interview.said("usual.plane")? {
        "table" => ("-", "table"),
        "metal" => ("=", "metal"),
        _ => return None,
    };
    let far = interview.said("usual.plane_distance");
    let far = far.map_or_else(String::new, |far| format!(", {far} below the winding"));
    Some((drawn.repeat(21), format!("{name}{far}")))
}
