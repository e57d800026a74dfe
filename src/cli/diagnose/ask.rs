//! Asking one thing at a time, cheapest first, in plain words.

use std::io::BufRead;

use super::super::output;
use crate::diagnosis::answer::Answer;
use crate::diagnosis::answers;
use crate::diagnosis::check::{Check, check};
use crate::diagnosis::evidence::{Evidence, History};
use crate::diagnosis::library::Library;
use crate::diagnosis::priors::Priors;
use crate::diagnosis::quantity::{Quantity, Reading, Seen};
use crate::diagnosis::situation::Situation;
use crate::report::layout::broken;

/// Questions before the first answer at most.
const MOST_QUESTIONS: usize = 5;

/// Somebody at the bench who is asked.
pub(super) struct Bench<'a, R> {
    library: &'a Library,
    priors: &'a Priors,
    input: R,
    /// Checks that were asked for: one that is left unknown is not asked again.
    asked: Vec<&'static str>,
    is_over: bool,
}

impl<'a, R: BufRead> Bench<'a, R> {
    pub(super) fn new(library: &'a Library, priors: &'a Priors, input: R) -> Self {
        Self {
            library,
            priors,
            input,
            asked: Vec::new(),
            is_over: false,
        }
    }

    /// Asks before the first answer.
    pub(super) fn ask(&mut self, evidence: &mut Evidence) {
        output::note(
            "A few questions; Enter alone for what you don't know. Hands off the coil while it is on.",
        );
        let mut questions = 0;
        if evidence
            .reading(Situation::AsFound, Quantity::Led)
            .is_none()
        {
            self.make_named("look-led", evidence);
            questions += 1;
        }
        let is_dark =
            evidence.reading(Situation::AsFound, Quantity::Led) == Some(Reading::Seen(Seen::Dark));
        if is_dark {
            // The cheapest thing that most often helps is told before anything is weighed.
            self.make_named("swap-leads", evidence);
            questions += 1;
        }
        if evidence.history == History::Unknown && !self.is_over {
            evidence.history = self.history();
            questions += 1;
        }
        while questions < MOST_QUESTIONS && !self.is_over {
            let answer = Answer::of(self.library, self.priors, evidence);
            let Some(next) = self.next(&answer) else {
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
        if let Some(next) = self.next(answer) {
            output::note("If you have made it, type what it shows; Enter alone ends.");
            self.make(next, evidence);
        }
        *evidence != before
    }

    fn next(&self, answer: &Answer) -> Option<&'static Check> {
        let mut next = answer.next.iter().map(|next| next.check);
        next.find(|check| !self.asked.contains(&check.key))
    }

    fn make_named(&mut self, key: &str, evidence: &mut Evidence) {
        if let Some(check) = check(key) {
            self.make(check, evidence);
        }
    }

    /// Asks for all that a check reads.
    fn make(&mut self, check: &'static Check, evidence: &mut Evidence) {
        self.asked.push(check.key);
        let words = format!("{}: {}", capital(check.words), check.how);
        output::note(&format!("\n{}", broken(0, &words)));
        if !check.caution.is_empty() {
            output::note(&broken(2, &format!("mind: {}", check.caution)));
        }
        for &quantity in check.reads {
            if self.is_over || evidence.reading(check.situation, quantity).is_some() {
                continue;
            }
            self.read(check.situation, quantity, evidence);
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
            match answers::book(evidence, situation, quantity, &line) {
                Ok(_) => return,
                Err(_) => {
                    let why = answers::amiss(quantity, &line)
                        .map_or_else(String::new, |amiss| format!(": {amiss}"));
                    output::note(&format!("\"{line}\" can't be taken for it{why}."));
                }
            }
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
