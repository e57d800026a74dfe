//! Rows on the ring model: resonances, capacitances of bodies, flat spirals.

use std::f64::consts::{PI, TAU};

use sagtrace::coil::former::{Former, shift};
use sagtrace::coil::inductance::{Current, circle_h, coaxial_circles_h};
use sagtrace::coil::rings::conductor::{Charged, Conductor, Joint, Thing, disc, sphere, toroid};
use sagtrace::coil::rings::kernel::{EPSILON0_F_PER_M, Ring, own_inductance_h};
use sagtrace::coil::rings::{Board, End, Fineness, Meridian, Scene, Solution, isolated_f, solve};
use sagtrace::coil::surroundings::Plane;

use super::{Row, awg_m, unknown};

const fn ring(radius_m: f64, height_m: f64) -> Ring {
    Ring { radius_m, height_m }
}

/// Our value of a row's quantity, in SI.
pub(crate) fn ours(row: &Row) -> Result<f64, String> {
    Ok(match row.quantity.as_str() {
        "ring-resonance" | "ring-resonance-bound" | "ring-board-resonance" => {
            solved(row)?.frequency_hz
        }
        "ring-board-ratio" => board_ratio(row)?,
        "ring-next-over-first" => {
            let found = solved(row)?;
            found.next_hz / found.frequency_hz
        }
        "ring-third-over-first" => {
            let found = solved(row)?;
            found.third_hz / found.frequency_hz
        }
        "ring-capacitance-per-diameter" => solved(row)?.resonance_f() / row.si("diameter")? / 100.0,
        "ring-linear-capacitance-per-diameter" => {
            solved(row)?.linear_f / row.si("diameter")? / 100.0
        }
        "ring-outer-over-free" => {
            let (mut outer, mut free) = (scene(row)?, scene(row)?);
            (outer.foot, free.foot) = (End::Earthed, End::Open);
            run(row, &outer)?.frequency_hz / run(row, &free)?.frequency_hz
        }
        "ring-free-over-straight" => {
            // Against a straight wire's half wave: f·2·length/c.
            let scene = scene(row)?;
            let wire_m = TAU * scene.meridian.mean_radius_m() * scene.meridian.turns;
            run(row, &scene)?.frequency_hz * 2.0 * wire_m / 299_792_458.0
        }
        "ring-inductance-low" => meridian(row)?.inductance_h(Current::Uniform),
        "ring-inductance-high" => meridian(row)?.inductance_h(Current::Surface),
        "ring-sum-deviation" => {
            ring_sum_h(row)? / meridian(row)?.inductance_h(Current::Uniform) - 1.0
        }
        "body-capacitance" | "body-capacitance-ratio" => body(row)?,
        _ => spiral(row)?,
    })
}

/// The winding of a row: a cylinder by diameter and length, or a flat spiral by its two radii.
fn meridian(row: &Row) -> Result<Meridian, String> {
    let (foot, top) = if let Ok(diameter_m) = row.si("diameter") {
        let length_m = row
            .si("length")
            .or_else(|_| row.si("l_over_d").map(|ratio| ratio * diameter_m))?;
        let end = |height_m| ring(diameter_m / 2.0, height_m);
        (end(0.0), end(length_m))
    } else {
        let outer_m = row.si("outer")?;
        let inner_m = row
            .si("inner")
            .or_else(|_| row.si("alpha").map(|ratio| ratio * outer_m))?;
        // Raised by an angle it is a cone of the same slope.
        let (sin, cos) = row.si("rise").unwrap_or(0.0).to_radians().sin_cos();
        let slope_m = outer_m - inner_m;
        (
            ring(outer_m, 0.0),
            ring(outer_m - slope_m * cos, slope_m * sin),
        )
    };
    let turns = row.si("turns")?;
    let mut meridian = Meridian {
        foot,
        top,
        turns,
        bare_m: 0.0,
    };
    // Without a wire a sheet is meant: at a pitch of π wires the wire's own term is none.
    meridian.bare_m = row
        .si("wire")
        .or_else(|_| row.si("awg").map(awg_m))
        .unwrap_or_else(|_| meridian.slope_m() / turns / PI);
    Ok(meridian)
}

pub(crate) fn scene(row: &Row) -> Result<Scene, String> {
    let meridian = meridian(row)?;
    let is_inner = row.text("ends") == Ok("inner");
    let mut scene = Scene::bare(if is_inner {
        meridian.turned()
    } else {
        meridian
    });
    let distance_m = row.si("distance").unwrap_or(0.0);
    scene.plane = match row.text("plane") {
        Ok("table") => Plane::Table { distance_m },
        Ok("metal") => Plane::Metal { distance_m },
        Ok(other) => return Err(format!("plane \"{other}\" is not known")),
        Err(_) => Plane::None,
    };
    scene.foot = match row.text("ends") {
        Ok("free") => End::Open,
        Ok("outer" | "inner") | Err(_) => End::Earthed,
        Ok(other) => return Err(format!("ends \"{other}\" are not known")),
    };
    if let Ok(thickness_m) = row.si("board") {
        let permittivity = row.si("permittivity")?;
        scene.board = Some(Board {
            thickness_m,
            permittivity,
        });
    }
    if let Ok(ceiling_m) = row.si("ceiling") {
        let at_m = meridian.top.height_m + ceiling_m;
        let disc = Conductor::disc(
            Thing::Ceiling,
            Joint::Earth,
            ring(row.si("ceiling_radius")?, at_m),
            ceiling_m,
        );
        scene.conductors.push(disc);
    }
    Ok(scene)
}

fn run(row: &Row, scene: &Scene) -> Result<Solution, String> {
    let is_sheet = row.text("form") == Ok("sheet");
    let fineness = if is_sheet {
        Fineness::Extrapolated(160)
    } else {
        Fineness::for_turns(scene.meridian.turns)
    };
    let mut asked = scene.clone();
    if is_sheet {
        asked.meridian.bare_m = asked.meridian.slope_m() / asked.meridian.turns / PI;
    }
    let mut found = solve(&asked, fineness).map_err(|error| error.to_string())?;
    if is_sheet && scene.metal_m().is_none() {
        // The charges of a sheet, the inductance of the wire; that only scales all of it.
        let wire_h = scene.meridian.inductance_h(Current::Surface);
        let scale = (found.inductance_h / wire_h).sqrt();
        found.frequency_hz *= scale;
        found.next_hz *= scale;
        found.third_hz *= scale;
        found.inductance_h = wire_h;
    }
    Ok(found)
}

/// What the program makes of a board: its resonance over that without, as a prediction takes it.
fn board_ratio(row: &Row) -> Result<f64, String> {
    let mut scene = scene(row)?;
    let board = scene.board.take();
    let with = |board| {
        shift(Former::Air, board, &scene)
            .map(|found| found.value)
            .map_err(|error| error.to_string())
    };
    Ok(1.0 + with(board)? - with(None)?)
}

fn solved(row: &Row) -> Result<Solution, String> {
    run(row, &scene(row)?)
}

/// Capacitance of a body of revolution, in farads.
fn body(row: &Row) -> Result<f64, String> {
    let count = row.si("rings")?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small whole number of the table"
    )]
    let count = count as u32;
    let rings = match row.text("body")? {
        "sphere" => sphere(row.si("radius")?, 0.0, count),
        "disc" => disc(row.si("radius")?, 0.0, count),
        "toroid" => toroid(ring(row.si("radius")?, 0.0), row.si("tube")?, count),
        "cylinder" => closed_cylinder(row.si("radius")?, row.si("length")?, count),
        other => return Err(format!("body \"{other}\" is not known")),
    };
    let found_f = isolated_f(&rings).ok_or("the rings lie in each other")?;
    let sphere_f = 4.0 * PI * EPSILON0_F_PER_M * row.si("radius")?;
    Ok(match row.quantity.as_str() {
        "body-capacitance" => found_f,
        _ => found_f / sphere_f,
    })
}

/// Rings of a tube and its two end faces.
fn closed_cylinder(radius_m: f64, length_m: f64, count: u32) -> Vec<Charged> {
    let step_m = length_m / f64::from(count);
    let side = (0..count).map(|index| Charged {
        ring: ring(radius_m, (f64::from(index) + 0.5) * step_m),
        wire_radius_m: step_m / TAU,
    });
    let ends = [0.0, length_m]
        .into_iter()
        .flat_map(|height_m| disc(radius_m, height_m, count / 4));
    side.chain(ends).collect()
}

/// The sum over all pairs of turns of a winding for slow currents, in henries.
fn ring_sum_h(row: &Row) -> Result<f64, String> {
    let meridian = meridian(row)?;
    let turns = row.whole("turns")?;
    let circles: Vec<Ring> = (0..turns)
        .map(|turn| meridian.at((f64::from(turn) + 0.5) / f64::from(turns)))
        .collect();
    let mut sum_h = 0.0;
    for (index, one) in circles.iter().enumerate() {
        sum_h += circle_h(one.radius_m, meridian.bare_m, Current::Uniform);
        for other in circles.iter().skip(index + 1) {
            let distance_m = one.height_m - other.height_m;
            sum_h += 2.0 * coaxial_circles_h(one.radius_m, other.radius_m, distance_m);
        }
    }
    Ok(sum_h)
}

/// Inductances of flat spirals and the printed formulas for them.
fn spiral(row: &Row) -> Result<f64, String> {
    if row.quantity == "spiral-ribbon" {
        return ribbon(row);
    }
    // One turn on an outer radius of 1 m, whatever the row says of turns: only the ratio of the radii counts.
    let alpha = row.si("alpha")?;
    let mean_m = f64::midpoint(alpha, 1.0);
    let sheet = Meridian {
        foot: ring(1.0, 0.0),
        top: ring(alpha, 0.0),
        turns: 1.0,
        bare_m: 1.0,
    };
    let sheet_h = sheet.sheet_inductance_h();
    let fill = (1.0 - alpha) / (1.0 + alpha);
    Ok(match row.quantity.as_str() {
        // Nanohenry a centimetre of mean radius: 1e-7 H/m.
        "spiral-sheet" => sheet_h / mean_m / 1e-7,
        // Mohan et al. 1999, current sheet of circles, c1 = 1, c2 = 2.46, c3 = 0, c4 = 0.2 (from memory).
        "spiral-mohan-deviation" => {
            let sum = (2.46 / fill).ln() + 0.2 * fill * fill;
            4e-7 * PI * 2.0 * mean_m / 2.0 * sum / sheet_h - 1.0
        }
        // Wheeler's flat coil, a²N²/(8a + 11c) µH with inches.
        "spiral-wheeler-deviation" => {
            let (a, c) = (mean_m / 0.0254, (1.0 - alpha) / 0.0254);
            a * a / (8.0 * a + 11.0 * c) * 1e-6 / sheet_h - 1.0
        }
        // Spielrein's series as Grover has it, good for small holes: Q in nH/cm.
        "spiral-spielrein-deviation" => {
            let q = 6.96957 - alpha.powi(3) * (30.3008 * (1.0 / alpha).log10() + 9.08008)
                + 1.48044 * alpha.powi(5)
                + 0.33045 * alpha.powi(7)
                + 0.12494 * alpha.powi(9);
            q * 1e-7 / (1.0 - alpha).powi(2) / sheet_h - 1.0
        }
        _ => return Err(unknown(row)),
    })
}

/// A spiral of ribbon that stands on edge, each turn cut into rings across its width.
fn ribbon(row: &Row) -> Result<f64, String> {
    let (turns, strips) = (row.whole("turns")?, 24);
    let (width_m, pitch_m) = (row.si("width")?, row.si("pitch")?);
    let step_m = width_m / f64::from(strips);
    let first_m = row.si("inner_diameter")? / 2.0;
    let rings: Vec<Ring> = (0..turns)
        .flat_map(|turn| {
            (0..strips).map(move |strip| {
                ring(
                    first_m + f64::from(turn) * pitch_m,
                    f64::from(strip) * step_m,
                )
            })
        })
        .collect();
    let mut sum_h = 0.0;
    for (index, one) in rings.iter().enumerate() {
        sum_h += own_inductance_h(one.radius_m, step_m / TAU);
        for other in rings.iter().skip(index + 1) {
            let distance_m = one.height_m - other.height_m;
            sum_h += 2.0 * coaxial_circles_h(one.radius_m, other.radius_m, distance_m);
        }
    }
    Ok(sum_h / f64::from(strips * strips))
}
