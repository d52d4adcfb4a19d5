//! The short site file: the keys asked for and what follows from them, with a comment each.

use std::fmt::Write as _;

use super::{Answers, QUESTIONS, Why, key};
use crate::files::quantity::{self, Units};
use crate::files::site::keys::SECTIONS;

impl Answers {
    /// The site file.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut text = format!(
            "# The house as answered; for {} of {} questions the default stands.\n\
             # A key left out keeps the demo house's value. host-sim site{} prints every key.\n\
             # Physical values stand in quotes with their unit. Lines that begin with # are comments.\n",
            self.defaults,
            QUESTIONS.len(),
            match self.units {
                Units::Si => "",
                Units::Us => " --units us",
            }
        );
        for section in SECTIONS {
            let mut said = section.keys.iter().filter_map(|key| {
                self.said
                    .iter()
                    .find(|said| (said.section, said.key) == (section.name, key.name))
            });
            let Some(first) = said.next() else {
                continue;
            };
            let _ = write!(text, "\n# {}\n[{}]\n", section.doc, section.name);
            for said in std::iter::once(first).chain(said) {
                let doc = quantity::told(key(said.section, said.key).doc, self.units);
                let _ = match said.why {
                    Why::Answered => writeln!(text, "# {doc}"),
                    Why::Default => writeln!(text, "# {doc} Not answered: the default."),
                    Why::Follows(from) => {
                        writeln!(text, "# {doc} {from}: correct it where that is not so.")
                    }
                };
                let _ = writeln!(text, "{} = {}", said.key, said.value);
            }
        }
        text
    }
}
