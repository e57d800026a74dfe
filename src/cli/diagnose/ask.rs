//! Asking one thing at a time, cheapest first, in plain words.

use std::io::BufRead;

use super::super::asked::{Line, Lines, MANNERS};
use super::super::output;
use super::kept::Growing;
use crate::diagnosis::advice::runs_in;
use crate::diagnosis::answer::Answer;
use crate::diagnosis::answers;
use crate::diagnosis::check::{check, tried};
use crate::diagnosis::checks::{Check, CheckId};
use crate::diagnosis::concern::danger;
use crate::diagnosis::evidence::{Evidence, History};
use crate::diagnosis::priors::Priors;
use crate::diagnosis::quantity::{Quantity, Reading, Seen};
use crate::diagnosis::situation::Situation;
use crate::report::hazards::switch_off;

/// Questions before the first answer at most.
const MOST_QUESTIONS: usize = 5;
/// A cause more probable than this is reported without a further question (chosen).
const SURE: f64 = 0.95;

/// Why it is asked whether the build ever ran.
const WHY_HISTORY: &str = "A build that ran has its coil and its legs the right way round: then a joint, a part or the battery is looked for.";

/// The checks that are read before anything is unsoldered.
const VOLTS_AND_AMPERES: [CheckId; 3] = [
    CheckId::BatteryOpen,
    CheckId::BatteryLoaded,
    CheckId::Current,
];

/// How things stood before a question.
#[derive(Clone)]
struct Before {
    evidence: Evidence,
    asked: Vec<CheckId>,
    stands: Situation,
}

/// Somebody at the bench who is asked.
#[expect(clippy::struct_excessive_bools, reason = "each is a state of its own")]
pub(super) struct Bench<'a, R> {
    library: Growing,
    has_led: bool,
    priors: &'a Priors,
    lines: Lines<R>,
    /// Checks that were asked for: one that is left unknown is not asked again.
    asked: Vec<CheckId>,
    /// How the circuit stands now, as far as it was changed for a check.
    stands: Situation,
    /// Whether somebody was asked to switch off.
    is_off: bool,
    is_over: bool,
    /// The state before each question that was answered, the last one last.
    before: Vec<Before>,
    /// Whether somebody just asked for the question before.
    went_back: bool,
}

impl<'a, R: BufRead> Bench<'a, R> {
    pub(super) fn new(library: Growing, has_led: bool, priors: &'a Priors, input: R) -> Self {
        Self {
            library,
            has_led,
            priors,
            lines: Lines::new(input),
            asked: Vec::new(),
            stands: Situation::AsFound,
            is_off: false,
            is_over: false,
            before: Vec::new(),
            went_back: false,
        }
    }

    /// Returns the answer to the evidence, by the whole library.
    pub(super) fn answer(&mut self, evidence: &Evidence) -> Answer {
        Answer::of(self.library.whole(), self.priors, evidence)
    }

    /// Asks before the first answer.
    pub(super) fn ask(&mut self, evidence: &mut Evidence) {
        let manners = format!("A few questions; {MANNERS} Hands off the coil while it is on.");
        output::note(&output::set(0, &manners));
        self.warn(evidence);
        while self.before.len() < MOST_QUESTIONS && !self.is_over {
            self.went_back = false;
            if evidence.asks_history() {
                self.history(evidence);
                continue;
            }
            let Some(next) = self.first_look(evidence).or_else(|| self.unsure(evidence)) else {
                break;
            };
            self.make(next, evidence, false);
        }
        // A check that was left unknown may be possible by now: the answer proposes it, and it is asked for once more.
        self.asked.clear();
        self.went_back = false;
    }

    /// Returns the check that is made before anything is weighed: the light. If it is dark, it is the primary's wires the other
    /// way round, the cheapest step that most often helps.
    fn first_look(&self, evidence: &Evidence) -> Option<&'static Check> {
        let (look, light) = if self.has_led {
            (CheckId::LookLed, Quantity::Led)
        } else {
            (CheckId::LookLamp, Quantity::Lamp)
        };
        let seen = evidence.reading(Situation::AsFound, light);
        let is_swap_new = !tried(evidence, Situation::LeadsSwapped)
            && !self.asked.contains(&CheckId::SwapLeads)
            && evidence.history != History::Ran;
        let id = match seen {
            _ if self.is_off => return None,
            None if !self.asked.contains(&look) => look,
            Some(Reading::Seen(Seen::Dark)) if is_swap_new => CheckId::SwapLeads,
            _ => return None,
        };
        check(id, self.has_led)
    }

    /// The next check while no cause is sure.
    fn unsure(&mut self, evidence: &Evidence) -> Option<&'static Check> {
        let answer = Answer::of(self.library.now(), self.priors, evidence);
        let first = answer.causes.first();
        let is_known = first.is_some_and(|one| one.probability > SURE);
        self.next(&answer, evidence).filter(|_| !is_known)
    }

    /// Asks for the next check, and returns whether anything new was said. `is_said` is set where the answer just printed how it
    /// is made.
    pub(super) fn go_on(
        &mut self,
        answer: &Answer,
        evidence: &mut Evidence,
        is_said: bool,
    ) -> bool {
        let before = evidence.clone();
        self.went_back = false;
        if self.is_over {
            return false;
        }
        if let Some(next) = self.next(answer, evidence) {
            output::note("If you have made it, type what it shows; Enter alone ends.");
            let first = answer.next.first().map(|first| first.check.id);
            self.make(next, evidence, is_said && first == Some(next.id));
        }
        self.went_back || *evidence != before
    }

    /// The next check that was not asked for; once a change helped, it stays, and no other is proposed beside it. Volts and
    /// amperes come before a soldering iron.
    fn next(&self, answer: &Answer, evidence: &Evidence) -> Option<&'static Check> {
        let helped = self.has_helped(evidence);
        let mut next = answer.next.iter().map(|next| next.check);
        let next = next.find(|check| {
            let fits = check.is_unpowered()
                || [Situation::AsFound, self.stands].contains(&check.situation);
            !self.asked.contains(&check.id) && (fits || !helped)
        })?;
        let before = VOLTS_AND_AMPERES
            .into_iter()
            .filter(|_| next.unsolders())
            .filter_map(|id| check(id, self.has_led))
            .find(|check| {
                let mut reads = check.reads.iter();
                !self.asked.contains(&check.id)
                    && (check.is_unpowered() || !self.is_off)
                    && reads.any(|&read| evidence.reading(self.stands, read).is_none())
            });
        Some(before.unwrap_or(next))
    }

    /// Whether the circuit was changed for a check and runs so.
    fn has_helped(&self, evidence: &Evidence) -> bool {
        self.stands.undo().is_some() && runs_in(evidence, self.stands)
    }

    /// Asks for all that a check reads; how it is made is not printed where that `is_said`.
    fn make(&mut self, check: &'static Check, evidence: &mut Evidence, is_said: bool) {
        self.remember(evidence);
        self.asked.push(check.id);
        let situation = self.situation(check, evidence);
        if !is_said {
            let words = format!("{}: {}", capital(check.words), check.how);
            output::note(&format!("\n{}", output::set(0, &words)));
            if !check.caution.is_empty() {
                output::note(&output::set(2, &format!("mind: {}", check.caution)));
            }
        }
        let mut is_first = true;
        for &quantity in check.reads {
            if self.is_over || evidence.reading(situation, quantity).is_some() {
                continue;
            }
            self.read(check, situation, quantity, evidence);
            if self.went_back {
                self.go_back(evidence, is_first);
                return;
            }
            is_first = false;
        }
        if situation.undo().is_some() && tried(evidence, situation) {
            self.stands = situation;
        }
        self.warn(evidence);
    }

    fn remember(&mut self, evidence: &Evidence) {
        self.before.push(Before {
            evidence: evidence.clone(),
            asked: self.asked.clone(),
            stands: self.stands,
        });
    }

    /// Goes back to the question before this check, or to the first of this check.
    fn go_back(&mut self, evidence: &mut Evidence, is_first: bool) {
        let own = self.before.pop();
        let before = if is_first { self.before.pop() } else { None };
        if is_first && before.is_none() {
            output::note("This is the first question.");
        }
        if let Some(before) = before.or(own) {
            *evidence = before.evidence;
            self.asked = before.asked;
            self.stands = before.stands;
        }
    }

    /// The situation in which a check is read: its own, or that in which the circuit was left because it runs so. A change made
    /// in vain is undone first.
    fn situation(&mut self, check: &Check, evidence: &mut Evidence) -> Situation {
        if check.situation == self.stands {
            return check.situation;
        }
        if self.has_helped(evidence) {
            return if check.is_unpowered() {
                check.situation
            } else {
                self.stands
            };
        }
        if let Some(undo) = self.stands.undo() {
            output::note(&format!("\n{}", output::set(0, &format!("First {undo}."))));
            evidence.steps.is_put_back |= self.stands == Situation::LeadsSwapped;
            self.stands = Situation::AsFound;
        }
        check.situation
    }

    /// Says to switch off, once, as soon as a reading asks for it.
    fn warn(&mut self, evidence: &Evidence) {
        let danger = danger(evidence, self.library.now().usual_open_v());
        if let (Some(danger), false) = (danger, self.is_off) {
            output::note(&format!("\n{}", output::set(0, &switch_off(&danger))));
            self.is_off = true;
        }
    }

    /// Asks for one reading until it can be taken or is unknown.
    fn read(
        &mut self,
        check: &Check,
        situation: Situation,
        quantity: Quantity,
        evidence: &mut Evidence,
    ) {
        let form = quantity.form();
        let choices = answers::choices(quantity);
        output::note(&output::set(0, &format!("{}? {choices}", form.words)));
        let why = format!("{}. Type {choices}.", capital(check.how));
        while let Some(line) = self.answered(&why) {
            if answers::book(evidence, situation, quantity, &line).is_ok() {
                return;
            }
            let why = answers::amiss(quantity, &line)
                .map_or_else(String::new, |amiss| format!(": {amiss}"));
            output::note(&format!("\"{line}\" can't be taken for it{why}."));
        }
    }

    fn history(&mut self, evidence: &mut Evidence) {
        self.remember(evidence);
        output::note("\nHas this build ever run? yes, no, or Enter");
        while let Some(line) = self.answered(WHY_HISTORY) {
            evidence.history = match line.trim_matches('"').to_lowercase().as_str() {
                "yes" | "y" => History::Ran,
                "no" | "n" | "never" => History::Never,
                "" | "unknown" => History::Unknown,
                _ => {
                    output::note(&format!("\"{line}\" can't be taken for it."));
                    continue;
                }
            };
            evidence.steps.is_history_asked = true;
            return;
        }
        evidence.steps.is_history_asked = true;
        if self.went_back {
            self.go_back(evidence, true);
        }
    }

    /// A line that answers a question; `?` is answered with why it is asked. `None` where somebody goes back or nobody answers.
    fn answered(&mut self, why: &str) -> Option<String> {
        match self.lines.answer(why) {
            Line::Text(line) => return Some(line),
            Line::Back => self.went_back = true,
            Line::Over => self.is_over = true,
        }
        None
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
