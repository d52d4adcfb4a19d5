//! The page that holds the simulator itself: one HTML file that opens from a disk, asks for nothing and runs only its own script.

use std::io::{self, Write};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::{Compression, GzBuilder};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::cautions::CAUTIONS;
use super::page::{STYLE, escape};
use crate::files::weather::{DEMO_FILE, lean_demo};

const TEMPLATE: &str = include_str!("../../../page/app/index.html");
const APP_STYLE: &str = include_str!("../../../page/app/app.css");
const WORKER: &str = include_str!("../../../page/app/worker.mjs");

/// The script's modules, each after those it uses.
const MODULES: [&str; 14] = [
    include_str!("../../../page/app/dom.mjs"),
    include_str!("../../../page/app/simulator.mjs"),
    include_str!("../../../page/app/answer.mjs"),
    include_str!("../../../page/app/fields.mjs"),
    include_str!("../../../page/app/house.mjs"),
    include_str!("../../../page/app/page_house.mjs"),
    include_str!("../../../page/app/page_loop.mjs"),
    include_str!("../../../page/app/page_winter.mjs"),
    include_str!("../../../page/app/page_tonight.mjs"),
    include_str!("../../../page/app/page_log.mjs"),
    include_str!("../../../page/app/page_lay.mjs"),
    include_str!("../../../page/app/page_faults.mjs"),
    include_str!("../../../page/app/page_live.mjs"),
    include_str!("../../../page/app/main.mjs"),
];

/// What a person gives along with the page.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Given {
    /// `si` or `us`.
    pub units: &'static str,
    /// A site file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub site: Option<Text>,
    /// A settings file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settings: Option<Text>,
    /// Weather in place of the built-in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weather: Option<Packed>,
    /// A log.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub log: Option<Packed>,
    /// Files that are named in others.
    pub files: Vec<Packed>,
}

/// A text and its name.
#[derive(Clone, Debug, Serialize)]
pub struct Text {
    /// Its name.
    pub name: String,
    /// All of it.
    pub text: String,
}

/// A file of any size, packed.
#[derive(Clone, Debug, Serialize)]
pub struct Packed {
    name: String,
    packed: String,
}

impl Packed {
    /// A file's bytes.
    #[must_use]
    pub fn new(name: String, bytes: &[u8]) -> Self {
        Self {
            name,
            packed: packed(bytes),
        }
    }
}

/// The whole page, with the simulator's WebAssembly.
#[must_use]
pub fn html(module: &[u8], given: &Given) -> String {
    let style = format!("{STYLE}{APP_STYLE}");
    let script = script();
    let policy = format!(
        "default-src 'none'; script-src '{}' 'wasm-unsafe-eval'; worker-src blob:; style-src '{}'; img-src data:; connect-src \
         'none'; form-action 'none'; base-uri 'none'",
        hash(&script),
        hash(&style)
    );
    let cautions: String = CAUTIONS
        .iter()
        .map(|(title, text)| format!("<dt>{}</dt><dd>{}</dd>", escape(title), escape(text)))
        .collect();
    // Within a script's element nothing but its end can be misread.
    let given = serde_json::to_string(given)
        .unwrap_or_default()
        .replace('<', "\\u003c");
    let parts = [
        ("policy", policy),
        ("style", style),
        ("version", env!("CARGO_PKG_VERSION").to_owned()),
        ("cautions", cautions),
        ("module", packed(module)),
        ("weather_name", escape(DEMO_FILE)),
        ("weather", packed(&lean_demo())),
        ("given", given),
        ("worker", WORKER.to_owned()),
        ("script", script),
    ];
    let mut page = String::new();
    let mut rest = TEMPLATE;
    // In the template's order, so that nothing is looked for in what was put in.
    while let Some((before, after)) = rest.split_once('{') {
        page.push_str(before);
        let found = after.split_once('}').and_then(|(name, after)| {
            let (_, text) = parts.iter().find(|(known, _)| *known == name)?;
            Some((text, after))
        });
        match found {
            Some((text, after)) => {
                page.push_str(text);
                rest = after;
            }
            None => {
                page.push('{');
                rest = after;
            }
        }
    }
    page.push_str(rest);
    page
}

/// The modules as one: what they import from each other stands before it.
fn script() -> String {
    let mut script = String::new();
    for line in MODULES.iter().flat_map(|module| module.lines()) {
        if !line.starts_with("import ") {
            script.push_str(line.strip_prefix("export ").unwrap_or(line));
            script.push('\n');
        }
    }
    script
}

/// A source of the content security policy.
fn hash(text: &str) -> String {
    format!(
        "sha256-{}",
        STANDARD.encode(Sha256::digest(text.as_bytes()))
    )
}

/// gzip without name and time, in base64.
fn packed(bytes: &[u8]) -> String {
    let pack = || -> io::Result<Vec<u8>> {
        let mut writer = GzBuilder::new().write(Vec::new(), Compression::best());
        writer.write_all(bytes)?;
        writer.finish()
    };
    // Writing to a vector cannot fail.
    STANDARD.encode(pack().unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(site: &str) -> String {
        let given = Given {
            units: "si",
            site: Some(Text {
                name: "site.toml".to_owned(),
                text: site.to_owned(),
            }),
            ..Given::default()
        };
        html(b"\0asm", &given)
    }

    #[test]
    fn what_a_person_gives_cannot_end_its_place() {
        let page = page("</script><script>alert(1)</script><!--");
        assert!(!page.contains("alert(1)</script>"));
        assert!(page.contains("\\u003c/script>\\u003cscript>alert(1)"));
        // The template's own elements and no other.
        assert_eq!(page.matches("<script ").count(), 5);
    }

    #[test]
    fn every_part_is_filled_and_the_same_bytes_come_again() {
        let page = page("");
        for part in [
            "{policy}", "{style}", "{module}", "{given}", "{worker}", "{script}",
        ] {
            assert!(!page.contains(part), "{part}");
        }
        assert_eq!(page, self::page(""));
    }

    #[test]
    fn the_script_is_one_module() {
        let script = script();
        assert!(!script.contains("\nimport ") && !script.contains("\nexport "));
        for module in MODULES {
            for line in module.lines().filter(|line| line.starts_with("import ")) {
                assert!(line.ends_with(';'), "{line}: an import stands in one line");
            }
        }
    }
}
