//! The file that says who is told what, and how.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::Deserialize;

use super::{Body, Command, Deliver, Hook, Mqtt, Post};
use crate::files::input;
use crate::files::quantity::{self, Dimension, Units};
use crate::watch::conditions::Rules;
use crate::watch::message::Kind;

/// Limits of times, s, and default and limits of messages an hour. Judgement.
const SILENCE_S: [f64; 2] = [30.0, 86_400.0];
const REMIND_S: [f64; 2] = [300.0, 86_400.0];
const AN_HOUR: (usize, [usize; 2]) = (20, [1, 120]);
/// Port of a broker that names none (registered with IANA).
const BROKER_PORT: u16 = 1_883;

/// What is told where.
pub struct Hooks {
    /// The house's name in messages.
    pub house: Option<String>,
    /// When.
    pub rules: Rules,
    /// How.
    pub hooks: Vec<Hook>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    house: Option<String>,
    silence: Option<String>,
    remind: Option<String>,
    sign_of_life: Option<String>,
    #[serde(default)]
    hook: BTreeMap<String, Way>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Way {
    about: Option<Vec<Kind>>,
    most_per_hour: Option<usize>,
    command: Option<Vec<String>>,
    post: Option<String>,
    #[serde(default)]
    headers: BTreeMap<String, String>,
    token_file: Option<PathBuf>,
    body: Option<Body>,
    mqtt: Option<String>,
    topic: Option<String>,
    user: Option<String>,
    password_file: Option<PathBuf>,
}

/// Reads the file; names in it are sought from its folder.
///
/// # Errors
/// What was found, what was expected, with the file's name.
pub fn read(path: &Path, units: Units) -> Result<Hooks, String> {
    let named = |error: String| format!("{}: {error}", path.display());
    let text = input::text(path).map_err(|error| named(error.to_string()))?;
    parse(&text, path.parent().unwrap_or(Path::new("")), units).map_err(named)
}

/// Without a file: nobody is told, the page alone shows it.
#[must_use]
pub fn none(units: Units) -> Hooks {
    Hooks {
        house: None,
        rules: Rules::usual(units),
        hooks: Vec::new(),
    }
}

fn parse(text: &str, folder: &Path, units: Units) -> Result<Hooks, String> {
    let document: Document = toml::from_str(text).map_err(|error| error.to_string())?;
    let usual = Rules::usual(units);
    let sign_of_life = match document.sign_of_life {
        None => usual.sign_of_life,
        Some(text) => quantity::time_of_day(&text).ok_or_else(|| {
            format!("sign_of_life: found \"{text}\"; expected a time of day such as \"8:00\" or \"8 am\"")
        })?,
    };
    let hooks = document.hook.into_iter().map(|(name, way)| {
        hook(&name, way, folder).map_err(|error| format!("hook.{name}: {error}"))
    });
    Ok(Hooks {
        house: document.house,
        rules: Rules {
            silence: time("silence", document.silence, usual.silence, SILENCE_S)?,
            remind: time("remind", document.remind, usual.remind, REMIND_S)?,
            sign_of_life,
            units,
        },
        hooks: hooks.collect::<Result<_, _>>()?,
    })
}

fn time(
    key: &str,
    text: Option<String>,
    usual: Duration,
    [least, most]: [f64; 2],
) -> Result<Duration, String> {
    let Some(found) = text else { return Ok(usual) };
    let seconds =
        quantity::parse(&found, Dimension::Duration).map_err(|error| format!("{key}: {error}"))?;
    if !(least..=most).contains(&seconds) {
        return Err(format!(
            "{key}: found \"{found}\"; expected {least} s to {} h",
            most / 3_600.0
        ));
    }
    Ok(Duration::from_secs_f64(seconds))
}

fn hook(name: &str, way: Way, folder: &Path) -> Result<Hook, String> {
    let most_per_hour = way.most_per_hour.unwrap_or(AN_HOUR.0);
    let [least, most] = AN_HOUR.1;
    if !(least..=most).contains(&most_per_hour) {
        return Err(format!(
            "most_per_hour: found {most_per_hour}; expected {least} to {most}"
        ));
    }
    let about = match &way.about {
        // Advice can wait until somebody looks at the page.
        None => Kind::ALL
            .into_iter()
            .filter(|kind| *kind != Kind::Advice)
            .collect(),
        Some(about) if about.is_empty() => {
            return Err(
                "about: found nothing; expected what it is told, such as [\"alarm\"]".into(),
            );
        }
        Some(about) => about.clone(),
    };
    Ok(Hook {
        name: name.to_owned(),
        about,
        most_per_hour,
        way: deliver(way, folder)?,
    })
}

fn deliver(way: Way, folder: &Path) -> Result<Box<dyn Deliver>, String> {
    let is_post = way.post.is_some();
    let is_mqtt = way.mqtt.is_some();
    for (key, is_given, belongs) in [
        ("headers", !way.headers.is_empty(), is_post),
        ("token_file", way.token_file.is_some(), is_post),
        ("body", way.body.is_some(), is_post),
        ("topic", way.topic.is_some(), is_mqtt),
        ("user", way.user.is_some(), is_mqtt),
        ("password_file", way.password_file.is_some(), is_mqtt),
    ] {
        if is_given && !belongs {
            return Err(format!("{key}: found it in a hook of another kind"));
        }
    }
    match (way.command, way.post, way.mqtt) {
        (Some(command), None, None) => {
            let mut words = command.into_iter();
            let program = words
                .next()
                .filter(|program| !program.is_empty())
                .ok_or("command: found nothing; expected a program and its arguments")?;
            Ok(Box::new(Command {
                program,
                arguments: words.collect(),
            }))
        }
        (None, Some(url), None) => {
            if !url.starts_with("https://") && !url.starts_with("http://") {
                return Err(format!(
                    "post: found \"{url}\"; expected an address with https:// or http://"
                ));
            }
            let mut headers: Vec<_> = way.headers.into_iter().collect();
            if let Some(file) = &way.token_file {
                let token = secret(folder, file)?;
                headers.push(("Authorization".to_owned(), format!("Bearer {token}")));
            }
            Ok(Box::new(Post::new(
                url,
                headers,
                way.body.unwrap_or_default(),
            )))
        }
        (None, None, Some(broker)) => {
            let topic = way
                .topic
                .filter(|topic| !topic.is_empty() && !topic.contains(['+', '#', '\0']))
                .ok_or("topic: found none that messages can go to; expected one such as \"plant-house\"")?;
            let user = match (way.user, way.password_file) {
                (Some(user), Some(file)) => Some((user, secret(folder, &file)?)),
                (None, None) => None,
                _ => return Err("user, password_file: found one; expected both or neither".into()),
            };
            Ok(Box::new(Mqtt::new(broker_at(&broker)?, topic, user)))
        }
        _ => Err("found none or several of command, post and mqtt; expected one".into()),
    }
}

fn broker_at(text: &str) -> Result<(String, u16), String> {
    let wrong = || {
        format!(
            "mqtt: found \"{text}\"; expected a host with or without port, such as \"192.168.1.2:1883\""
        )
    };
    let (host, port) = match text.rsplit_once(':') {
        Some((host, port)) => (host, port.parse().map_err(|_| wrong())?),
        None => (text, BROKER_PORT),
    };
    if host.is_empty() || host.contains(['/', ' ', ':']) {
        return Err(wrong());
    }
    Ok((host.to_owned(), port))
}

/// A password or token, in a file that only the program's user should be able to read.
fn secret(folder: &Path, file: &Path) -> Result<String, String> {
    let path = folder.join(file);
    let text = input::text(&path).map_err(|error| format!("{}: {error}", path.display()))?;
    Ok(text.trim().to_owned())
}

#[cfg(test)]
#[path = "file_tests.rs"]
mod tests;
