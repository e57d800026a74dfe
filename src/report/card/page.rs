//! The card as a drawing on one page, to be printed and filled in.

use super::content::{Card, sense_words};
use super::steps::Stage;
use crate::caution::Caution;
use crate::coil::winding::{CollectorEnd, Sense};
use crate::figure::{Drawing, Item, Role, Setting};
use crate::plot::broken;
use crate::report::hazards::HEADING;

const LEFT: f64 = 70.0;
const RIGHT: f64 = 1530.0;
const TITLE: f64 = 44.0;
const TEXT: f64 = 25.0;
/// How much wider bold words are at most.
const BOLD: f64 = 1.16;
const LINE: f64 = 30.0;
/// Where the head's words begin.
const HEAD: f64 = 140.0;
/// The page is as high as a sheet of paper of this shape (297 by 210).
const HEIGHT: f64 = 1600.0 * 297.0 / 210.0;

/// The picture: middle of the coil, its top, foot and half widths.
const COIL_X: f64 = 210.0;
const COIL: (f64, f64) = (190.0, 640.0);
const THIN: f64 = 50.0;
const WIDE: f64 = 100.0;
const PRIMARY: (f64, f64) = (510.0, 620.0);
/// Where the words beside the picture begin, and where the list of wires does.
const BESIDE: f64 = 345.0;
const WIRES: f64 = 880.0;

/// Where the expected ranges and the blanks stand.
const EXPECTED: f64 = 800.0;
const BLANK: f64 = 1290.0;

/// A page that is filled from the top.
struct Page {
    items: Vec<Item>,
    y: f64,
}

impl Page {
    fn words(&mut self, text: &str, at: (f64, f64), setting: Setting) {
        self.items.push(Item::Words {
            text: text.to_owned(),
            at,
            size: TEXT,
            setting,
        });
    }

    fn line(&mut self, points: &[(f64, f64)], width: f64, role: Option<Role>) {
        self.items.push(Item::Line {
            points: points.to_vec(),
            width,
            role,
        });
    }

    /// Words in lines from `left` to `right`, the page's place moved below them.
    fn paragraph(&mut self, text: &str, left: f64, right: f64) {
        for line in broken(text, TEXT, right - left) {
            self.words(&line, (left, self.y), Setting::Plain);
            self.y += LINE;
        }
    }

    fn bold(&mut self, text: &str, left: f64) {
        self.words(text, (left, self.y), Setting::Bold);
        self.y += LINE;
    }
}

/// The card on one page.
pub fn drawing(card: &Card) -> Drawing {
    let mut page = Page {
        items: Vec::new(),
        y: 90.0,
    };
    page.items.push(Item::Words {
        text: format!("{}: wiring and first power-up", card.name),
        at: (LEFT, page.y),
        size: TITLE,
        setting: Setting::Bold,
    });
    page.y = HEAD;
    if !card.hazards.is_empty() {
        page.bold(HEADING, LEFT);
    }
    for hazard in &card.hazards {
        page.paragraph(hazard, LEFT + 30.0, RIGHT);
    }
    for warning in &card.warnings {
        page.paragraph(&format!("mind: {warning}"), LEFT, RIGHT);
    }
    let mut below = Page {
        items: Vec::new(),
        y: HEAD,
    };
    rest(&mut below, card);
    // The lines at the head move the picture and all behind it down.
    let down = page.y - HEAD;
    let items = below.items.into_iter().map(|item| lowered(item, down));
    page.items.extend(items);
    Drawing {
        height: HEIGHT.max(below.y + down + 30.0),
        items: page.items,
    }
}

/// All behind the head: the picture, the wires, the steps.
fn rest(page: &mut Page, card: &Card) {
    coil(page, card);
    page.y = 180.0;
    for (joint, words) in &card.wires {
        page.bold(joint, WIRES);
        page.paragraph(words, WIRES + 30.0, RIGHT);
        page.y += 8.0;
    }
    legs(page, card);
    page.y = f64::max(page.y, 750.0) + 30.0;
    page.bold("enamel", LEFT);
    page.paragraph(card.enamel, LEFT + 30.0, RIGHT);
    let mut number = 0;
    for stage in &card.stages {
        of_stage(page, stage, &mut number);
    }
    page.y += 30.0;
    page.paragraph(&Caution::together(&card.cautions), LEFT, RIGHT);
}

/// An item moved down the page.
fn lowered(item: Item, down: f64) -> Item {
    let at = |(x, y): (f64, f64)| (x, y + down);
    match item {
        Item::Words {
            text,
            at: place,
            size,
            setting,
        } => Item::Words {
            text,
            at: at(place),
            size,
            setting,
        },
        Item::Line {
            points,
            width,
            role,
        } => Item::Line {
            points: points.into_iter().map(at).collect(),
            width,
            role,
        },
        Item::Patch { from, to } => Item::Patch {
            from: at(from),
            to: at(to),
        },
        Item::Dot { at: place, radius } => Item::Dot {
            at: at(place),
            radius,
        },
    }
}

/// Front halves of turns between two heights, rising to the side the sense has.
fn turns(
    page: &mut Page,
    (top, bottom): (f64, f64),
    half: f64,
    count: u32,
    (sense, role): (Sense, Option<Role>),
) {
    let pitch = (bottom - top) / f64::from(count);
    let side = match sense {
        Sense::Right => half,
        Sense::Left => -half,
    };
    for turn in 0..count {
        let low = bottom - f64::from(turn) * pitch;
        let width = if role.is_some() { 9.0 } else { 3.0 };
        page.line(
            &[(COIL_X - side, low), (COIL_X + side, low - pitch)],
            width,
            role,
        );
    }
}

/// The two windings from the side, with where their ends go.
fn coil(page: &mut Page, card: &Card) {
    let (secondary, primary) = card.senses;
    let (top, foot) = COIL;
    page.items.push(Item::Patch {
        from: (COIL_X - THIN + 6.0, top - 20.0),
        to: (COIL_X + THIN - 6.0, foot + 20.0),
    });
    turns(page, COIL, THIN, 30, (secondary, None));
    turns(page, PRIMARY, WIDE, 3, (primary, Some(Role::Modelled)));
    page.items.push(Item::Dot {
        at: (COIL_X, top - 40.0),
        radius: 7.0,
    });
    let note = |page: &mut Page, y: f64, text: &str| {
        page.words(text, (BESIDE, y + 8.0), Setting::Plain);
    };
    page.line(
        &[(COIL_X, top - 40.0), (BESIDE - 15.0, top - 40.0)],
        2.0,
        None,
    );
    note(page, top - 40.0, "top: stays open");
    page.y = 330.0;
    page.bold(&format!("secondary, {}", card.turns.0), BESIDE);
    page.paragraph(sense_words(secondary), BESIDE, WIRES - 40.0);
    let (upper, lower) = (PRIMARY.0, PRIMARY.1);
    let (to_lower, to_upper) = match card.collector_end {
        CollectorEnd::TopSide => ("to plus", "to the collector"),
        CollectorEnd::FootSide => ("to the collector", "to plus"),
    };
    // The upper end comes out on the side the turns rise to, the lower one on the other; both are led round to the right.
    let side = match primary {
        Sense::Right => WIDE,
        Sense::Left => -WIDE,
    };
    let role = Some(Role::Modelled);
    for (y, x, end, to) in [
        (upper, COIL_X + side, "upper", to_upper),
        (lower, COIL_X - side, "lower", to_lower),
    ] {
        page.line(&[(x, y), (BESIDE - 15.0, y)], 4.0, role);
        note(page, y, &format!("primary's {end} end: {to}"));
    }
    page.words(
        &format!("({}, {})", card.turns.1, hand(primary)),
        (BESIDE, f64::midpoint(upper, lower) + 8.0),
        Setting::Plain,
    );
    let end = foot + 70.0;
    page.line(
        &[(COIL_X, foot), (COIL_X, end), (BESIDE - 15.0, end)],
        3.0,
        None,
    );
    note(page, end, "foot: to the base");
}

const fn hand(sense: Sense) -> &'static str {
    match sense {
        Sense::Right => "right-handed",
        Sense::Left => "left-handed",
    }
}

/// The transistor from its front.
fn legs(page: &mut Page, card: &Card) {
    let (left, top) = (WIRES, page.y + 6.0);
    page.items.push(Item::Patch {
        from: (left, top),
        to: (left + 120.0, top + 60.0),
    });
    page.words(card.case, (left + 60.0, top + 38.0), Setting::Centred);
    for (index, x) in [20.0, 60.0, 100.0].into_iter().enumerate() {
        page.line(&[(left + x, top + 60.0), (left + x, top + 95.0)], 5.0, None);
        let name = card
            .pinout
            .legs
            .and_then(|legs| legs.get(index).copied())
            .unwrap_or("?");
        page.words(name, (left + x, top + 122.0), Setting::Centred);
    }
    page.y = top + 25.0;
    page.paragraph(card.pinout.words, left + 160.0, RIGHT);
    page.y = page.y.max(top + 130.0);
}

fn of_stage(page: &mut Page, stage: &Stage, number: &mut usize) {
    page.y += 26.0;
    for line in broken(&stage.heading, TEXT * BOLD, RIGHT - LEFT) {
        page.bold(&line, LEFT);
    }
    for step in &stage.steps {
        *number += 1;
        page.y += 16.0;
        page.words(&number.to_string(), (LEFT, page.y), Setting::Plain);
        let begin = page.y;
        page.paragraph(&step.what, LEFT + 50.0, EXPECTED - 20.0);
        let after = page.y;
        page.y = begin;
        page.paragraph(&step.expected, EXPECTED, BLANK - 20.0);
        page.line(&[(BLANK, begin + 4.0), (RIGHT, begin + 4.0)], 2.0, None);
        page.y = page.y.max(after);
    }
    page.y += 4.0;
    for note in &stage.notes {
        page.paragraph(note, LEFT + 50.0, RIGHT);
    }
}
