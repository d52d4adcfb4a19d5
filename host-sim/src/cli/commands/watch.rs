//! `host-sim watch`

use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use anyhow::{Context as _, bail};
use jiff::ZonedDateTime;

use super::Outcome;
use crate::cli::Watch;
use crate::files::output;
use crate::files::quantity::Units;
use crate::files::site::Site;
use crate::present::watch::{LIVE, page};
use crate::serial::port::SerialPort;
use crate::sim::cancel::Cancel;
use crate::watch::hooks::file;
use crate::watch::journal::Journal;
use crate::watch::kept::KeptLog;
use crate::watch::metrics;
use crate::watch::recent::Recent;
use crate::watch::service::{Given, Shared, look, watch};
use crate::watch::state::{State, Tonight};
use crate::watch::web::{self, Reply};

/// What was told and who has it, in the folder.
const JOURNAL: &str = "messages.jsonl";
/// How often `tonight` is asked, and how long it may take.
const ASK_EVERY: Duration = Duration::from_secs(3_600);
const LONGEST: Duration = Duration::from_secs(900);
/// A first answer soon, and another try where no row has come yet.
const ASK_AGAIN: Duration = Duration::from_secs(30);

pub(super) fn run(args: &Watch) -> anyhow::Result<Outcome> {
    let units = args.shown.units;
    let folder = &args.folder;
    if !folder.is_dir() {
        bail!(
            "{}: found no folder; expected one that log and messages go to; make it first",
            folder.display()
        );
    }
    let hooks = match &args.hooks {
        Some(path) => file::read(path, units).map_err(anyhow::Error::msg)?,
        None => file::none(units),
    };
    let site = args.site.as_deref().map(Site::read).transpose()?;
    let listener = match args.page.as_str() {
        "off" => None,
        address => Some(listener(address)?),
    };
    let journal_file = folder.join(JOURNAL);
    let journal =
        Journal::open(&journal_file).with_context(|| journal_file.display().to_string())?;
    let log = KeptLog::open(folder, usize::from(args.months))
        .with_context(|| folder.display().to_string())?;
    let cancel = output::cancel_on_ctrl_c()?;

    let now = ZonedDateTime::now();
    let name = site.and_then(|site| site.config.name);
    let recent = Recent::of_logs(&log.newest()?, now.timestamp());
    let house = hooks.house.clone().or(name).unwrap_or_default();
    let shared: Shared = Arc::new(Mutex::new(State {
        recent,
        ..State::new(house, now, hooks.rules.silence)
    }));
    if let Some(listener) = listener {
        let at = listener.local_addr()?;
        say(&format!("the page is at http://{at}/"));
        if !at.ip().is_loopback() {
            say("everybody on this computer's networks can read it");
        }
        let shared = Arc::clone(&shared);
        let names = Arc::new(move |path: &str| reply(path, &shared, units));
        std::thread::spawn(move || {
            if let Err(error) = web::serve(listener, names) {
                say(&format!("the page is gone: {error}"));
            }
        });
    }
    if args.forecast.is_some() {
        let asked = Asked::new(args)?;
        let (shared, cancel) = (Arc::clone(&shared), cancel.clone());
        std::thread::spawn(move || asked.every_hour(&shared, &cancel));
    }
    let given = Given {
        port: Box::new(SerialPort::new(&args.port)),
        log,
        journal,
        hooks,
    };
    watch(given, &shared, &cancel, &mut |text| say(text));
    Ok(Outcome::Done)
}

/// For whoever started it: a terminal, or the service's log.
fn say(text: &str) {
    eprintln!("{} {text}", ZonedDateTime::now().strftime("%F %T"));
}

fn listener(address: &str) -> anyhow::Result<TcpListener> {
    let at: SocketAddr = address.parse().map_err(|_| {
        anyhow::anyhow!("--page: found \"{address}\"; expected an address and a port, such as 127.0.0.1:8080 or 0.0.0.0:8080, or off")
    })?;
    TcpListener::bind(at).with_context(|| {
        format!("--page: {address} cannot be opened; expected an address of this computer and a port that no other program has")
    })
}

/// What there is to see.
fn reply(path: &str, shared: &Shared, units: Units) -> Option<Reply> {
    let state = || look(shared).clone();
    let (kind, body) = match path {
        "/" => {
            let mut html = Vec::new();
            page(&state(), units)
                .write_served(&mut html, "live.js")
                .ok()?;
            ("text/html; charset=utf-8", html)
        }
        "/live.js" => ("text/javascript; charset=utf-8", LIVE.as_bytes().to_vec()),
        "/state.json" => {
            let json = serde_json::to_vec_pretty(&state().json()).ok()?;
            ("application/json", json)
        }
        "/metrics" => (metrics::TYPE, metrics::text(&state()).into_bytes()),
        _ => return None,
    };
    Some(Reply { kind, body })
}

/// `tonight` as it is asked: by this very program, so that its words and its answer are the same.
struct Asked {
    program: PathBuf,
    folder: PathBuf,
    arguments: Vec<String>,
}

impl Asked {
    fn new(args: &Watch) -> anyhow::Result<Self> {
        let text = |path: &Path| path.display().to_string();
        let given = [
            ("--forecast", &args.forecast),
            ("--site", &args.site),
            ("--settings", &args.settings),
        ];
        let units = match args.shown.units {
            Units::Si => "si",
            Units::Us => "us",
        };
        let files = given
            .into_iter()
            .filter_map(|(name, path)| Some([name.to_owned(), text(path.as_deref()?)]));
        Ok(Self {
            program: std::env::current_exe().context("this program's own file")?,
            folder: args.folder.clone(),
            arguments: files
                .flatten()
                .chain(["--units".to_owned(), units.to_owned()])
                .collect(),
        })
    }

    fn every_hour(&self, shared: &Shared, cancel: &Cancel) {
        while !cancel.requested() {
            let file = look(shared).log.file.clone();
            let answer = file.map(|file| self.ask(&self.folder.join(file)));
            let pause = if answer.is_some() {
                ASK_EVERY
            } else {
                ASK_AGAIN
            };
            if let Some(text) = answer {
                look(shared).tonight = Some(Tonight {
                    at: ZonedDateTime::now(),
                    text,
                });
            }
            std::thread::sleep(pause);
        }
    }

    /// Its answer, or why there is none.
    fn ask(&self, log: &Path) -> String {
        let run = || -> std::io::Result<String> {
            let mut out = tempfile::tempfile()?;
            let mut child = Command::new(&self.program)
                .arg("tonight")
                .arg("--log")
                .arg(log)
                .args(&self.arguments)
                .stdin(Stdio::null())
                .stdout(out.try_clone()?)
                .stderr(out.try_clone()?)
                .spawn()?;
            let begin = Instant::now();
            while child.try_wait()?.is_none() {
                if begin.elapsed() > LONGEST {
                    child.kill()?;
                    child.wait()?;
                    return Ok("It took too long to find out.".to_owned());
                }
                std::thread::sleep(Duration::from_millis(100));
            }
            std::io::Seek::rewind(&mut out)?;
            std::io::read_to_string(out)
        };
        run().unwrap_or_else(|error| format!("It could not be asked: {error}."))
    }
}
