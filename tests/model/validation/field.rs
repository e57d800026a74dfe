//! Rows on the electric field: closed forms of simple bodies, the far field, the reference levels, earlier values of our own.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

use sagtrace::coil::field::{Field, LevelKind, Line, Reach, Way, levels};
use sagtrace::coil::rings::conductor::{Charged, Conductor, Joint, Thing, disc, sphere};
use sagtrace::coil::rings::kernel::{EPSILON0_F_PER_M, Ring};
use sagtrace::coil::rings::{
    Charges, End, Fineness, RingCharge, Scene, charges, isolated_shares_f,
};

use super::{Row, rings, unknown};

/// Our value of a row's quantity, in SI.
pub(crate) fn ours(row: &Row) -> Result<f64, String> {
    Ok(match row.quantity.as_str() {
        "field-ring-greatest" => {
            let radius_m = row.si("radius")?;
            let ring = Ring {
                radius_m,
                height_m: 0.0,
            };
            let field = body(&[(ring, 1e-6, 1.0)]);
            let point_v_per_m = 1.0 / (4.0 * PI * EPSILON0_F_PER_M * radius_m * radius_m);
            field
                .at(0.0, FRAC_1_SQRT_2 * radius_m, 1.0)
                .strength_v_per_m()
                / point_v_per_m
        }
        "field-sphere" => {
            let field = held(&sphere(row.si("radius")?, 0.0, count(row)?))?;
            field
                .at(0.0, row.si("distance")?, row.si("volts")?)
                .strength_v_per_m()
        }
        "field-disc-axis" => {
            let field = held(&disc(row.si("radius")?, 0.0, count(row)?))?;
            field
                .at(0.0, row.si("distance")?, row.si("volts")?)
                .strength_v_per_m()
        }
        "field-disc-plane" => {
            let field = held(&disc(row.si("radius")?, 0.0, count(row)?))?;
            field
                .at(row.si("distance")?, 0.0, row.si("volts")?)
                .strength_v_per_m()
        }
        "field-level" => level(row)?,
        "field-exponent" => {
            let field = of_coil(row)?;
            let (from_m, to_m, height_m) = (row.si("from")?, row.si("to")?, row.si("height")?);
            let at = |radius_m| field.at(radius_m, height_m, 1.0).strength_v_per_m();
            (at(to_m) / at(from_m)).ln() / (to_m / from_m).ln()
        }
        "field-strength" => {
            let (radius_m, height_m) = (row.si("radius")?, row.si("height")?);
            let field = of_coil(row)?;
            field
                .at(radius_m, height_m, row.si("volts")?)
                .strength_v_per_m()
        }
        "field-reach" => reach_m(row)?,
        _ => return Err(unknown(row)),
    })
}

fn level(row: &Row) -> Result<f64, String> {
    let kind = match row.text("kind") {
        Ok("whole-body") => LevelKind::WholeBody,
        Ok("nerves") => LevelKind::Nerves,
        _ => LevelKind::Local,
    };
    let found = levels(row.si("frequency")?);
    let level = found.iter().find(|level| level.kind == kind);
    Ok(level.ok_or("no level at that frequency")?.rms_v_per_m)
}

/// How far from the axis, or above the top, the local level is met.
fn reach_m(row: &Row) -> Result<f64, String> {
    let scene = scene(row)?;
    let is_above = row.text("way")? == "above";
    let line = Line {
        way: if is_above { Way::Above } else { Way::Beside },
        from_m: (0.0, scene.meridian.top.height_m),
        farthest_m: 3.0,
    };
    let level = levels(row.si("frequency")?)[0].rms_v_per_m;
    match line.reach(&of_coil(row)?, row.si("volts")?, level) {
        Reach::At(distance_m) => Ok(distance_m),
        other => Err(format!("found {other:?}")),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a small whole number of the table"
)]
fn count(row: &Row) -> Result<u32, String> {
    Ok(row.si("rings")? as u32)
}

/// The field of rings by their place, wire radius and charge over the potential.
fn body(rings: &[(Ring, f64, f64)]) -> Field {
    let of = |(ring, wire_radius_m, charge_f): &(Ring, f64, f64)| RingCharge {
        ring: *ring,
        wire_radius_m: *wire_radius_m,
        charge_f: *charge_f,
    };
    Field::of(&Charges {
        rings: rings.iter().map(of).collect(),
        plane_m: None,
    })
}

/// The field of a body at 1 V.
fn held(rings: &[Charged]) -> Result<Field, String> {
    let shares = isolated_shares_f(rings).ok_or("the rings lie in each other")?;
    let rings: Vec<_> = rings
        .iter()
        .zip(shares)
        .map(|(one, charge_f)| (one.ring, one.wire_radius_m, charge_f))
        .collect();
    Ok(body(&rings))
}

/// The scene of a row; with a circuit it floats on that and the example's primary.
fn scene(row: &Row) -> Result<Scene, String> {
    let mut scene = rings::scene(row)?;
    if let Ok(radius_m) = row.si("circuit") {
        let below_m = row.si("below")?;
        let rim = Ring {
            radius_m,
            height_m: -below_m,
        };
        let turns = (0..row.whole("primary")?).map(|turn| Ring {
            radius_m: 0.011,
            height_m: 0.002 * f64::from(turn),
        });
        scene.foot = End::Joined;
        scene.conductors = vec![
            Conductor::disc(Thing::Circuit, Joint::Foot, rim, below_m),
            Conductor::turns(Thing::Primary, Joint::Foot, turns, 0.0005),
        ];
    }
    Ok(scene)
}

fn of_coil(row: &Row) -> Result<Field, String> {
    let scene = scene(row)?;
    let count = Fineness::for_turns(scene.meridian.turns).rings();
    let found = charges(&scene, count).map_err(|error| error.to_string())?;
    Ok(Field::of(&found))
}
