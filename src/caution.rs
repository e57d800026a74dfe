//! What to mind at such a coil: every sentence of caution once, with where it comes from. Pages, cards, help, guide and README take
//! theirs from here; what a build's own figures say of hazards stands with those figures in `report::hazards`.

/// What no publication says and those who build such coils hold to.
const PRACTICE: &str = "common practice, no source";

/// Whom a caution is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    /// All who stand at such a coil: it is on the page of cautions.
    Everybody,
    /// Whoever does what it is about.
    Whoever,
}

macro_rules! cautions {
    ($($key:ident $whom:ident $source:expr, $words:expr;)+) => {
        /// A caution by its key.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Caution {
            $(#[doc = $words] $key,)+
        }

        impl Caution {
            /// Every caution, the gravest first.
            pub const ALL: &[Self] = &[$(Self::$key),+];

            /// Its words.
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$key => $words,)+
                }
            }

            /// Where it comes from: a publication, memory or practice.
            pub const fn source(self) -> &'static str {
                match self {
                    $(Self::$key => $source,)+
                }
            }

            const fn whom(self) -> For {
                match self {
                    $(Self::$key => For::$whom,)+
                }
            }
        }
    };
}

cautions! {
    Touch Everybody "Tell and Tell, Biomed. Eng. OnLine 2018; IEC 60479-2, from memory",
        "Do not touch the coil, its top or anything that draws a spark from it: small dry spots burn, and above about 100 kHz nerves do not warn.";
    ContactLevels Everybody "ICNIRP 2010; IEEE C95.1-2345, 2014, as tabulated by Tell and Tell, Biomed. Eng. OnLine 2018",
        "Public reference levels for contact current are about 17 to 20 mA; a coil of a few watts can exceed them.";
    Unplug Everybody PRACTICE,
        "Switch off and unplug the battery before you touch anything, measure ohms, solder or move a wire.";
    Implants Everybody "exposure limits do not cover medical devices, IEEE C95.1-2019; Directive 2013/35/EU assesses implants case by case",
        "Anyone with a pacemaker, defibrillator, neurostimulator, insulin pump or cochlear implant stays out of the room; hearing aids come out.";
    Transmitter Everybody "US: 47 CFR 15.5, 15.23 and 15.223; elsewhere ask your regulator",
        "An open coil is a transmitter: minutes, low power, indoors, no aerial; stop on any complaint.";
    Devices Everybody "from memory",
        "Keep phones, cards and medical kit away.";
    Toy Everybody "2009/48/EC limits toys to 24 V; the rest is common practice, no source",
        "This is not a toy: an adult holds the switch, children only watch, onlookers stay a metre back.";
    Lamps Everybody "from memory",
        "Hold lamps on a dry plastic stick; only ordinary neon or coated fluorescent ones, never clear germicidal tubes.";
    Ozone Everybody "NIOSH ceiling, OSHA over 8 h: 0.1 ppm",
        "If you smell ozone, stop and air the room.";
    Probe Everybody "computed for the 10 to 15 pF of a probe, which are partly from memory",
        "Never a probe, a clip or a meter on the top or the secondary: it carries the current that burns, can break the instrument, and \
         pulls the frequency far down.";
    Stub Everybody PRACTICE,
        "Pick up with a stub, 5 cm of insulated wire open at its end, three coil lengths away.";
    Ground Everybody "from memory",
        "Run the computer on its own battery: a USB instrument joins your circuit's ground to it.";
    HotParts Everybody PRACTICE,
        "Transistor and bias resistor can be hot enough to burn, and so can a shorted battery: power off and let them cool, never a \
         finger to try. A metal case or tab is the collector, too.";
    ShortCircuit Everybody "makers' and fire services' advice, from memory",
        "Never short a battery, not even to test it; cap its terminals.";
    ChargePrimary Everybody "IEC 60086-5, from memory",
        "Do not charge alkaline, zinc-carbon or lithium primary batteries.";
    ChargeOwn Everybody "IEC 62133-2, from memory, for lithium-ion",
        "Charge a rechargeable battery by the charger made for it or its own port alone, never unattended, warm, swollen or wet.";
    EndVoltage Everybody PRACTICE,
        "Stop at the end voltage: beyond it weak cells are reversed, and so is the weakest of several batteries in series.";
    HotBattery Everybody PRACTICE,
        "Stop if the battery's case grows hot.";
    Ripple Everybody PRACTICE,
        "A battery with a converter can ripple in the coil's band: record half a minute with the coil off first, and --mask what is read.";
    ThreeBatteries Everybody PRACTICE,
        "Three nine-volt batteries in series give arcs of about 25 mm: more than children should be near. One battery for a show.";
    ArcsAndVolts Everybody "from memory",
        "The model has no spark in it. An arc that is drawn out burns on in its own hot gas, which takes far less voltage than \
         breaking through cold air, so its length says nothing of the top's voltage, and a low predicted voltage promises no short arc.";

    MeasuresOnly Whoever PRACTICE,
        "This program measures; it does not make a build safe.";
    CodesFirst Whoever PRACTICE,
        "Local codes and licensed practice come first: follow your local rules, and ask a qualified person where they apply.";
    FirstPower Whoever PRACTICE,
        "First on a supply that limits to 0.5 A, or on a fresh battery for a moment; never a hand on the coil.";
    PickUp Whoever PRACTICE,
        "Never touch the coil, the pick-up or its lead while the coil runs, and never join a pick-up to the coil: RF burns. Fix it \
         with the battery out; begin far away and come nearer.";
    NotToTry Whoever PRACTICE,
        "Look from a metre away; nobody touches the base's wire or the top to see what it does: RF burns.";
    LampDistance Whoever PRACTICE,
        "Hold the lamp on a dry plastic stick, never nearer than its own length.";
    OneHand Whoever PRACTICE,
        "One hand, an insulated lead, nothing near the coil.";
    EarthClipped Whoever "from memory",
        "The clip joins the build to the mains earth and to every other clip. On the battery's minus only, joined before the battery; \
         anywhere else it shorts through the earth. The coil then works against the instrument's cables: hands off them, and off the \
         build, while it runs. A frequency read so is not that of the build standing alone.";
    NotComputed Whoever PRACTICE,
        "This build's hazards were not computed. Expect the transistor hot enough to burn, and a top that burns.";
}

impl Caution {
    /// Those for everybody, the gravest first.
    pub fn for_everybody() -> impl Iterator<Item = Self> {
        let all = Self::ALL.iter().copied();
        all.filter(|one| one.whom() == For::Everybody)
    }

    /// Its words with where they come from, as pages print them.
    pub fn with_source(self) -> String {
        let words = self.words().trim_end_matches('.');
        format!("{words} ({}).", self.source())
    }

    /// Several in a row.
    pub fn together(some: &[Self]) -> String {
        some.iter()
            .map(|one| one.words())
            .collect::<Vec<_>>()
            .join(" ")
    }
}
