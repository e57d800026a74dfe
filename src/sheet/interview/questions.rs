//! The questions, in the order in which they are asked.

/// One question about a build.
#[derive(Debug, PartialEq)]
pub struct Question {
    /// The key of the sheet that it fills; one under `counted` is a step on the way to others.
    pub key: &'static str,
    /// The part of the build that it belongs to.
    pub part: &'static str,
    /// What it asks for, as a noun.
    pub name: &'static str,
    /// The question.
    pub asks: &'static str,
    /// How to find the answer.
    pub explains: &'static str,
    /// The form of its answer.
    pub form: Form,
    /// What stands in for an answer that nobody knows.
    pub unknown: Unknown,
    /// It is only asked where this key was answered with one of these words.
    pub only_if: Option<(&'static str, &'static [&'static str])>,
}

/// The form of an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// A text, or a quantity with its unit.
    Text,
    /// A plain number.
    Number,
    /// One of several.
    Choice(&'static [Choice]),
}

/// One of several answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choice {
    /// The sheet's word; nothing where the sheet then has no such key.
    pub word: &'static str,
    /// Another word that may be typed.
    pub also: &'static str,
    /// What it is.
    pub label: &'static str,
}

/// What stands in for an answer that nobody knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Nothing can: why it is needed.
    Needed(&'static str),
    /// The value of the sheet to fill in.
    Usual,
    /// The first choice.
    First,
    /// A primary that is wound clear of the secondary.
    Clear,
    /// The key is left out, and this is assumed.
    LeftOut(&'static str),
}

const BUILD: &str = "The build";
const SECONDARY: &str = "The secondary, the long winding of thin wire";
const PRIMARY: &str = "The primary, the few turns of thick wire at the foot";
const CIRCUIT: &str = "The circuit and its battery";
const TOP: &str = "The top of the secondary";
const PLACE: &str = "The place where it usually stands";

const LOADS: Option<(&str, &[&str])> = Some(("top.shape", &["sphere", "disc", "toroid"]));
const LENGTH: &str = "A ruler along the winding, from the first turn to the last.";

const fn choice(word: &'static str, also: &'static str, label: &'static str) -> Choice {
    Choice { word, also, label }
}

/// All questions. One is asked only once those before it are answered.
pub const QUESTIONS: &[Question] = &[
    Question {
        key: "name",
        part: BUILD,
        name: "the build's name",
        asks: "What is the build called?",
        explains: "Any name of one line. Reports print it, and the file is named after it.",
        form: Form::Text,
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "coil.former_diameter",
        part: SECONDARY,
        name: "the former's diameter",
        asks: "What is the outside diameter of the former it is wound on? Such as 16 mm or 0.5 in",
        explains: "The former is the tube or rod under the wire. Measure beside the winding with callipers, or wrap a strip of paper \
                   round it and divide its length by 3.14.",
        form: Form::Text,
        unknown: Unknown::Needed(
            "Nothing else shows how large the coil is. A ruler across the tube will do.",
        ),
        only_if: None,
    },
    Question {
        key: "coil.former",
        part: SECONDARY,
        name: "the former's material",
        asks: "What is the former?",
        explains: "Plastic or wood under the wire lowers the frequency by a few percent: a solid rod by more than a tube.",
        form: Form::Choice(&[
            choice("tube", "pipe", "a tube of plastic or cardboard"),
            choice("rod", "solid", "a solid rod of plastic or wood"),
            choice("air", "ribs", "none, or thin ribs: there is air inside"),
        ]),
        unknown: Unknown::LeftOut("anything from air to a rod, so the range is wider"),
        only_if: None,
    },
    Question {
        key: "coil.wire",
        part: SECONDARY,
        name: "the secondary's wire",
        asks: "How thick is its bare wire? Such as 0.2 mm or 32 AWG",
        explains: "The reel's label shows it. Callipers show the wire with its enamel, about 0.02 mm more than the bare wire.",
        form: Form::Text,
        unknown: Unknown::Needed(
            "The length of the winding depends on it. Wind ten turns tightly round a pencil: their width divided by ten is near enough.",
        ),
        only_if: None,
    },
    Question {
        key: "counted.by",
        part: SECONDARY,
        name: "the way of counting",
        asks: "How do you know the number of turns?",
        explains: "A count of all turns is best. Without one, the length of the winding gives them if no gap is between the turns. If \
                   there are gaps, count the turns along one centimetre.",
        form: Form::Choice(&[
            choice("turns", "all", "all turns were counted"),
            choice(
                "length",
                "ruler",
                "only the winding's length is known; turn lies beside turn",
            ),
            choice("pitch", "some", "some turns were counted along a ruler"),
        ]),
        unknown: Unknown::First,
        only_if: None,
    },
    Question {
        key: "coil.turns",
        part: SECONDARY,
        name: "the number of turns",
        asks: "How many turns has it?",
        explains: "A whole number, such as 450. If it was not counted, go back and choose the winding's length.",
        form: Form::Number,
        unknown: Unknown::Needed("The frequency depends on it. Type back to choose another way."),
        only_if: Some(("counted.by", &["turns"])),
    },
    Question {
        key: "coil.winding_length",
        part: SECONDARY,
        name: "the winding's length",
        asks: "How long is the winding? Such as 99 mm",
        explains: LENGTH,
        form: Form::Text,
        unknown: Unknown::LeftOut("turn beside turn without a gap"),
        only_if: Some(("counted.by", &["turns"])),
    },
    Question {
        key: "counted.turns",
        part: SECONDARY,
        name: "the turns along a ruler",
        asks: "How many turns did you count along the ruler?",
        explains: "Twenty or more are best: one turn too many then matters little.",
        form: Form::Number,
        unknown: Unknown::Needed(
            "The number of all turns follows from it. Type back to choose another way.",
        ),
        only_if: Some(("counted.by", &["pitch"])),
    },
    Question {
        key: "counted.length",
        part: SECONDARY,
        name: "the length of those turns",
        asks: "Over what length? Such as 5 mm",
        explains: "The piece of the ruler along which you counted.",
        form: Form::Text,
        unknown: Unknown::Needed("Turns and length together give the distance from turn to turn."),
        only_if: Some(("counted.by", &["pitch"])),
    },
    Question {
        key: "coil.winding_length",
        part: SECONDARY,
        name: "the winding's length",
        asks: "How long is the whole winding? Such as 99 mm",
        explains: LENGTH,
        form: Form::Text,
        unknown: Unknown::Needed(
            "The number of turns follows from it. Type back to choose another way.",
        ),
        only_if: Some(("counted.by", &["length", "pitch"])),
    },
    Question {
        key: "primary.turns",
        part: PRIMARY,
        name: "the primary's turns",
        asks: "How many turns has it?",
        explains: "Usually 1 to 5. Each time the wire passes the same side counts as one.",
        form: Form::Number,
        unknown: Unknown::Needed("The circuit starts or stays dead by it. Look and count."),
        only_if: None,
    },
    Question {
        key: "primary.former_diameter",
        part: PRIMARY,
        name: "the primary's diameter",
        asks: "What diameter is inside its turns? Such as 20 mm",
        explains: "The outside of the tube it is wound on; if there is no such tube, the free space inside the turns.",
        form: Form::Text,
        unknown: Unknown::Clear,
        only_if: None,
    },
    Question {
        key: "primary.wire",
        part: PRIMARY,
        name: "the primary's wire",
        asks: "How thick is its bare wire? Such as 1 mm or 18 AWG",
        explains: "The metal alone, without its plastic. A little more or less matters little here.",
        form: Form::Text,
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "primary.over_insulation",
        part: PRIMARY,
        name: "the primary's insulation",
        asks: "How thick is that wire with its plastic? Such as 2 mm",
        explains: "Measured over the plastic. It sets the distance from turn to turn.",
        form: Form::Text,
        unknown: Unknown::LeftOut("no plastic, and turn beside turn"),
        only_if: None,
    },
    Question {
        key: "primary.position",
        part: PRIMARY,
        name: "the primary's height",
        asks: "How far is its lowest turn above the lowest turn of the secondary? Such as 0 mm",
        explains: "0 mm if both begin at the same height, -5 mm if the primary begins 5 mm lower. Further up, the two are coupled less.",
        form: Form::Text,
        unknown: Unknown::LeftOut("both begin at the same height"),
        only_if: None,
    },
    Question {
        key: "primary.sense",
        part: PRIMARY,
        name: "the primary's direction",
        asks: "Which way round is it wound?",
        explains: "Look at both from the front: if their wires rise to the same side, they go the same way round.",
        form: Form::Choice(&[
            choice("right", "same", "the same way round as the secondary"),
            choice("left", "opposite", "the opposite way round"),
        ]),
        unknown: Unknown::LeftOut("the same way round as the secondary"),
        only_if: None,
    },
    Question {
        key: "primary.collector_end",
        part: PRIMARY,
        name: "the end at the collector",
        asks: "Which end of the primary goes to the transistor's collector?",
        explains: "The other end goes to the battery's plus. If the circuit stays dead, swapping the two is the first thing to try.",
        form: Form::Choice(&[
            choice("top-side", "upper", "the upper end"),
            choice("foot-side", "lower", "the lower end"),
        ]),
        unknown: Unknown::LeftOut("the upper end"),
        only_if: None,
    },
    Question {
        key: "circuit.transistor",
        part: CIRCUIT,
        name: "the transistor's case",
        asks: "Which case has the transistor?",
        explains: "The case shows how large its currents may be, and how fast it is. The sheet can take more, such as its gain, later.",
        form: Form::Choice(&[
            choice(
                "small-signal",
                "to-92",
                "small, black, one side flat: TO-92 (or a small can, TO-18)",
            ),
            choice(
                "medium",
                "to-126",
                "flat, with a hole and no metal tab: TO-126",
            ),
            choice(
                "power-to220",
                "to-220",
                "flat, with a metal tab with a hole: TO-220",
            ),
            choice(
                "power-to3",
                "to-3",
                "a large metal can with two holes: TO-3",
            ),
        ]),
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "circuit.bias_resistor",
        part: CIRCUIT,
        name: "the bias resistor",
        asks: "Which resistor goes from plus to the transistor's base? Such as 22 kohm",
        explains: "Its rings or a meter show it. Red, red, orange is 22 kohm.",
        form: Form::Text,
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "circuit.base_diode",
        part: CIRCUIT,
        name: "the diode at the base",
        asks: "What lies between the base and the battery's minus?",
        explains: "Most circuits have an LED there, which lights while the coil runs.",
        form: Form::Choice(&[
            choice("led", "light", "an LED"),
            choice("silicon", "diode", "an ordinary diode, such as 1N4148"),
            choice("none", "nothing", "nothing"),
        ]),
        unknown: Unknown::LeftOut("an LED"),
        only_if: None,
    },
    Question {
        key: "battery.kind",
        part: CIRCUIT,
        name: "the battery's kind",
        asks: "Which battery drives it?",
        explains: "A 9 V block's kind is printed on it. The run time depends on it.",
        form: Form::Choice(&[
            choice("alkaline", "6lr61", "9 V block, alkaline"),
            choice(
                "zinc-carbon",
                "6f22",
                "9 V block, zinc-carbon (\"heavy duty\")",
            ),
            choice(
                "lithium-primary",
                "lithium",
                "9 V block, lithium, not rechargeable",
            ),
            choice("nimh-6", "7.2 v", "NiMH, 6 cells (7.2 V)"),
            choice("nimh-7", "8.4 v", "NiMH, 7 cells (8.4 V)"),
            choice("nimh-8", "9.6 v", "NiMH, 8 cells (9.6 V)"),
            choice("li-ion-2s", "7.4 v", "lithium ion, 2 cells (7.4 V)"),
            choice("lfp-2s", "6.4 v", "lithium iron phosphate, 2 cells (6.4 V)"),
            choice(
                "lfp-3s",
                "9.6 v lfp",
                "lithium iron phosphate, 3 cells (9.6 V)",
            ),
            choice("usb-rechargeable", "usb", "9 V block that charges from USB"),
        ]),
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "battery.series",
        part: CIRCUIT,
        name: "the number of batteries",
        asks: "How many of these batteries are in series?",
        explains: "In series their voltages add up: two blocks of 9 V give 18 V.",
        form: Form::Number,
        unknown: Unknown::LeftOut("one battery"),
        only_if: None,
    },
    Question {
        key: "top.shape",
        part: TOP,
        name: "the top's shape",
        asks: "What metal sits on the secondary's top?",
        explains: "A ball, plate or ring of metal joined to the upper end of the wire. It lowers the frequency.",
        form: Form::Choice(&[
            choice("", "nothing", "nothing"),
            choice("sphere", "ball", "a ball"),
            choice("disc", "plate", "a flat plate"),
            choice("toroid", "ring", "a ring of tube"),
        ]),
        unknown: Unknown::First,
        only_if: None,
    },
    Question {
        key: "top.diameter",
        part: TOP,
        name: "the top's diameter",
        asks: "What is its outside diameter? Such as 40 mm",
        explains: "From edge to edge at its widest.",
        form: Form::Text,
        unknown: Unknown::Needed("The frequency depends on it. Type back to leave the top out."),
        only_if: LOADS,
    },
    Question {
        key: "top.tube_diameter",
        part: TOP,
        name: "the ring's tube",
        asks: "How thick is the ring's tube? Such as 10 mm",
        explains: "The diameter of the tube that the ring is bent from.",
        form: Form::Text,
        unknown: Unknown::Needed("The frequency depends on it. Type back to leave the top out."),
        only_if: Some(("top.shape", &["toroid"])),
    },
    Question {
        key: "top.gap",
        part: TOP,
        name: "the gap below the top",
        asks: "How far is its lowest point above the winding? Such as 2 mm",
        explains: "From the uppermost turn to the lowest point of the metal.",
        form: Form::Text,
        unknown: Unknown::Usual,
        only_if: LOADS,
    },
    Question {
        key: "usual.earth",
        part: PLACE,
        name: "the earth",
        asks: "How is the circuit joined to earth when it runs?",
        explains: "A hand, an instrument or an earth wire at the circuit moves the frequency. predict --earth tries the others.",
        form: Form::Choice(&[
            choice(
                "standing",
                "table",
                "not at all: it stands on an insulating table",
            ),
            choice("held", "hand", "it is held in the hand"),
            choice("clipped", "clip", "an instrument's ground clip is on it"),
            choice("earthed", "wire", "a wire goes to earth"),
        ]),
        unknown: Unknown::Usual,
        only_if: None,
    },
    Question {
        key: "usual.plane",
        part: PLACE,
        name: "the surface below",
        asks: "What surface is below the coil?",
        explains: "A surface close to the coil lowers the frequency, metal more than wood.",
        form: Form::Choice(&[
            choice("table", "wood", "a table of wood or plastic"),
            choice(
                "metal",
                "sheet",
                "metal, at least as wide as the coil is high",
            ),
            choice("none", "nothing", "nothing near"),
        ]),
        unknown: Unknown::LeftOut("nothing near"),
        only_if: None,
    },
    Question {
        key: "usual.plane_distance",
        part: PLACE,
        name: "the surface's distance",
        asks: "How far is it below the lowest turn of the secondary? Such as 5 mm",
        explains: "From the lowest turn down to the surface; the tube below the winding counts.",
        form: Form::Text,
        unknown: Unknown::Usual,
        only_if: Some(("usual.plane", &["table", "metal"])),
    },
    Question {
        key: "usual.hand",
        part: PLACE,
        name: "a hand or lamp above",
        asks: "Is a hand or a lamp usually above the top? How far above the winding, such as 80 mm",
        explains: "A lamp that is held over the coil lowers the frequency. Leave it out if it is only there now and then.",
        form: Form::Text,
        unknown: Unknown::LeftOut("no hand and no lamp"),
        only_if: None,
    },
];
