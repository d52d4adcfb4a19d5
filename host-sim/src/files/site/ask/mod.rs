//! A site file from at most fifteen questions.
//!
//! Each question sets one key or two of the site file, and what plainly follows from them; all other keys keep the
//! demonstration site's value and are left out of the file. An answer is checked at once, with the defaults of the questions
//! still to come, against the same table of keys and the same relations as a site file.

mod file;
mod questions;

use std::fmt;
use std::io::{self, BufRead, Write};
use std::path::Path;

use super::SiteConfig;
use super::document::Document;
use super::keys::{Key, SECTIONS};
use super::relations;
use super::value::{self, Refusal, text_of};
use crate::files::quantity::{self, Units};
use crate::files::weather::Source;
use serde::Serialize;
use toml::de::DeValue;

use questions::QUESTIONS;

/// What the answers come to.
#[derive(Clone, Debug)]
pub struct Answers {
    units: Units,
    config: SiteConfig,
    /// Keys to write, in the order in which they were set.
    said: Vec<Said>,
    /// Questions for which the default stands.
    defaults: usize,
}

/// A key with its value as it was said.
#[derive(Clone, Debug)]
struct Said {
    section: &'static str,
    key: &'static str,
    value: String,
    why: Why,
}

/// Why a key has its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Why {
    Answered,
    Default,
    Follows(&'static str),
}

/// Why asking ended without a site.
#[derive(Debug)]
pub enum AskError {
    /// Answers could not be read, or questions not be shown.
    Io(io::Error),
    /// An answer cannot be used, and there is nobody to ask again.
    Answer {
        /// Number of the question, from 1.
        question: usize,
        /// What it asks.
        asks: &'static str,
        /// Found, expected and what to do.
        text: String,
    },
    /// More lines than questions.
    TooMany(String),
}

impl fmt::Display for AskError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(error) => write!(f, "standard input: cannot be read: {error}"),
            Self::Answer {
                question,
                asks,
                text,
            } => write!(f, "standard input, answer {question} ({asks}): {text}"),
            Self::TooMany(found) => write!(
                f,
                "standard input: found \"{found}\" after the last answer; expected {} lines, one a question, an empty one for a \
                 default; take a line out",
                QUESTIONS.len()
            ),
        }
    }
}

impl std::error::Error for AskError {}

impl From<io::Error> for AskError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

impl From<Refusal> for String {
    fn from(refusal: Refusal) -> Self {
        format!(
            "found {}; expected {}; {}",
            refusal.found, refusal.expected, refusal.advice
        )
    }
}

/// One question.
struct Question {
    /// What it asks, as a few words.
    asks: &'static str,
    /// What it means, with what is usual.
    means: fn(&Answers) -> String,
    /// The answer an empty line stands for, as if it had been typed.
    default: fn(&Answers) -> String,
    /// Takes an answer.
    take: fn(&mut Answers, &str) -> Result<(), Refusal>,
}

/// Asks every question. With `is_person` a question is asked again where its answer cannot be used.
///
/// # Errors
/// [`AskError`].
pub fn ask(
    input: &mut dyn BufRead,
    prompts: &mut dyn Write,
    units: Units,
    is_person: bool,
) -> Result<Answers, AskError> {
    let mut answers = Answers::new(units);
    let mut is_over = false;
    for (index, question) in QUESTIONS.iter().enumerate() {
        loop {
            let default = (question.default)(&answers);
            writeln!(
                prompts,
                "{:>2}/{} {}? {} [{default}]",
                index + 1,
                QUESTIONS.len(),
                question.asks,
                (question.means)(&answers)
            )?;
            let line = if is_over { None } else { answer(input)? };
            if line.is_none() && !is_over {
                is_over = true;
                let after = match QUESTIONS.len() - index - 1 {
                    0 => "the default stands for this last question".to_owned(),
                    1 => "the defaults stand for this question and the last".to_owned(),
                    n => format!("the defaults stand for this and the {n} questions after it"),
                };
                writeln!(prompts, "End of input: {after}.")?;
            }
            let typed = line.as_deref().filter(|line| !line.is_empty());
            match answers.with(index, typed) {
                Ok(with) => {
                    answers = with;
                    break;
                }
                Err(refusal) if is_person && !is_over => {
                    writeln!(prompts, "   {}", String::from(refusal))?;
                }
                Err(refusal) => {
                    return Err(AskError::Answer {
                        question: index + 1,
                        asks: question.asks,
                        text: refusal.into(),
                    });
                }
            }
        }
    }
    if !is_person
        && !is_over
        && let Some(more) = answer(input)?.filter(|line| !line.is_empty())
    {
        return Err(AskError::TooMany(more));
    }
    Ok(answers)
}

/// A question as a form shows it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// What it asks, as a few words.
    pub asks: &'static str,
    /// What it means, with what is usual.
    pub means: String,
    /// The answer that an empty one stands for.
    pub default: String,
    /// Why the answer given cannot be used, if it cannot: the default stands for it.
    pub refused: Option<String>,
}

/// All questions with the answers given, in order; an empty or missing one takes its default.
#[must_use]
pub fn form(units: Units, typed: &[String]) -> (Vec<Shown>, Answers) {
    let mut answers = Answers::new(units);
    let mut shown = Vec::new();
    for (index, question) in QUESTIONS.iter().enumerate() {
        let asked = Shown {
            asks: question.asks,
            means: (question.means)(&answers),
            default: (question.default)(&answers),
            refused: None,
        };
        let typed = typed.get(index).map(|text| text.trim());
        let typed = typed.filter(|text| !text.is_empty());
        let (with, refused) = match answers.with(index, typed) {
            Ok(with) => (Some(with), None),
            Err(refusal) => (answers.with(index, None).ok(), Some(refusal.into())),
        };
        answers = with.unwrap_or(answers);
        shown.push(Shown { refused, ..asked });
    }
    (shown, answers)
}

/// A line without its end, blanks and remark; `None` at the end of the input.
fn answer(input: &mut dyn BufRead) -> io::Result<Option<String>> {
    const LONGEST: u64 = 4096;
    let mut line = Vec::new();
    io::Read::take(&mut *input, LONGEST).read_until(b'\n', &mut line)?;
    if line.is_empty() {
        return Ok(None);
    }
    let line = String::from_utf8_lossy(&line);
    let line = line.trim();
    let said = if line.starts_with('#') {
        ""
    } else {
        line.split_once(" #").map_or(line, |(said, _)| said)
    };
    Ok(Some(said.trim().to_owned()))
}

impl Answers {
    fn new(units: Units) -> Self {
        Self {
            units,
            config: SiteConfig::default(),
            said: Vec::new(),
            defaults: 0,
        }
    }

    /// With one question answered; `None` takes its default. Checked with the defaults of those that come after it.
    fn with(&self, index: usize, typed: Option<&str>) -> Result<Self, Refusal> {
        let mut with = self.clone();
        with.take(index, typed)?;
        let mut complete = with.clone();
        for later in index + 1..QUESTIONS.len() {
            complete.take(later, None)?;
        }
        let document = Document::empty(self.units);
        match relations::broken(&complete.config, &document)
            .into_iter()
            .next()
        {
            None => Ok(with),
            Some(problem) => Err(Refusal {
                found: problem.found,
                expected: problem.expected,
                advice: problem.advice,
            }),
        }
    }

    fn take(&mut self, index: usize, typed: Option<&str>) -> Result<(), Refusal> {
        let question = &QUESTIONS[index];
        let first = self.said.len();
        let text = typed.map_or_else(|| (question.default)(self), str::to_owned);
        (question.take)(self, &text)?;
        if typed.is_none() {
            self.defaults += 1;
            for said in &mut self.said[first..] {
                if said.why == Why::Answered {
                    said.why = Why::Default;
                }
            }
        }
        Ok(())
    }

    /// Sets a key as typed; a number alone gets the unit the key is asked in.
    fn set(
        &mut self,
        section: &'static str,
        name: &'static str,
        typed: &str,
    ) -> Result<(), Refusal> {
        self.put(section, name, typed, Why::Answered)
    }

    fn put(
        &mut self,
        section: &'static str,
        name: &'static str,
        typed: &str,
        why: Why,
    ) -> Result<(), Refusal> {
        let key = key(section, name);
        let typed = match quantity::plain_number(typed) {
            Some(_) => format!("{typed} {}", value::unit_of_key(key, self.units)),
            None => typed.to_owned(),
        };
        let typed = typed.trim();
        value::apply(
            key,
            &DeValue::String(typed.to_owned().into()),
            &mut self.config,
            self.units,
        )?;
        let value = toml::Value::String(typed.to_owned()).to_string();
        self.note(section, name, value, why);
        Ok(())
    }

    /// Writes a key down that has been put in the configuration.
    fn note(&mut self, section: &'static str, key: &'static str, value: String, why: Why) {
        self.said
            .retain(|said| (said.section, said.key) != (section, key));
        self.said.push(Said {
            section,
            key,
            value,
            why,
        });
    }

    /// Writes a key down that has been put in the configuration, as the site file shows it.
    fn follow(&mut self, section: &'static str, name: &'static str, why: &'static str) {
        if let Some(value) = text_of(key(section, name), &self.config, self.units) {
            self.note(section, name, value, Why::Follows(why));
        }
    }

    /// A value as a person says it: two digits in US units, a temperature in whole degrees; as it is in SI.
    fn said(&self, section: &str, name: &str) -> String {
        value::said_of_key(key(section, name), &self.config, self.units)
    }

    /// What is usual for a key.
    fn usual(&self, section: &str, name: &str) -> String {
        value::usual_of_key(key(section, name), self.units)
    }

    /// With its weather file named from the folder of a site file on, where that is not the folder asked in.
    #[must_use]
    pub fn in_folder_of(mut self, site_file: Option<&Path>) -> Self {
        let folder = site_file
            .and_then(Path::parent)
            .filter(|folder| !folder.as_os_str().is_empty());
        if let (Some(Source::File(weather)), Some(_)) = (&self.config.weather, folder)
            && weather.is_relative()
            && let Ok(whole) = std::path::absolute(weather)
        {
            let name = toml::Value::String(whole.display().to_string()).to_string();
            self.note("place", "weather", name, Why::Answered);
        }
        self
    }

    /// How many questions the default stands for.
    #[must_use]
    pub fn defaults(&self) -> usize {
        self.defaults
    }

    /// The site they describe.
    #[must_use]
    pub fn config(&self) -> &SiteConfig {
        &self.config
    }
}

/// A key of the table; every name used here is in it, which a test holds.
fn key(section: &str, name: &str) -> &'static Key {
    SECTIONS
        .iter()
        .filter(|known| known.name == section)
        .flat_map(|known| known.keys)
        .find(|key| key.name == name)
        .unwrap_or(&SECTIONS[0].keys[0])
}

#[cfg(test)]
mod tests;
