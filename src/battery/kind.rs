//! Kinds of 9 V battery with their published figures: one table, a row a kind.

use crate::units::Span;

/// The encyclopaedia's table of the size, which cites IEC 60086-2:2011 cl. 7.6.1.12 and ANSI C18.1M-1, C18.3M-1.
const SIZE_TABLE: &str = "encyclopaedia table citing IEC 60086-2:2011 and ANSI C18";

/// Our own arithmetic from a cell's figure.
const ONE_VOLT_A_CELL: &str = "1.0 V a cell, as IEC 61951-2 discharges (trade texts)";
const ALKALINE_END: &str = "0.9 V a cell, from memory";

const LFP_NOMINAL: &str = "3.2 V a cell, from memory";
const FULL_LFP: &str = "3.65 V a cell, from memory; a resting one soon has less";
const LFP_END: &str = "2.5 V a cell, the highest of the makers' end voltages, from memory";

const FULL_NIMH: &str = "1.40 V a cell at rest, from memory";

/// A voltage with the place it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sourced {
    /// The voltage, in volts.
    pub value_v: f64,
    /// Its source, or `"... from memory"`.
    pub source: &'static str,
}

const fn sourced(value_v: f64, source: &'static str) -> Sourced {
    Sourced { value_v, source }
}

/// The source of the current.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Chemistry {
    /// Used once, never charged.
    Primary,
    /// Nickel-metal hydride.
    Nickel,
    /// Lithium ion, its voltage at the terminals.
    LithiumIon,
    /// Lithium iron phosphate: flat until shortly before its end.
    IronPhosphate,
    /// Lithium cells behind a converter.
    Converter,
}

/// The knowledge of the charge that one gives, in ampere hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Gives {
    /// As the tested alkaline types gave.
    AsTested,
    /// At most so much, from this current in amperes on.
    AtMost {
        high_ah: f64,
        from_a: f64,
        source: &'static str,
    },
    /// The charge in the build sheet, less the loss of an aged cell; else the charge of the size.
    Printed { size: Option<Size> },
    /// The same of lithium ion, whose new packs give more than the charge printed on them.
    LithiumIon { size: Size },
    /// The charge of the size, whatever the label says: the label often counts the cells behind the converter.
    Size(Size),
}

/// The charge of a new one of the size, in ampere hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Size {
    pub(super) ah: Span,
    pub(super) source: &'static str,
}

const NIMH_SIZE: Gives = Gives::Printed {
    size: Some(Size {
        ah: Span::new(0.175, 0.3),
        source: "175 to 300 mAh (encyclopaedia table of the size), less what an aged cell lost",
    }),
};

/// The facts known of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Facts {
    chemistry: Chemistry,
    nominal: Sourced,
    /// Open-circuit voltage of a fresh or full battery, lowest and highest.
    full_low: Option<Sourced>,
    full_high: Option<Sourced>,
    end_point: Option<Sourced>,
    /// Where the printed charge is measured to, in volts.
    rated_end_v: Option<f64>,
    gives: Gives,
}

macro_rules! kinds {
    ($(#[doc = $doc:literal] $kind:ident $word:literal $chemistry:ident { $($fact:ident: $value:expr,)* })*) => {
        /// A kind of battery of the 9 V size.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Kind {
            $(#[doc = $doc] $kind,)*
        }

        const COUNT: usize = [$($word),*].len();

        static FACTS: [Facts; COUNT] = [$(Facts {
            chemistry: Chemistry::$chemistry,
            $($fact: $value,)*
        }),*];

        impl Kind {
            /// Each kind by the word a sheet uses.
            pub const WORDS: [(&str, Self); COUNT] = [$(($word, Self::$kind)),*];
        }
    };
}

kinds! {
    /// Alkaline, 6 cells (6LR61).
    Alkaline "alkaline" Primary {
        nominal: sourced(9.0, SIZE_TABLE),
        full_low: Some(sourced(9.36, "6 x 1.56 V, a maker's LR6 specification after IEC 60086-2")),
        full_high: Some(sourced(9.90, "6 x 1.65 V, a maker's LR6 specification after IEC 60086-2")),
        end_point: Some(sourced(5.4, ALKALINE_END)),
        rated_end_v: None,
        gives: Gives::AsTested,
    }
    /// Zinc-carbon, 6 flat cells (6F22).
    ZincCarbon "zinc-carbon" Primary {
        nominal: sourced(9.0, SIZE_TABLE),
        full_low: None,
        full_high: Some(sourced(10.35, "6 x 1.725 V, IEC 60086-1, from memory")),
        end_point: Some(sourced(5.4, ALKALINE_END)),
        rated_end_v: None,
        gives: Gives::AtMost {
            high_ah: 0.052,
            from_a: 0.1,
            source: "one type in a vendor's published test gave 52 mAh at 100 mA; no figure at more",
        },
    }
    /// Nickel-metal hydride, 6 cells.
    Nimh6 "nimh-6" Nickel {
        nominal: sourced(7.2, SIZE_TABLE),
        full_low: None,
        full_high: Some(sourced(8.4, FULL_NIMH)),
        end_point: Some(sourced(6.0, ONE_VOLT_A_CELL)),
        rated_end_v: Some(6.0),
        gives: NIMH_SIZE,
    }
    /// Nickel-metal hydride, 7 cells.
    Nimh7 "nimh-7" Nickel {
        nominal: sourced(8.4, SIZE_TABLE),
        full_low: None,
        full_high: Some(sourced(9.8, FULL_NIMH)),
        end_point: Some(sourced(7.0, ONE_VOLT_A_CELL)),
        rated_end_v: Some(7.0),
        gives: NIMH_SIZE,
    }
    /// Nickel-metal hydride, 8 cells.
    Nimh8 "nimh-8" Nickel {
        nominal: sourced(9.6, SIZE_TABLE),
        full_low: None,
        full_high: Some(sourced(11.2, FULL_NIMH)),
        end_point: Some(sourced(8.0, ONE_VOLT_A_CELL)),
        rated_end_v: Some(8.0),
        gives: NIMH_SIZE,
    }
    /// Lithium ion, 2 cells in series, their voltage at the terminals.
    LiIon2s "li-ion-2s" LithiumIon {
        nominal: sourced(7.4, "encyclopaedia table, which gives 7.3 to 7.4 V"),
        full_low: Some(sourced(8.30, "2 x 4.15 V, from memory")),
        full_high: Some(sourced(8.50, "2 x 4.25 V, from memory")),
        end_point: Some(sourced(6.0, "3.0 V a cell, the highest of the makers' end voltages, from memory")),
        rated_end_v: Some(5.5),
        gives: Gives::LithiumIon {
            size: Size {
                ah: Span::new(0.52, 0.52),
                source: "about 520 mAh (encyclopaedia table of the size), less what an aged cell lost",
            },
        },
    }
    /// Lithium iron phosphate, 2 cells in series: flat until shortly before its end.
    Lfp2s "lfp-2s" IronPhosphate {
        nominal: sourced(6.4, LFP_NOMINAL),
        full_low: None,
        full_high: Some(sourced(7.3, FULL_LFP)),
        end_point: Some(sourced(5.0, LFP_END)),
        // How iron phosphate is rated is not known here.
        rated_end_v: None,
        // No figure is known for the size: without the printed charge nothing is.
        gives: Gives::Printed { size: None },
    }
    /// The same, 3 cells in series.
    Lfp3s "lfp-3s" IronPhosphate {
        nominal: sourced(9.6, LFP_NOMINAL),
        full_low: None,
        full_high: Some(sourced(10.95, FULL_LFP)),
        end_point: Some(sourced(7.5, LFP_END)),
        rated_end_v: None,
        gives: Gives::Printed { size: None },
    }
    /// Lithium cells behind a converter that holds the terminals at 9 V, charged from USB.
    UsbConverter "usb-rechargeable" Converter {
        nominal: sourced(9.0, "common practice, no source"),
        full_low: None,
        full_high: None,
        end_point: None,
        rated_end_v: None,
        // The loss in a converter is not on the label.
        gives: Gives::Size(Size {
            ah: Span::new(0.335, 0.335),
            source: "3.55 Wh in a published teardown through a converter taken to give 85 %, less what an aged cell lost",
        }),
    }
    /// Lithium primary, 3 cells (1604LC).
    LithiumPrimary "lithium-primary" Primary {
        nominal: sourced(9.6, "encyclopaedia table; others print 9 V"),
        full_low: Some(sourced(9.6, "3 x 3.2 V, from memory")),
        full_high: Some(sourced(9.9, "3 x 3.3 V, from memory")),
        end_point: None,
        rated_end_v: None,
        gives: Gives::AtMost {
            high_ah: 1.2,
            from_a: 0.0,
            source: "about 1200 mAh at a low drain (encyclopaedia table of the size); no figure at more",
        },
    }
}

impl Kind {
    const fn facts(self) -> &'static Facts {
        &FACTS[self as usize]
    }

    /// Returns the word a sheet uses.
    pub const fn name(self) -> &'static str {
        Self::WORDS[self as usize].0
    }

    /// Returns the kind with this word; `None` if there is none.
    pub fn of_word(word: &str) -> Option<Self> {
        let found = Self::WORDS.into_iter().find(|(known, _)| *known == word);
        found.map(|(_, kind)| kind)
    }

    /// Returns the nominal voltage.
    pub const fn nominal(self) -> Sourced {
        self.facts().nominal
    }

    /// Returns the lowest open-circuit voltage of a fresh or full battery; `None` where no figure is known.
    pub const fn full_low(self) -> Option<Sourced> {
        self.facts().full_low
    }

    /// Returns the highest open-circuit voltage of a fresh or full battery; `None` where no figure is known.
    pub const fn full_high(self) -> Option<Sourced> {
        self.facts().full_high
    }

    /// Returns the voltage under load at which it counts as empty; `None` where no figure is known or the terminals hide it.
    pub const fn end_point(self) -> Option<Sourced> {
        self.facts().end_point
    }

    /// Whether it is used once and must never be charged.
    pub const fn is_primary(self) -> bool {
        matches!(self.facts().chemistry, Chemistry::Primary)
    }

    /// Whether it is nickel-metal hydride.
    pub const fn is_nickel(self) -> bool {
        matches!(self.facts().chemistry, Chemistry::Nickel)
    }

    /// Whether it is lithium iron phosphate.
    pub const fn is_iron_phosphate(self) -> bool {
        matches!(self.facts().chemistry, Chemistry::IronPhosphate)
    }

    /// Whether a converter hides its cells.
    pub const fn has_converter(self) -> bool {
        matches!(self.facts().chemistry, Chemistry::Converter)
    }

    /// Returns the voltage below which a level curve may be iron phosphate's, in volts: everywhere for its own kinds, below 3.4 V
    /// per cell for lithium ion, nowhere for the others.
    pub fn flat_below_v(self) -> f64 {
        match self.facts().chemistry {
            Chemistry::IronPhosphate => f64::INFINITY,
            Chemistry::LithiumIon => 3.4 * (self.nominal().value_v / 3.7).round(),
            Chemistry::Primary | Chemistry::Nickel | Chemistry::Converter => 0.0,
        }
    }

    /// Returns the knowledge of its charge.
    pub(super) const fn gives(self) -> Gives {
        self.facts().gives
    }

    /// Returns how a printed charge in ampere hours is measured: 0.2 It for 5 h or longer, It being the current that takes it in
    /// an hour.
    ///
    /// Nickel-metal is rated down to 1.0 V per cell (IEC 61951-2, as cell data sheets quote it), lithium-ion to 2.75 V per cell
    /// (GB/T 18287-2000 and a trade text on IEC 61960; makers state their own). `None` for kinds that are not rated so.
    pub fn rating(self, printed_ah: f64) -> Option<Rating> {
        Some(Rating {
            current_a: 0.2 * printed_ah,
            least_s: 5.0 * 3600.0,
            end_v: self.facts().rated_end_v?,
        })
    }
}

/// How the charge printed on a rechargeable battery is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// At this current, in amperes.
    pub current_a: f64,
    /// For at least this time, in seconds.
    pub least_s: f64,
    /// Down to this voltage, in volts.
    pub end_v: f64,
}

/// The state of a battery of known kind, by its open-circuit voltage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Open {
    /// As a fresh or full one has.
    Fresh,
    /// Below that: part-used, or resting from a load.
    PartUsed,
    /// Above all that this kind can have: it is another kind.
    AnotherKind,
    /// No figure is known to compare with.
    Unknown,
}

impl Kind {
    /// Judges the voltage of one battery with the load off, in volts.
    pub fn judge_open(self, open_v: f64) -> Open {
        match (self.full_low(), self.full_high()) {
            (_, Some(high)) if open_v > high.value_v => Open::AnotherKind,
            (Some(low), Some(_)) if open_v >= low.value_v => Open::Fresh,
            (Some(_), Some(_)) => Open::PartUsed,
            _ => Open::Unknown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_figures_of_a_kind_stand_in_their_order() {
        for (word, kind) in Kind::WORDS {
            let volts: Vec<f64> = [kind.end_point(), Some(kind.nominal()), kind.full_high()]
                .into_iter()
                .flatten()
                .map(|figure| figure.value_v)
                .collect();
            assert!(volts.is_sorted(), "{word}: {volts:?}");
            if let (Some(low), Some(high)) = (kind.full_low(), kind.full_high()) {
                assert!(low.value_v < high.value_v, "{word}");
            }
            assert_eq!(kind.name(), word);
        }
    }

    /// The window is that of a maker's LR6 specification, times six.
    #[test]
    fn an_open_voltage_tells_fresh_from_used_and_from_another_kind() {
        assert_eq!(Kind::Alkaline.judge_open(9.48), Open::Fresh);
        assert_eq!(Kind::Alkaline.judge_open(9.1), Open::PartUsed);
        assert_eq!(Kind::Alkaline.judge_open(10.5), Open::AnotherKind);
        assert_eq!(Kind::Nimh7.judge_open(9.0), Open::Unknown);
    }

    #[test]
    fn a_converter_hides_its_cells() {
        assert_eq!(Kind::UsbConverter.end_point(), None);
        assert_eq!(Kind::UsbConverter.full_high(), None);
    }
}
