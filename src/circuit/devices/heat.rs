//! How warm the transistor gets: a chain of thermal resistances from its junction to the air.

use super::parts::TransistorClass;

/// Air around a build, in °C (chosen: a warm room).
pub const AIR_C: f64 = 25.0;

/// Skin burns on bare metal this hot within ten seconds, in °C (EN ISO 13732-1's threshold for bare metal, from memory).
pub const TOUCH_C: f64 = 55.0;

/// From the case to a sink with paste, in K/W (common practice, no source; a mica washer adds about as much again).
const PASTE_K_PER_W: f64 = 0.5;

/// A case's way of giving off heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// The case's name in the trade.
    pub name: &'static str,
    /// From junction to case, in K/W: the worst of its class.
    pub to_case_k_per_w: f64,
    /// From junction to still air without a sink, in K/W.
    pub to_air_k_per_w: f64,
    /// The hottest its junction may be, in °C.
    pub most_c: f64,
    /// Where the figures come from.
    pub source: &'static str,
}

const TO92: Case = Case {
    name: "TO-92",
    to_case_k_per_w: 83.0,
    to_air_k_per_w: 200.0,
    most_c: 150.0,
    source: "from memory; a 2002 data sheet of a type in this case has 150 K/W to air, soldered to a board",
};
const TO126: Case = Case {
    name: "TO-126",
    to_case_k_per_w: 10.0,
    to_air_k_per_w: 100.0,
    most_c: 150.0,
    source: "a data sheet of a 1.5 A type, as a public page on the case quotes it; 150 °C from memory",
};
const TO220: Case = Case {
    name: "TO-220",
    to_case_k_per_w: 4.0,
    to_air_k_per_w: 62.5,
    most_c: 150.0,
    source: "1 to 4 K/W to the case by a public page on cases; 62.5 K/W to air and 150 °C from memory",
};
const TO3: Case = Case {
    name: "TO-3",
    to_case_k_per_w: 1.5,
    to_air_k_per_w: 35.0,
    most_c: 200.0,
    source: "from memory",
};

impl TransistorClass {
    /// Returns the case of the class's parts.
    pub const fn case(self) -> Case {
        match self {
            Self::SmallSignal => TO92,
            Self::Medium => TO126,
            Self::PowerTo220 => TO220,
            Self::PowerTo3 => TO3,
        }
    }
}

/// Temperatures once nothing changes any more, which takes minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heat {
    /// The power turned into heat, in watts.
    pub power_w: f64,
    /// The junction, in °C.
    pub junction_c: f64,
    /// The case, in °C.
    pub case_c: f64,
    /// The hottest the junction may be, in °C.
    pub most_c: f64,
}

impl Heat {
    /// Returns the temperatures at a power in still air, on a heat sink of this thermal resistance to air, or on none.
    ///
    /// `T = T_air + P R`: thermal resistances in series (common practice). The resistance to still air falls as the case grows
    /// hotter, so a case without a sink is given too hot rather than too cool. Without a sink the case is taken at the part of
    /// the rise that lies behind the junction-to-case resistance.
    pub fn at(power_w: f64, case: &Case, sink_k_per_w: Option<f64>) -> Self {
        let behind_case = sink_k_per_w.map_or(case.to_air_k_per_w - case.to_case_k_per_w, |sink| {
            sink + PASTE_K_PER_W
        });
        let case_c = AIR_C + power_w * behind_case;
        Self {
            power_w,
            case_c,
            junction_c: case_c + power_w * case.to_case_k_per_w,
            most_c: case.most_c,
        }
    }

    /// Returns how many times the rise that the junction may have above the air it has.
    pub fn times_rated(&self) -> f64 {
        (self.junction_c - AIR_C) / (self.most_c - AIR_C)
    }

    /// Whether the case burns who touches it.
    pub fn burns(&self) -> bool {
        self.case_c > TOUCH_C
    }
}

/// Returns the largest thermal resistance to air a sink may have for the junction to stay below a temperature, in K/W; `None`
/// where none is good enough.
pub fn sink_needed_k_per_w(power_w: f64, case: &Case, junction_c: f64) -> Option<f64> {
    let left = (junction_c - AIR_C) / power_w - case.to_case_k_per_w - PASTE_K_PER_W;
    (left > 0.0).then_some(left)
}

/// Returns the same for the case to stay below a temperature, in K/W.
pub fn sink_for_case_k_per_w(power_w: f64, case_c: f64) -> Option<f64> {
    let left = (case_c - AIR_C) / power_w - PASTE_K_PER_W;
    (left > 0.0).then_some(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, expected: f64) {
        assert!((got - expected).abs() < 1e-9, "{got}, not {expected}");
    }

    #[test]
    fn two_watts_need_a_sink_on_a_to_220_and_are_within_bounds_on_ten_kelvin_a_watt() {
        let case = TransistorClass::PowerTo220.case();
        // By hand: 25 + 2.2 * 62.5 = 162.5; 25 + 2 * (10 + 0.5 + 4) = 54.
        let bare = Heat::at(2.2, &case, None);
        near(bare.junction_c, 162.5);
        assert!(bare.times_rated() > 1.0 && bare.burns());
        let sunk = Heat::at(2.0, &case, Some(10.0));
        near(sunk.junction_c, 54.0);
        near(sunk.case_c, 46.0);
        assert!(sunk.times_rated() < 1.0 && !sunk.burns());
    }

    #[test]
    fn the_sink_that_is_needed_brings_the_junction_where_it_was_wanted() {
        let case = TransistorClass::Medium.case();
        let sink = sink_needed_k_per_w(1.5, &case, 100.0).unwrap();
        near(Heat::at(1.5, &case, Some(sink)).junction_c, 100.0);
        assert_eq!(sink_needed_k_per_w(20.0, &case, 100.0), None);
        let sink = sink_for_case_k_per_w(1.5, 55.0).unwrap();
        near(Heat::at(1.5, &case, Some(sink)).case_c, 55.0);
    }
}
