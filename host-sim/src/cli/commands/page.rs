//! `host-sim page`

use std::borrow::Cow;
use std::io::Write as _;
use std::path::Path;

use anyhow::{Context as _, bail};

use super::{Inputs, Outcome};
use crate::cli::Page;
use crate::files;
use crate::files::output::OutputSet;
use crate::files::quantity::Units;
use crate::files::site::Site;
use crate::files::weather::Source;
use crate::files::{input, settings_file};
use crate::present::app::{self, Given, Packed, Text};
use crate::sim::cancel::Cancel;

/// The simulator as WebAssembly, where it was there when this program was built.
#[cfg(feature = "page")]
const SIMULATOR: Option<&[u8]> = Some(include_bytes!("../../../../page/dist/simulator.wasm"));
#[cfg(not(feature = "page"))]
const SIMULATOR: Option<&[u8]> = None;

/// What a WebAssembly module begins with.
const MAGIC: &[u8] = b"\0asm";

pub(super) fn run(args: &Page) -> anyhow::Result<Outcome> {
    let mut inputs = Inputs::new();
    inputs.site(args.house.site.as_ref())?;
    let named = [
        &args.house.settings,
        &args.weather,
        &args.log,
        &args.simulator,
    ];
    inputs.add(named.into_iter().flatten());
    let simulator = simulator(args)?;
    let mut given = Given {
        units: match args.shown.units {
            Units::Si => "si",
            Units::Us => "us",
        },
        ..Given::default()
    };
    if let Some(path) = &args.house.site {
        let text = text(path)?;
        // The page looks for a weather file under the name that the text has.
        let site = Site::parse(&text, &name(path))?;
        if let Some(Source::File(weather)) = &site.config.weather {
            let from = path.parent().unwrap_or(Path::new("")).join(weather);
            given
                .files
                .push(Packed::new(weather.display().to_string(), &bytes(&from)?));
        }
        given.site = Some(Text {
            name: name(path),
            text,
        });
    }
    if let Some(path) = &args.house.settings {
        settings_file::read(path)?;
        given.settings = Some(Text {
            name: name(path),
            text: text(path)?,
        });
    }
    if let Some(path) = &args.weather {
        files::weather::read(path)?;
        given.weather = Some(Packed::new(name(path), &bytes(path)?));
    }
    if let Some(path) = &args.log {
        given.log = Some(Packed::new(name(path), &bytes(path)?));
    }
    let mut outputs = OutputSet::new();
    if let Some(mut file) = inputs.output(Some(&args.write))? {
        file.write_all(app::html(&simulator, &given).as_bytes())?;
        outputs.add(file)?;
    }
    outputs.persist(&Cancel::new())?;
    Ok(Outcome::Done)
}

fn simulator(args: &Page) -> anyhow::Result<Cow<'static, [u8]>> {
    match (&args.simulator, SIMULATOR) {
        (Some(path), _) => {
            let bytes = bytes(path)?;
            if !bytes.starts_with(MAGIC) {
                bail!(
                    "{}: found no WebAssembly; expected the file that page/build.sh writes",
                    path.display()
                );
            }
            Ok(bytes.into())
        }
        (None, Some(built_in)) => Ok(built_in.into()),
        (None, None) => bail!(
            "--simulator: found none, and none is built in; expected the simulator as WebAssembly. In the project's folder \
             page/build.sh makes page/dist/simulator.wasm; give that"
        ),
    }
}

/// A file's own name: where it lies on this disk is nobody's business.
fn name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

fn text(path: &Path) -> anyhow::Result<String> {
    input::text(path).with_context(|| format!("{}: cannot be read", path.display()))
}

fn bytes(path: &Path) -> anyhow::Result<Vec<u8>> {
    input::weather(path).with_context(|| format!("{}: cannot be read", path.display()))
}
