//! `host-sim site`

use std::io::{self, IsTerminal as _, Write as _};
use std::path::Path;

use super::{Inputs, Outcome};
use crate::cli::SiteFile;
use crate::files::message::plain;
use crate::files::output::{self, OutputSet};
use crate::files::quantity::Units;
use crate::files::site::{self, ask};
use crate::sim::cancel::Cancel;

pub(super) fn run(args: &SiteFile) -> anyhow::Result<Outcome> {
    let units = args.shown.units;
    let text = if args.ask {
        let stdin = io::stdin();
        let is_person = stdin.is_terminal();
        let answers = ask::ask(&mut stdin.lock(), &mut io::stderr(), units, is_person)?;
        answers.in_folder_of(args.out.as_deref()).to_toml()
    } else {
        site::demo_toml(units)
    };
    let Some(path) = &args.out else {
        output::print(&text)?;
        return Ok(Outcome::Done);
    };
    let mut file = Inputs::new()
        .output(Some(path))?
        .ok_or_else(|| anyhow::anyhow!("no output"))?;
    file.write_all(text.as_bytes())?;
    let mut outputs = OutputSet::new();
    outputs.add(file)?;
    outputs.persist(&Cancel::new())?;
    if args.ask {
        eprintln!("{}", next(path, units));
    }
    Ok(Outcome::Done)
}

/// What to do with the file.
fn next(path: &Path, units: Units) -> String {
    let path = path.display().to_string();
    let name = plain(&path);
    let units = match units {
        Units::Si => "",
        Units::Us => " --units us",
    };
    format!(
        "{name} is written. Next: host-sim size --site {name} --write-settings settings.toml{units}"
    )
}
