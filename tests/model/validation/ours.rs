//! Our value of a row's quantity.

use super::*;

/// Diameter of a gauge with decimals, as the measured coils give it.
pub(super) fn awg_m(number: f64) -> f64 {
    127e-6 * 92.0_f64.powf((36.0 - number) / 39.0)
}

/// Our value of a row's quantity, in SI.
pub(super) fn ours(row: &Row) -> Result<f64, String> {
    let quantity = row.quantity.as_str();
    match quantity.split('-').next().unwrap_or("") {
        "awg" | "wire" | "film" | "copper" => wire(row),
        "build" => build(row),
        "field" => field::ours(row),
        "ring" | "body" | "spiral" => rings::ours(row),
        "elliptic" | "nagaoka" | "lundin" | "wheeler" | "rosa" | "mutual" => inductance(row),
        "skin" | "crowding" | "self" | "layer" | "row" | "coil" => tables(row),
        _ => winding(row),
    }
}

pub(super) fn unknown(row: &Row) -> String {
    format!("quantity \"{}\" is not known", row.quantity)
}

pub(super) fn wire(row: &Row) -> Result<f64, String> {
    let outer = || {
        let gauge = row.gauge()?;
        let outer = over_enamel(gauge, row.film()?).map_err(|error| error.to_string())?;
        Ok::<_, String>((gauge, outer))
    };
    Ok(match row.quantity.as_str() {
        "awg-formula" => awg_formula_m(row.whole("awg")?),
        "awg-nominal" => awg_nominal_m(row.whole("awg")?),
        "wire-resistance" => resistance_ohm_per_m(row.si("diameter")?, row.si("temperature")?),
        "film-greatest" => outer()?.1.high_m,
        "film-least-increase" => {
            let (gauge, outer) = outer()?;
            outer.low_m - gauge.bare_m()
        }
        "copper-resistivity" => COPPER_OHM_M,
        _ => return Err(unknown(row)),
    })
}

pub(super) fn inductance(row: &Row) -> Result<f64, String> {
    Ok(match row.quantity.as_str() {
        "elliptic-k" => complete(1.0 - row.si("m")?).k,
        "elliptic-e" => complete(1.0 - row.si("m")?).e,
        "nagaoka" | "nagaoka-print-error" => nagaoka(row.d_over_l()?),
        "lundin-deviation" => {
            let (low, high) = (row.si("d_over_l")?, row.si("to")?);
            let steps = 400;
            (0..=steps)
                .map(|step| low * (high / low).powf(f64::from(step) / f64::from(steps)))
                .map(|ratio| (lundin_h(ratio) / current_sheet_h(1.0, ratio, 1.0) - 1.0).abs())
                .fold(0.0, f64::max)
        }
        "wheeler-deviation" => {
            let ratio = row.d_over_l()?;
            (wheeler_h(ratio) / current_sheet_h(1.0, ratio, 1.0) - 1.0).abs()
        }
        "rosa-ks" => rosa_ks(1.0, row.si("d_over_p")?, Current::Uniform),
        "rosa-km" => rosa_km(row.si("turns")?),
        "mutual-circles" => {
            coaxial_circles_h(row.si("radius")?, row.si("other")?, row.si("distance")?)
        }
        _ => return Err(unknown(row)),
    })
}

/// Lundin's closed form for a sheet of one turn and 1 m length. Lundin 1985.
pub(super) fn lundin_h(diameter_m: f64) -> f64 {
    let first = |x: f64| (1.0 + 0.383901 * x + 0.017108 * x * x) / (1.0 + 0.258952 * x);
    let second = |x: f64| 0.093842 * x + 0.002029 * x * x - 0.000801 * x * x * x;
    let (a, u) = (diameter_m / 2.0, diameter_m);
    if u <= 1.0 {
        MU0_H_PER_M * PI * a * a * (first(u * u) - 4.0 / (3.0 * PI) * u)
    } else {
        let x = 1.0 / (u * u);
        MU0_H_PER_M * a * (((8.0 * a).ln() - 0.5) * first(x) + second(x))
    }
}

/// Wheeler's formula for one turn and 1 m length: a²N²/(9a + 10b) µH with inches. Wheeler 1928, from memory.
pub(super) fn wheeler_h(diameter_m: f64) -> f64 {
    let (a, b) = (diameter_m / 2.0 / 0.0254, 1.0 / 0.0254);
    a * a / (9.0 * a + 10.0 * b) * 1e-6
}

pub(super) fn tables(row: &Row) -> Result<f64, String> {
    Ok(match row.quantity.as_str() {
        "skin-depth" => skin_depth_m(row.si("frequency")?),
        "skin-ratio" => skin_ratio(row.si("x")? / SQRT_2),
        "skin-ratio-approximate" => skin_ratio(row.si("a_over_delta")?),
        "crowding" => crowding_ratio(row.si("l_over_d")?, row.si("pitch_over_wire")?)
            .ok_or("outside the crowding table")?,
        // At a frequency where a wire of 1 mm is 400 skin depths thick; over the straight wire's.
        "layer-crowding" => {
            let (bare_m, depth_m) = (1e-3, 2.5e-6);
            let pitch_m = bare_m * row.si("pitch_over_wire")?;
            layer_ratio(bare_m, pitch_m, depth_m) / skin_ratio(bare_m / 2.0 / depth_m)
        }
        // With so thin a skin as above.
        "row-crowding" => {
            let row = row_ratio(200.0, row.si("pitch_over_wire")?).ok_or("no such row")?;
            row / skin_ratio(200.0)
        }
        "row-resistance" => {
            let radius_over_depth = row.si("wire_over_depth")? / 2.0;
            row_ratio(radius_over_depth, row.si("pitch_over_wire")?).ok_or("no such row")?
        }
        "coil-resistance" => {
            let (turns, bare_m) = (row.si("turns")?, 1e-4);
            let length_m = turns * bare_m * row.si("pitch_over_wire")?;
            let coil = Cylinder {
                turns,
                diameter_m: length_m / row.si("l_over_d")?,
                length_m,
                bare_m,
            };
            coil_ratio(&coil, bare_m / row.si("wire_over_depth")?)
                .ok_or("outside the crowding table")?
        }
        "layer-resistance" => {
            let coil = row.cylinder()?;
            let (bare_m, pitch_m) = (coil.bare_m, coil.length_m / coil.turns);
            let wire_m = coil.turns * PI * coil.diameter_m;
            let depth_m = skin_depth_m(row.si("frequency")?);
            wire_m * resistance_ohm_per_m(bare_m, 20.0) * layer_ratio(bare_m, pitch_m, depth_m)
        }
        // The formula that goes with the table, in pF for each cm of diameter; from memory.
        "self-capacitance-formula" => {
            let ratio = row.si("l_over_d")?;
            (0.1126 * ratio + 0.08 + 0.27 / ratio.sqrt()) * 1e-12
        }
        "self-capacitance" => {
            let diameter_m = row.si("diameter")?;
            self_capacitance_f(diameter_m, row.si("l_over_d")? * diameter_m)
                .ok_or("outside the self-capacitance table")?
        }
        _ => return Err(unknown(row)),
    })
}

pub(super) fn winding(row: &Row) -> Result<f64, String> {
    let coil = row.cylinder()?;
    let Cylinder {
        turns,
        diameter_m,
        length_m,
        bare_m,
    } = coil;
    // The example coil's primary: 3 turns on 22 mm, 1 mm wire, 2 mm apart, flush with the foot.
    let primary = Primary {
        turns: 3,
        diameter_m: 0.022,
        lay: Lay::Stacked,
        gauge: Gauge::Metric(0.001),
        pitch_m: 0.002,
        position_m: 0.0,
        collector_end: CollectorEnd::TopSide,
        sense: Sense::Right,
    };
    let resonance = || handbook::resonance(&coil).map_err(|error| error.to_string());
    let mutual_h = || {
        let end = |height_m| Ring {
            radius_m: diameter_m / 2.0,
            height_m,
        };
        let winding = Meridian {
            foot: end(0.0),
            top: end(length_m),
            turns,
            bare_m,
        };
        winding.even_mutual_h(&primary.circles(), None)
    };
    let wire_m = turns * PI * diameter_m;
    Ok(match row.quantity.as_str() {
        "measured-coil" | "route-resonance" => resonance()?.value_hz,
        "measured-coil-in-band" => {
            let found = resonance()?;
            let is_inside = (found.low_hz..=found.high_hz).contains(&row.si("measured")?);
            f64::from(u8::from(is_inside))
        }
        "sheet-inductance" => current_sheet_h(turns, diameter_m, length_m),
        "low-frequency-inductance" => {
            single_layer_h(turns, diameter_m, length_m, bare_m, Current::Uniform)
        }
        "high-frequency-inductance" => coil.inductance_h(),
        "route-capacitance" => handbook::capacitance_f(&coil).map_err(|error| error.to_string())?,
        "winding-wire" => wire_m,
        "winding-resistance" => wire_m * resistance_ohm_per_m(bare_m, row.si("temperature")?),
        "resonant-resistance" => {
            let skin = skin_ratio(bare_m / 2.0 / skin_depth_m(row.si("frequency")?));
            let crowding = crowding_ratio(length_m / diameter_m, length_m / turns / bare_m)
                .ok_or("outside the crowding table")?;
            wire_m * resistance_ohm_per_m(bare_m, 20.0) * skin * crowding
        }
        "primary-inductance" => primary.inductance_h(),
        "primary-mutual" => mutual_h(),
        "primary-coupling" => mutual_h() / (primary.inductance_h() * coil.inductance_h()).sqrt(),
        _ => return Err(unknown(row)),
    })
}

/// A whole build, through the sheet a person would write.
pub(super) fn build(row: &Row) -> Result<f64, String> {
    let text = format!(
        r#"
schema = 1
name = "reference"
coil = {{ shape = "cylinder", former_diameter = "{}", wire = "{}", winding_length = "{}" }}
primary = {{ turns = {}, former_diameter = "17 mm", wire = "1 mm" }}
circuit = {{ transistor = "power-to220", bias_resistor = "22k" }}
battery = {{ kind = "alkaline", series = 1 }}
usual = {{ earth = "standing" }}
"#,
        row.text("former")?,
        row.text("wire")?,
        row.text("winding_length")?,
        row.text("primary_turns")?,
    );
    let sheet = sheet::parse(&text).map_err(|faults| faults.to_string())?;
    let prediction = predict(&sheet.coil_spec()).map_err(|error| error.to_string())?;
    Ok(match row.quantity.as_str() {
        "build-turns" => sheet.turns(),
        "build-wire-length" => prediction.wire_length_m,
        "build-resistance" => prediction.resistance_dc_ohm,
        // The lower edge: the statement must hold over the whole band.
        "build-resonance" => prediction.resonance.low_hz,
        _ => return Err(unknown(row)),
    })
}
