//! How the instruments were joined to the circuit: `"CH1 loop 10 cm; CH2 battery via x10"`.

/// One input, the part that it sees, and the factor of its voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct Clause {
    /// The instrument's label, where it was given as `LABEL:INPUT`.
    pub label: Option<String>,
    /// The input, as the profile names it.
    pub input: String,
    /// The part that it sees, in the person's words.
    pub sees: String,
    /// The factor from the instrument's value to the one meant: 10 for a ×10 probe, 1/R for a shunt; 1 for none.
    pub factor: f64,
}

impl Clause {
    /// Whether it joins something to the secondary or its top rather than picking up from a distance, as a loop or a stub does.
    pub fn is_on_secondary(&self) -> bool {
        let words = self.sees.to_lowercase();
        let mut words = words.split(|c: char| !c.is_alphanumeric());
        let (mut is_on, mut is_beside) = (false, false);
        for word in words.by_ref() {
            is_on |= matches!(word, "top" | "secondary");
            is_beside |= matches!(
                word,
                "loop" | "loops" | "stub" | "stubs" | "antenna" | "aerial"
            );
        }
        is_on && !is_beside
    }
}

/// All clauses of a connection.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Connection {
    /// The clauses in the order given.
    pub clauses: Vec<Clause>,
}

/// Why a connection cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ConnectionError {
    /// A clause says an input and nothing else.
    #[error(
        "connection \"{clause}\" does not say what the input sees, write it like \"CH2 battery via x10\""
    )]
    Nothing {
        /// The clause.
        clause: String,
    },
    /// A factor is no number above zero.
    #[error("connection \"{clause}\": \"{word}\" is no factor, write it like x10 or x0.1")]
    Factor {
        /// The clause.
        clause: String,
        /// The word.
        word: String,
    },
    /// A shunt without its resistance.
    #[error(
        "connection \"{clause}\": a shunt needs its resistance, write it like \"shunt 0.1 ohm\""
    )]
    Shunt {
        /// The clause.
        clause: String,
    },
    /// Two clauses for one input.
    #[error("connection: {input} stands twice")]
    Twice {
        /// The input.
        input: String,
    },
}

impl Connection {
    /// Reads a connection: clauses between semicolons, each an input and the part that it sees.
    ///
    /// # Errors
    /// [`ConnectionError`] for the first clause that cannot be read.
    pub fn parse(text: &str) -> Result<Self, ConnectionError> {
        let mut clauses: Vec<Clause> = Vec::new();
        for part in text
            .split(';')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let clause = clause(part)?;
            if clauses
                .iter()
                .any(|other| other.input == clause.input && other.label == clause.label)
            {
                return Err(ConnectionError::Twice {
                    input: clause.input,
                });
            }
            clauses.push(clause);
        }
        Ok(Self { clauses })
    }
}

fn clause(part: &str) -> Result<Clause, ConnectionError> {
    let owned = || part.to_owned();
    let (input, sees) = part
        .split_once(char::is_whitespace)
        .ok_or_else(|| ConnectionError::Nothing { clause: owned() })?;
    let (label, input) = match input.split_once(':') {
        Some((label, input)) => (Some(label.to_owned()), input),
        None => (None, input),
    };
    let words: Vec<&str> = sees.split_whitespace().collect();
    let mut factor = 1.0;
    for (index, word) in words.iter().enumerate() {
        if *word == "shunt" {
            let rest = words.get(index + 1..).unwrap_or(&[]).join(" ");
            let ohms = crate::units::parse(&rest, crate::units::Unit::Ohm)
                .ok()
                .filter(|ohms| *ohms > 0.0);
            factor /= ohms.ok_or_else(|| ConnectionError::Shunt { clause: owned() })?;
        } else if looks_like_a_factor(word) {
            return Err(ConnectionError::Factor {
                clause: owned(),
                word: (*word).to_owned(),
            });
        } else if let Some(number) = factor_of(word) {
            let value = number
                .parse::<f64>()
                .ok()
                .filter(|value| value.is_finite() && *value > 0.0);
            factor *= value.ok_or_else(|| ConnectionError::Factor {
                clause: owned(),
                word: (*word).to_owned(),
            })?;
        }
    }
    Ok(Clause {
        label,
        input: input.to_owned(),
        sees: sees.trim().to_owned(),
        factor,
    })
}

/// `10x`, `1:10`, `10:1` and a lone `x` are meant as factors, and not read as one would be a tenfold error.
fn looks_like_a_factor(word: &str) -> bool {
    let is_number = |text: &str| text.parse::<f64>().is_ok();
    let is_ratio = word
        .split_once([':', '/'])
        .is_some_and(|(one, other)| is_number(one) && is_number(other));
    is_ratio
        || matches!(word, "x" | "X" | "×")
        || word.strip_suffix(['x', 'X', '×']).is_some_and(is_number)
}

/// The number in `x10`, `×10` or `X0.5`; other words that begin with an x are words.
fn factor_of(word: &str) -> Option<&str> {
    let number = word.strip_prefix(['x', 'X', '×'])?;
    number
        .starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == '-')
        .then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is_factor(text: &str, want: f64) {
        let factor = Connection::parse(text).unwrap().clauses[0].factor;
        assert!((factor - want).abs() < 1e-12 * want, "{text}: {factor}");
    }

    #[test]
    fn inputs_words_and_factors_are_told_apart() {
        let connection = Connection::parse("CH1 loop 10 cm; meter:CH2 battery via x10;").unwrap();
        assert_eq!(
            connection.clauses,
            vec![
                Clause {
                    label: None,
                    input: "CH1".into(),
                    sees: "loop 10 cm".into(),
                    factor: 1.0
                },
                Clause {
                    label: Some("meter".into()),
                    input: "CH2".into(),
                    sees: "battery via x10".into(),
                    factor: 10.0
                },
            ]
        );
        assert_eq!(Connection::parse("").unwrap(), Connection::default());
    }

    #[test]
    fn a_probe_on_the_top_is_told_from_a_pick_up_beside_it() {
        let on = |text: &str| Connection::parse(text).unwrap().clauses[0].is_on_secondary();
        for text in [
            "CH1 probe on the top",
            "CH1 Top via x10",
            "CH1 clip, secondary",
        ] {
            assert!(on(text), "{text}");
        }
        for text in [
            "CH1 loop 10 cm from the top",
            "CH1 stub 30 cm from the top",
            "CH2 battery via x10",
            "CH1 stop button",
        ] {
            assert!(!on(text), "{text}");
        }
    }

    #[test]
    fn probes_dividers_and_shunts_multiply() {
        is_factor("CH2 battery via ×11", 11.0);
        is_factor("CH2 xenon lamp", 1.0);
        is_factor("CH3 supply lead shunt 0.1 ohm", 10.0);
        is_factor("CH3 shunt 100mR", 10.0);
    }

    #[test]
    fn what_is_meant_as_a_factor_is_never_passed_over() {
        for text in [
            "CH2 battery via 10x",
            "CH2 battery via x 10",
            "CH2 battery 1:10",
            "CH2 divider 10:1",
            "CH2 ×",
        ] {
            assert!(Connection::parse(text).is_err(), "{text}");
        }
        is_factor("CH2 battery 2x2 cells", 1.0);
    }

    #[test]
    fn what_cannot_be_meant_is_refused() {
        insta::assert_snapshot!(Connection::parse("CH1").unwrap_err(),
            @r#"connection "CH1" does not say what the input sees, write it like "CH2 battery via x10""#);
        insta::assert_snapshot!(Connection::parse("CH2 battery x0").unwrap_err(),
            @r#"connection "CH2 battery x0": "x0" is no factor, write it like x10 or x0.1"#);
        insta::assert_snapshot!(Connection::parse("CH3 shunt").unwrap_err(),
            @r#"connection "CH3 shunt": a shunt needs its resistance, write it like "shunt 0.1 ohm""#);
        insta::assert_snapshot!(Connection::parse("A lamp; A hand").unwrap_err(), @"connection: A stands twice");
    }
}
