//! An HTTP POST is made for each message.

use std::time::Duration;

use ureq::Agent;

use super::{Deliver, Parcel};

/// A server that takes longer counts as failed.
const LONGEST: Duration = Duration::from_secs(20);

/// What is posted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Body {
    /// The message as a JSON object.
    #[default]
    Json,
    /// Its sentences alone.
    Text,
}

/// An address. Certificates are checked against the usual public authorities.
#[derive(Debug)]
pub struct Post {
    url: String,
    headers: Vec<(String, String)>,
    body: Body,
    agent: Agent,
}

impl Post {
    /// Messages to this address, with these headers.
    #[must_use]
    pub fn new(url: String, headers: Vec<(String, String)>, body: Body) -> Self {
        let config = Agent::config_builder()
            .timeout_global(Some(LONGEST))
            .max_redirects(0)
            .user_agent(concat!("host-sim/", env!("CARGO_PKG_VERSION")))
            .build();
        Self {
            url,
            headers,
            body,
            agent: config.into(),
        }
    }
}

impl Deliver for Post {
    fn deliver(&mut self, parcel: &Parcel) -> Result<(), String> {
        let (kind, body) = match self.body {
            Body::Json => (
                "application/json",
                serde_json::to_string(parcel).map_err(|error| error.to_string())?,
            ),
            Body::Text => ("text/plain; charset=utf-8", parcel.sentences()),
        };
        let mut request = self
            .agent
            .post(&self.url)
            .header("Content-Type", kind)
            .header("Idempotency-Key", parcel.id.to_string());
        for (name, value) in &self.headers {
            request = request.header(name, value);
        }
        let answer = request
            .send(&body)
            .map_err(|error| format!("{}: {error}", self.url))?;
        match answer.status().as_u16() {
            200..=299 => Ok(()),
            other => Err(format!("{}: answered with status {other}", self.url)),
        }
    }
}
