//! Asking one thing at a time, cheapest first, in plain words.

use std::io::BufRead;

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
use crate::report::layout::broken;

/// Questions before the first answer at most.
const MOST_QUESTIONS: usize = 5;
/// A cause more probable than this is reported without a further question (chosen).
const SURE: f64 = 0.95;

/// Somebody at the bench who is asked.
pub(super) struct Bench<'a, R> {
    library: Growing,
    has_led: bool,
    priors: &'a Priors,
    input: R,
    /// Checks that were asked for: one that is left unknown is not asked again.
    asked: Vec<CheckId>,
    /// How the circuit stands now, as far as it was changed for a check.
    stands: Situation,
    /// Whether somebody was asked to switch off.
    is_off: bool,
    is_over: bool,
}

impl<'a, R: BufRead> Bench<'a, R> {
    pub(super) fn new(library: Growing, has_led: bool, priors: &'a Priors, input: R) -> Self {
        Self {
            library,
            has_led,
            priors,
            input,
            asked: Vec::new(),
            stands: Situation::AsFound,
            is_off: false,
            is_over: false,
        }
    }

    /// The answer to what is known, by the whole library.
    pub(super) fn answer(&mut self, evidence: &Evidence) -> Answer {
        Answer::of(self.library.whole(), self.priors, evidence)
    }

    /// Asks before the first answer.
    pub(super) fn ask(&mut self, evidence: &mut Evidence) {
        output::note(
            "A few questions; Enter alone for what you don't know. Hands off the coil while it is on.",
        );
        let mut questions = 0;
        if evidence.asks_history() {
            evidence.history = self.history();
            evidence.steps.is_history_asked = true;
            questions += 1;
        }
        let has_led = self.has_led;
        let (look, light) = if has_led {
            (CheckId::LookLed, Quantity::Led)
        } else {
            (CheckId::LookLamp, Quantity::Lamp)
        };
        let seen = |evidence: &Evidence| evidence.reading(Situation::AsFound, light);
        self.warn(evidence);
        if seen(evidence).is_none() && !self.is_off {
            self.make_named(look, evidence);
            questions += 1;
        }
        let is_dark = seen(evidence) == Some(Reading::Seen(Seen::Dark));
        let is_swap_new = !tried(evidence, Situation::LeadsSwapped);
        if is_dark && is_swap_new && !self.is_off && evidence.history != History::Ran {
            // The cheapest thing that most often helps is proposed before anything is weighed.
            self.make_named(CheckId::SwapLeads, evidence);
            questions += 1;
        }
        while questions < MOST_QUESTIONS && !self.is_over {
            let answer = Answer::of(self.library.now(), self.priors, evidence);
            let is_known = answer
                .causes
                .first()
                .is_some_and(|one| one.probability > SURE);
            let next = self.next(&answer, evidence).filter(|_| !is_known);
            let Some(next) = next else {
                break;
            };
            self.make(next, evidence);
            questions += 1;
        }
        // What was left unknown may be made by now: the answer proposes it, and it is asked for once more.
        self.asked.clear();
    }

    /// Asks for the next check; whether anything new was said.
    pub(super) fn go_on(&mut self, answer: &Answer, evidence: &mut Evidence) -> bool {
        let before = evidence.clone();
        if self.is_over {
            return false;
        }
        if let Some(next) = self.next(answer, evidence) {
            output::note("If you have made it, type what it shows; Enter alone ends.");
            self.make(next, evidence);
        }
        *evidence != before
    }

    /// The next check that was not asked for; once a change helped, it stays, and no other is proposed beside it.
    fn next(&self, answer: &Answer, evidence: &Evidence) -> Option<&'static Check> {
        let helped = self.has_helped(evidence);
        let mut next = answer.next.iter().map(|next| next.check);
        next.find(|check| {
            let fits = check.is_unpowered()
                || [Situation::AsFound, self.stands].contains(&check.situation);
            !self.asked.contains(&check.id) && (fits || !helped)
        })
    }

    /// Whether the circuit was changed for a check and runs so.
    fn has_helped(&self, evidence: &Evidence) -> bool {
        self.stands.undo().is_some() && runs_in(evidence, self.stands)
    }

    fn make_named(&mut self, id: CheckId, evidence: &mut Evidence) {
        if let Some(check) = check(id, self.has_led) {
            self.make(check, evidence);
        }
    }

    /// Asks for all that a check reads.
    fn make(&mut self, check: &'static Check, evidence: &mut Evidence) {
        self.asked.push(check.id);
        let situation = self.situation(check, evidence);
        let words = format!("{}: {}", capital(check.words), check.how);
        output::note(&format!("\n{}", broken(0, &words)));
        if !check.caution.is_empty() {
            output::note(&broken(2, &format!("mind: {}", check.caution)));
        }
        for &quantity in check.reads {
            if self.is_over || evidence.reading(situation, quantity).is_some() {
                continue;
            }
            self.read(situation, quantity, evidence);
        }
        if situation.undo().is_some() && tried(evidence, situation) {
            self.stands = situation;
        }
        self.warn(evidence);
    }

    /// The situation in which a check is read: its own, or that in which the circuit was left because it runs so. What was changed
    /// in vain is put back first.
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
            output::note(&format!("\n{}", broken(0, &format!("First {undo}."))));
            evidence.steps.is_put_back |= self.stands == Situation::LeadsSwapped;
            self.stands = Situation::AsFound;
        }
        check.situation
    }

    /// Says to switch off, once, as soon as a reading asks for it.
    fn warn(&mut self, evidence: &Evidence) {
        let danger = danger(evidence, self.library.now().usual_open_v());
        if let (Some(danger), false) = (danger, self.is_off) {
            output::note(&format!("\n{}", broken(0, &switch_off(&danger))));
            self.is_off = true;
        }
    }

    /// Asks for one reading until it can be taken or is unknown.
    fn read(&mut self, situation: Situation, quantity: Quantity, evidence: &mut Evidence) {
        let form = quantity.form();
        let choices = answers::choices(quantity);
        loop {
            output::note(&broken(0, &format!("{}? {choices}", form.words)));
            let Some(line) = self.line() else {
                return;
            };
            if answers::book(evidence, situation, quantity, &line).is_ok() {
                return;
            }
            let why = answers::amiss(quantity, &line)
                .map_or_else(String::new, |amiss| format!(": {amiss}"));
            output::note(&format!("\"{line}\" can't be taken for it{why}."));
        }
    }

    fn history(&mut self) -> History {
        loop {
            output::note("\nHas this build ever run? yes, no, or Enter");
            let Some(line) = self.line() else {
                return History::Unknown;
            };
            match line.trim_matches('"').to_lowercase().as_str() {
                "yes" | "y" => return History::Ran,
                "no" | "n" | "never" => return History::Never,
                "" | "?" | "unknown" => return History::Unknown,
                _ => output::note(&format!("\"{line}\" can't be taken for it.")),
            }
        }
    }

    /// A line; `None` once there are no more.
    fn line(&mut self) -> Option<String> {
        let mut line = String::new();
        match self.input.read_line(&mut line) {
            Ok(read) if read > 0 => Some(line.trim().to_owned()),
            _ => {
                self.is_over = true;
                None
            }
        }
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
