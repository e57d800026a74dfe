//! Kinds of 9 V battery with their published figures.

/// The encyclopaedia's table of the size, which cites IEC 60086-2:2011 cl. 7.6.1.12 and ANSI C18.1M-1, C18.3M-1.
const SIZE_TABLE: &str = "encyclopaedia table citing IEC 60086-2:2011 and ANSI C18";

/// Our own arithmetic from a cell's figure.
const ONE_VOLT_A_CELL: &str = "1.0 V a cell, as IEC 61951-2 discharges (trade texts)";

const LFP_NOMINAL: &str = "3.2 V a cell, from memory";
const FULL_LFP: &str = "3.65 V a cell, from memory; a resting one soon has less";
const LFP_END: &str = "2.5 V a cell, the highest of the makers' end voltages, from memory";

const FULL_NIMH: &str = "1.40 V a cell at rest, from memory";

/// A voltage with the place it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sourced {
    /// The voltage, in volt.
    pub value_v: f64,
    /// Its source, or `"... from memory"`.
    pub source: &'static str,
}

const fn sourced(value_v: f64, source: &'static str) -> Sourced {
    Sourced { value_v, source }
}

/// A kind of battery of the 9 V size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Alkaline, 6 cells (6LR61).
    Alkaline,
    /// Zinc-carbon, 6 flat cells (6F22).
    ZincCarbon,
    /// Nickel-metal hydride, 6 cells.
    Nimh6,
    /// Nickel-metal hydride, 7 cells.
    Nimh7,
    /// Nickel-metal hydride, 8 cells.
    Nimh8,
    /// Lithium ion, 2 cells in series, their voltage at the terminals.
    LiIon2s,
    /// Lithium iron phosphate, 2 cells in series: flat until shortly before its end.
    Lfp2s,
    /// The same, 3 cells in series.
    Lfp3s,
    /// Lithium cells behind a converter that holds the terminals at 9 V, charged from USB.
    UsbConverter,
    /// Lithium primary, 3 cells (1604LC).
    LithiumPrimary,
}

impl Kind {
    /// Each kind by the word a sheet uses.
    pub const WORDS: [(&str, Self); 10] = [
        ("alkaline", Self::Alkaline),
        ("zinc-carbon", Self::ZincCarbon),
        ("nimh-6", Self::Nimh6),
        ("nimh-7", Self::Nimh7),
        ("nimh-8", Self::Nimh8),
        ("li-ion-2s", Self::LiIon2s),
        ("lfp-2s", Self::Lfp2s),
        ("lfp-3s", Self::Lfp3s),
        ("usb-rechargeable", Self::UsbConverter),
        ("lithium-primary", Self::LithiumPrimary),
    ];

    /// The word a sheet uses.
    pub fn name(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, kind)| *kind == self)
            .map_or("", |(word, _)| word)
    }

    /// The kind with this word; `None` if there is none.
    pub fn of_word(word: &str) -> Option<Self> {
        let found = Self::WORDS.into_iter().find(|(known, _)| *known == word);
        found.map(|(_, kind)| kind)
    }

    /// The nominal voltage.
    pub const fn nominal(self) -> Sourced {
        match self {
            Self::Alkaline | Self::ZincCarbon => sourced(9.0, SIZE_TABLE),
            Self::Nimh6 => sourced(7.2, SIZE_TABLE),
            Self::Nimh7 => sourced(8.4, SIZE_TABLE),
            Self::Nimh8 => sourced(9.6, SIZE_TABLE),
            Self::LiIon2s => sourced(7.4, "encyclopaedia table, which gives 7.3 to 7.4 V"),
            Self::Lfp2s => sourced(6.4, LFP_NOMINAL),
            Self::Lfp3s => sourced(9.6, LFP_NOMINAL),
            Self::UsbConverter => sourced(9.0, "common practice, no source"),
            Self::LithiumPrimary => sourced(9.6, "encyclopaedia table; others print 9 V"),
        }
    }

    /// The lowest open-circuit voltage of a fresh or full battery; `None` where no figure is known.
    pub const fn full_low(self) -> Option<Sourced> {
        match self {
            Self::Alkaline => Some(sourced(
                9.36,
                "6 x 1.56 V, a maker's LR6 specification after IEC 60086-2",
            )),
            Self::LiIon2s => Some(sourced(8.30, "2 x 4.15 V, from memory")),
            Self::LithiumPrimary => Some(sourced(9.6, "3 x 3.2 V, from memory")),
            Self::ZincCarbon
            | Self::Nimh6
            | Self::Nimh7
            | Self::Nimh8
            | Self::Lfp2s
            | Self::Lfp3s
            | Self::UsbConverter => None,
        }
    }

    /// The highest open-circuit voltage of a fresh or full battery; `None` where no figure is known.
    pub const fn full_high(self) -> Option<Sourced> {
        match self {
            Self::Alkaline => Some(sourced(
                9.90,
                "6 x 1.65 V, a maker's LR6 specification after IEC 60086-2",
            )),
            Self::ZincCarbon => Some(sourced(10.35, "6 x 1.725 V, IEC 60086-1, from memory")),
            Self::Nimh6 => Some(sourced(8.4, FULL_NIMH)),
            Self::Nimh7 => Some(sourced(9.8, FULL_NIMH)),
            Self::Nimh8 => Some(sourced(11.2, FULL_NIMH)),
            Self::LiIon2s => Some(sourced(8.50, "2 x 4.25 V, from memory")),
            Self::Lfp2s => Some(sourced(7.3, FULL_LFP)),
            Self::Lfp3s => Some(sourced(10.95, FULL_LFP)),
            Self::LithiumPrimary => Some(sourced(9.9, "3 x 3.3 V, from memory")),
            Self::UsbConverter => None,
        }
    }

    /// The voltage under load at which it counts as empty; `None` where no figure is known or the terminals hide it.
    pub const fn end_point(self) -> Option<Sourced> {
        match self {
            Self::Alkaline | Self::ZincCarbon => Some(sourced(5.4, "0.9 V a cell, from memory")),
            Self::Nimh6 => Some(sourced(6.0, ONE_VOLT_A_CELL)),
            Self::Nimh7 => Some(sourced(7.0, ONE_VOLT_A_CELL)),
            Self::Nimh8 => Some(sourced(8.0, ONE_VOLT_A_CELL)),
            Self::LiIon2s => Some(sourced(
                6.0,
                "3.0 V a cell, the highest of the makers' end voltages, from memory",
            )),
            Self::Lfp2s => Some(sourced(5.0, LFP_END)),
            Self::Lfp3s => Some(sourced(7.5, LFP_END)),
            Self::UsbConverter | Self::LithiumPrimary => None,
        }
    }

    /// Whether it is used once and must never be charged.
    pub const fn is_primary(self) -> bool {
        matches!(
            self,
            Self::Alkaline | Self::ZincCarbon | Self::LithiumPrimary
        )
    }

    /// Whether it is lithium iron phosphate.
    pub const fn is_iron_phosphate(self) -> bool {
        matches!(self, Self::Lfp2s | Self::Lfp3s)
    }
}

/// How the charge printed on a rechargeable battery is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// At this current, in ampere.
    pub current_a: f64,
    /// For at least this time, in second.
    pub least_s: f64,
    /// Down to this voltage, in volt.
    pub end_v: f64,
}

impl Kind {
    /// How a printed charge in ampere hour is measured: 0.2 It for 5 h or longer, It being the current that takes it in an hour.
    ///
    /// Nickel-metal down to 1.0 V a cell (IEC 61951-2, as cell data sheets quote it), lithium-ion to 2.75 V a cell
    /// (GB/T 18287-2000 and a trade text on IEC 61960; makers state their own). `None` for kinds that are not rated so.
    pub fn rating(self, printed_ah: f64) -> Option<Rating> {
        let end_v = match self {
            Self::Nimh6 | Self::Nimh7 | Self::Nimh8 => self.end_point()?.value_v,
            Self::LiIon2s => 5.5,
            // How iron phosphate is rated is not known here.
            Self::Alkaline
            | Self::ZincCarbon
            | Self::Lfp2s
            | Self::Lfp3s
            | Self::UsbConverter
            | Self::LithiumPrimary => return None,
        };
        Some(Rating {
            current_a: 0.2 * printed_ah,
            least_s: 5.0 * 3600.0,
            end_v,
        })
    }
}

/// What an open-circuit voltage says of a battery whose kind is known.
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
    /// Judges the voltage of one battery with the load off, in volt.
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
