//! Each message is published to an MQTT broker (the OASIS standard, version 3.1.1).
//!
//! Messages go to `TOPIC/message` and count as delivered when the broker has acknowledged them (quality of service 1). `TOPIC/online`
//! is kept at 1 while this program is connected; the broker itself puts it to 0 when it is not any more.

use std::time::{Duration, Instant};

use rumqttc::{Client, Connection, Event, LastWill, MqttOptions, Outgoing, Packet, QoS};
use serial_line::line::checksum;

use super::{Deliver, Parcel};

/// A broker that takes longer counts as failed.
const LONGEST: Duration = Duration::from_secs(20);
/// The broker knows after half as long again that this program is gone.
const KEEP_ALIVE: Duration = Duration::from_secs(30);
/// A pause between two tries to connect while there is nothing to deliver.
const RETRY: Duration = Duration::from_secs(60);
/// How long one turn without a message waits for the broker.
const TURN: Duration = Duration::from_millis(20);

/// A broker.
#[derive(Debug)]
pub struct Mqtt {
    /// Its host and port.
    pub broker: (String, u16),
    /// Messages go below this topic.
    pub topic: String,
    /// Name and password.
    pub user: Option<(String, String)>,
    line: Option<Line>,
    tried: Option<Instant>,
}

struct Line {
    client: Client,
    connection: Connection,
}

impl std::fmt::Debug for Line {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Line")
    }
}

impl Mqtt {
    /// Not connected yet.
    #[must_use]
    pub const fn new(broker: (String, u16), topic: String, user: Option<(String, String)>) -> Self {
        Self {
            broker,
            topic,
            user,
            line: None,
            tried: None,
        }
    }

    fn connect(&mut self) -> Result<(), String> {
        self.tried = Some(Instant::now());
        let online = format!("{}/online", self.topic);
        // Two clients of one name would throw each other out. A broker must take 23 letters and digits (MQTT 3.1.1, 3.1.3.1).
        let topic = checksum(self.topic.as_bytes());
        let id = format!("hostsim{}x{topic:04x}", std::process::id());
        let mut options = MqttOptions::new(id, &self.broker.0, self.broker.1);
        options.set_keep_alive(KEEP_ALIVE);
        options.set_last_will(LastWill::new(&online, "0", QoS::AtLeastOnce, true));
        if let Some((name, password)) = &self.user {
            options.set_credentials(name, password);
        }
        let (client, connection) = Client::new(options, 16);
        let mut line = Line { client, connection };
        line.until(|event| matches!(event, Event::Incoming(Packet::ConnAck(_))))?;
        line.publish(&online, true, "1")?;
        self.line = Some(line);
        Ok(())
    }

    fn named(&self, why: &str) -> String {
        format!("{}:{}: {why}", self.broker.0, self.broker.1)
    }
}

impl Line {
    /// Waits for something to happen.
    fn until(&mut self, is_it: impl FnMut(&Event) -> bool) -> Result<(), String> {
        self.until_at_most(LONGEST, is_it)
    }

    fn until_at_most(
        &mut self,
        longest: Duration,
        mut is_it: impl FnMut(&Event) -> bool,
    ) -> Result<(), String> {
        let end = Instant::now() + longest;
        loop {
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Err(format!("no answer within {} s", longest.as_secs()));
            }
            match self.connection.recv_timeout(left) {
                Ok(Ok(event)) if is_it(&event) => return Ok(()),
                Ok(Ok(_)) => {}
                Ok(Err(error)) => return Err(error.to_string()),
                Err(_) => {}
            }
        }
    }

    /// Publishes and waits for the broker's acknowledgement.
    fn publish(&mut self, topic: &str, retain: bool, text: &str) -> Result<(), String> {
        self.client
            .try_publish(topic, QoS::AtLeastOnce, retain, text)
            .map_err(|error| error.to_string())?;
        let mut number = None;
        self.until(|event| match event {
            Event::Outgoing(Outgoing::Publish(pkid)) => {
                number = Some(*pkid);
                false
            }
            Event::Incoming(Packet::PubAck(acknowledged)) => number == Some(acknowledged.pkid),
            _ => false,
        })
    }
}

impl Deliver for Mqtt {
    fn deliver(&mut self, parcel: &Parcel) -> Result<(), String> {
        let json = serde_json::to_string(parcel).map_err(|error| error.to_string())?;
        let topic = format!("{}/message", self.topic);
        if self.line.is_none() {
            self.connect().map_err(|why| self.named(&why))?;
        }
        let published = match &mut self.line {
            Some(line) => line.publish(&topic, false, &json),
            None => Err("not connected".to_owned()),
        };
        published.map_err(|why| {
            // What is under way on it is forgotten with it, so that nothing is sent twice.
            self.line = None;
            self.named(&why)
        })
    }

    fn idle(&mut self) {
        let is_time = self.tried.is_none_or(|at| at.elapsed() >= RETRY);
        match &mut self.line {
            Some(line) => {
                // Nothing is waited for: the connection is kept alive.
                if let Ok(Err(_)) = line.connection.recv_timeout(TURN) {
                    self.line = None;
                }
            }
            None if is_time => {
                // Told when a message fails; until then it is only tried.
                let _ = self.connect();
            }
            None => {}
        }
    }
}

impl Drop for Mqtt {
    fn drop(&mut self) {
        let online = format!("{}/online", self.topic);
        if let Some(line) = &mut self.line {
            // The broker's will says the same if this does not get through.
            let _ = line.publish(&online, true, "0");
            let _ = line.client.disconnect();
            let _ = line.until_at_most(Duration::from_secs(1), |event| {
                matches!(event, Event::Outgoing(Outgoing::Disconnect))
            });
        }
    }
}
