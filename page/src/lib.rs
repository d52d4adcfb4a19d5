//! The simulator's command line for a page: files go in as bytes, questions and answers are JSON, both by pointer and length
//! in linear memory. There are no imports. A panic is a trap: the page says so and begins again with a new instance.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Parser as _;
use host_sim::cli::commands::winter::Begun;
use host_sim::cli::commands::{self, Outcome};
use host_sim::cli::{self, Cli, Verb};
use host_sim::files::form::{Edit, Row, edited};
use host_sim::files::log::LogReader;
use host_sim::files::message::{chain, plain};
use host_sim::files::quantity::Units;
use host_sim::files::site::{Site, ask, form};
use host_sim::files::{memory, now, settings_file};
use host_sim::present::watch;
use host_sim::watch::live::Live;
use serde::{Deserialize, Serialize};

thread_local! {
    static OUT: RefCell<String> = const { RefCell::new(String::new()) };
    static WINTER: RefCell<Option<Begun>> = const { RefCell::new(None) };
    static LIVE: RefCell<Option<Live>> = const { RefCell::new(None) };
}

/// What a page may ask.
#[derive(Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Question {
    /// Tells the time, s since 1970, the zone of the place by its name, and ms by a clock that nobody sets.
    Clock {
        seconds: i64,
        zone: String,
        running_ms: u64,
    },
    /// A command line without the program's name; `take` names the outputs wanted as text, `take_bytes` the others.
    Run {
        args: Vec<String>,
        take: Vec<PathBuf>,
        #[serde(default)]
        take_bytes: Vec<PathBuf>,
    },
    /// Begins the winter of a command line.
    Winter { args: Vec<String> },
    /// Goes on with it by so many days, with a picture of those so far if wanted.
    Advance { days: u32, picture: bool },
    /// Ends it; `compares`: also without boiler and without the loop.
    End { compares: bool, take: Vec<PathBuf> },
    /// The questions that make a site file, with the answers so far.
    Site { units: String, answers: Vec<String> },
    /// The keys of a site file and of a settings file.
    Keys {
        units: String,
        site: String,
        settings: String,
    },
    /// A file's text with some keys changed.
    Edit {
        text: String,
        edits: Vec<(String, String, String)>,
    },
    /// The headers of a log that was put in.
    Headers { name: String, skip_lines: u64 },
    /// What happens at the serial port that a unit is at.
    Live { units: String, happens: Happens },
    /// What is known of that unit now, as a page, and what was kept of it.
    LivePage { units: String },
    /// The log of its rows so far.
    LiveLog,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Happens {
    /// The port was opened, or opened again.
    Connected,
    /// These bytes came, which may be none: time has passed.
    Heard(Vec<u8>),
    /// It is gone.
    Unplugged,
    /// What was heard so far is given up.
    Forgotten,
}

/// What a command line came to.
#[derive(Serialize)]
struct Ran {
    /// As the program's exit code: 0 done, 1 done and does not hold, 2 cannot be used.
    code: u8,
    /// What the program prints.
    printed: String,
    /// What the program says where the input cannot be used.
    refused: String,
    /// The outputs that were wanted and are there, by name.
    files: BTreeMap<PathBuf, String>,
    bytes: BTreeMap<PathBuf, Vec<u8>>,
}

#[derive(Serialize)]
struct Grown {
    days: u32,
    of: u32,
    picture: Option<String>,
}

#[derive(Serialize)]
struct AskedSite {
    questions: Vec<ask::Shown>,
    text: String,
}

#[derive(Serialize)]
struct Keys {
    site: Vec<Row>,
    settings: Vec<Row>,
    remarks: Vec<String>,
}

/// Room for so many bytes, to be handed back with [`put`] or [`call`].
#[unsafe(no_mangle)]
pub extern "C" fn take(len: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; len].into_boxed_slice()).cast()
}

/// Puts a file in: its name and its bytes.
///
/// # Safety
/// Both are from [`take`] with these lengths, and are not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn put(name: *mut u8, name_len: usize, bytes: *mut u8, len: usize) {
    // SAFETY: as asked of the caller.
    let (name, bytes) = unsafe { (given(name, name_len), given(bytes, len)) };
    memory::put(Path::new(&*String::from_utf8_lossy(&name)), bytes);
}

/// Asks a question; the length of the answer at [`out`], JSON.
///
/// # Safety
/// As for [`put`].
#[unsafe(no_mangle)]
pub unsafe extern "C" fn call(question: *mut u8, len: usize) -> usize {
    // SAFETY: as asked of the caller.
    let question = unsafe { given(question, len) };
    let text = serde_json::from_slice(&question)
        .map_err(|error| error.to_string())
        .and_then(answer)
        .unwrap_or_else(|refused| json(&serde_json::json!({ "refused": refused })));
    OUT.with_borrow_mut(|out| {
        *out = text;
        out.len()
    })
}

/// Where the last answer stands, until the next question.
#[unsafe(no_mangle)]
pub extern "C" fn out() -> *const u8 {
    OUT.with_borrow(|out| out.as_ptr())
}

/// The bytes of a place from [`take`].
///
/// # Safety
/// As for [`put`].
unsafe fn given(place: *mut u8, len: usize) -> Vec<u8> {
    // SAFETY: as asked of the caller.
    unsafe { Box::from_raw(std::ptr::slice_from_raw_parts_mut(place, len)) }.into_vec()
}

fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

fn answer(question: Question) -> Result<String, String> {
    Ok(match question {
        Question::Clock {
            seconds,
            zone,
            running_ms,
        } => {
            now::tell(seconds, &zone, Duration::from_millis(running_ms));
            "{}".to_owned()
        }
        Question::Run {
            args,
            take,
            take_bytes,
        } => json(&ran(parse(args).and_then(commands::run), take, take_bytes)),
        Question::Winter { args } => {
            let begun = parse(args).and_then(|cli| match cli.verb {
                Some(Verb::Winter(args)) => Begun::new(args),
                _ => Err(anyhow::anyhow!("expected winter")),
            });
            let refused = begun.as_ref().err().map(words);
            WINTER.set(begun.ok());
            json(&serde_json::json!({ "refused": refused }))
        }
        Question::Advance { days, picture } => WINTER.with_borrow_mut(|winter| {
            let winter = winter.as_mut().ok_or("no winter has begun")?;
            let (days, of) = winter.advance(days).map_err(|error| words(&error))?;
            let picture = (picture && days < of).then(|| winter.so_far()).flatten();
            Ok::<_, String>(json(&Grown { days, of, picture }))
        })?,
        Question::End { compares, take } => {
            let winter = WINTER.take().ok_or("no winter has begun")?;
            json(&ran(winter.end(compares), take, Vec::new()))
        }
        Question::Site { units, answers } => {
            let (questions, answers) = ask::form(units_of(&units)?, &answers);
            json(&AskedSite {
                questions,
                text: answers.to_toml(),
            })
        }
        Question::Keys {
            units,
            site,
            settings,
        } => {
            let units = units_of(&units)?;
            let site = Site::parse(&site, "site.toml").map_err(|error| error.to_string())?;
            let raw = match settings.as_str() {
                "" => host_sim::questions::own_settings::settings_for(&site),
                text => *settings_file::parse(text, "settings.toml")
                    .map_err(|error| error.to_string())?
                    .raw(),
            };
            json(&Keys {
                site: form::rows(&site.config, units),
                settings: settings_file::rows(&raw, units),
                remarks: site
                    .lints_in(units)
                    .iter()
                    .map(ToString::to_string)
                    .collect(),
            })
        }
        Question::Edit { text, edits } => {
            let edits: Vec<Edit> = edits
                .into_iter()
                .map(|(section, name, value)| Edit {
                    section,
                    name,
                    value,
                    comment: String::new(),
                })
                .collect();
            json(&serde_json::json!({ "text": edited(&text, &edits)? }))
        }
        Question::Headers { name, skip_lines } => {
            let bytes = memory::read(Path::new(&name)).map_err(|error| error.to_string())?;
            let headers =
                LogReader::headers(&name, bytes, skip_lines).map_err(|error| error.to_string())?;
            json(&serde_json::json!({ "headers": headers }))
        }
        Question::Live { units, happens } => {
            let units = units_of(&units)?;
            let asks = LIVE.with_borrow_mut(|live| live_event(live, units, happens))?;
            json(&serde_json::json!({ "asks": asks }))
        }
        Question::LivePage { units } => {
            let units = units_of(&units)?;
            LIVE.with_borrow_mut(|live| {
                let live = live.as_mut().ok_or("no unit was heard")?;
                let mut html = Vec::new();
                let written = watch::page(live.state(), units).write(&mut html);
                written.map_err(|error| error.to_string())?;
                let html = String::from_utf8_lossy(&html).into_owned();
                let counts = live.counts().clone();
                let kb = live.log().len() / 1_000;
                Ok::<_, String>(json(
                    &serde_json::json!({ "page": html, "counts": counts, "damaged": counts.lines.damaged(), "kb": kb }),
                ))
            })?
        }
        Question::LiveLog => LIVE.with_borrow(|live| {
            let live = live.as_ref().ok_or("no unit was heard")?;
            Ok::<_, String>(json(&serde_json::json!({ "text": live.log() })))
        })?,
    })
}

/// What is to be sent to the unit.
fn live_event(live: &mut Option<Live>, units: Units, happens: Happens) -> Result<String, String> {
    let heard = live.get_or_insert_with(|| Live::new(units));
    match happens {
        Happens::Connected => heard.connect(),
        Happens::Heard(bytes) => return heard.hear(&bytes).map_err(|error| error.to_string()),
        Happens::Unplugged => heard.unplugged(),
        Happens::Forgotten => *live = None,
    }
    Ok(String::new())
}

fn units_of(text: &str) -> Result<Units, String> {
    text.parse()
        .map_err(|error: host_sim::files::quantity::UnitsError| error.to_string())
}

fn parse(args: Vec<String>) -> anyhow::Result<Cli> {
    let args = std::iter::once("host-sim".to_owned()).chain(args);
    Cli::try_parse_from(args).map_err(|error| anyhow::Error::msg(cli::refusal(&error)))
}

fn words(error: &anyhow::Error) -> String {
    plain(&chain(error)).into_owned()
}

fn ran(outcome: anyhow::Result<Outcome>, take: Vec<PathBuf>, take_bytes: Vec<PathBuf>) -> Ran {
    let (code, refused) = match outcome {
        Ok(Outcome::Done) => (0, String::new()),
        Ok(Outcome::DoesNotHold) => (1, String::new()),
        Err(error) => (2, words(&error)),
    };
    let taken = |name: PathBuf| memory::take(&name).map(|bytes| (name, bytes));
    let text =
        |(name, bytes): (PathBuf, Vec<u8>)| (name, String::from_utf8_lossy(&bytes).into_owned());
    Ran {
        code,
        printed: memory::take_printed(),
        refused,
        files: take.into_iter().filter_map(taken).map(text).collect(),
        bytes: take_bytes.into_iter().filter_map(taken).collect(),
    }
}
