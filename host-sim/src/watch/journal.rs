//! What was told and who has it, on disk: a line each, so that a message outlives this computer's power and is sent once.
//!
//! JSON lines that only grow. What cannot be written stays in memory and is tried again with the next entry.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fs::{File, TryLockError};
use std::io::{self, BufRead as _, BufReader, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::message::Message;

/// Messages kept for the page and to go on from.
const KEPT: usize = 1_000;
/// Beyond this many bytes the file is written anew with what is kept.
const MOST_BYTES: u64 = 4 << 20;

/// A line of the file.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Entry {
    /// Something was told.
    Message(Message),
    /// A hook takes messages from this number on.
    Hook { name: String, from: u64 },
    /// A hook has delivered these.
    Sent { name: String, ids: Vec<u64> },
}

/// What a hook has and what it still has to deliver.
#[derive(Clone, Debug, Default)]
struct Post {
    from: u64,
    sent: BTreeSet<u64>,
}

/// The journal.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    file: File,
    /// Bytes up to the end of the last whole line.
    whole: u64,
    /// Lines that could not be written yet.
    unwritten: VecDeque<String>,
    messages: VecDeque<Message>,
    posts: BTreeMap<String, Post>,
}

impl Journal {
    /// Opens a journal to go on with, or begins one; a half line at its end is cut off.
    ///
    /// # Errors
    /// The file cannot be read or written, is no journal, or another program keeps it.
    pub fn open(path: &Path) -> io::Result<Self> {
        let file = File::options()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)?;
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            return Err(io::Error::other(
                "found another program that watches with this folder; expected a folder of its own",
            ));
        }
        let mut journal = Self {
            path: path.to_owned(),
            file,
            whole: 0,
            unwritten: VecDeque::new(),
            messages: VecDeque::new(),
            posts: BTreeMap::new(),
        };
        journal.read()?;
        Ok(journal)
    }

    fn read(&mut self) -> io::Result<()> {
        let mut reader = BufReader::new(self.file.try_clone()?);
        let mut line = Vec::new();
        for number in 1.. {
            line.clear();
            if reader.read_until(b'\n', &mut line)? == 0 || !line.ends_with(b"\n") {
                break;
            }
            let entry = serde_json::from_slice(&line).map_err(|error| {
                io::Error::other(format!(
                    "line {number}: found no message of this program ({error}); expected the file as this program wrote it; move it away to begin anew"
                ))
            })?;
            self.whole += line.len() as u64;
            self.take(entry);
        }
        self.file.set_len(self.whole)
    }

    fn take(&mut self, entry: Entry) {
        match entry {
            Entry::Message(message) => {
                self.messages.push_back(message);
                if self.messages.len() > KEPT {
                    self.messages.pop_front();
                }
            }
            Entry::Hook { name, from } => self.posts.entry(name).or_default().from = from,
            Entry::Sent { name, ids } => self.posts.entry(name).or_default().sent.extend(ids),
        }
    }

    /// What was told, oldest first.
    pub fn messages(&self) -> impl DoubleEndedIterator<Item = &Message> {
        self.messages.iter()
    }

    /// Can everything be written?
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.unwritten.is_empty()
    }

    /// A hook begins here, unless it has begun before.
    pub fn hook(&mut self, name: &str) {
        if !self.posts.contains_key(name) {
            let from = self.messages.back().map_or(1, |last| last.id + 1);
            self.add(Entry::Hook {
                name: name.to_owned(),
                from,
            });
        }
    }

    /// Something was told.
    pub fn told(&mut self, message: &Message) {
        self.add(Entry::Message(message.clone()));
    }

    /// A hook has delivered these.
    pub fn sent(&mut self, name: &str, ids: &[u64]) {
        self.add(Entry::Sent {
            name: name.to_owned(),
            ids: ids.to_vec(),
        });
    }

    /// What a hook has to deliver still, oldest first.
    #[must_use]
    pub fn waiting(&self, name: &str, now: jiff::Timestamp) -> Vec<&Message> {
        let Some(post) = self.posts.get(name) else {
            return Vec::new();
        };
        self.messages
            .iter()
            .filter(|message| message.id >= post.from && !post.sent.contains(&message.id))
            .filter(|message| !message.is_stale(now))
            .collect()
    }

    fn add(&mut self, entry: Entry) {
        // Text and numbers alone: this cannot fail.
        let line = serde_json::to_string(&entry).unwrap_or_default() + "\n";
        self.unwritten.push_back(line);
        self.take(entry);
        // Told again by `is_whole`.
        let _ = self.write();
    }

    /// Writes what could not be written before.
    ///
    /// # Errors
    /// The file system refuses still.
    pub fn write(&mut self) -> io::Result<()> {
        while let Some(line) = self.unwritten.front() {
            self.file.seek(SeekFrom::Start(self.whole))?;
            let written = self.file.write_all(line.as_bytes());
            if let Err(error) = written.and_then(|()| self.file.sync_data()) {
                // A line half on the disk is taken back as far as a full disk lets us.
                let _ = self.file.set_len(self.whole);
                return Err(error);
            }
            self.whole += line.len() as u64;
            self.unwritten.pop_front();
        }
        if self.whole > MOST_BYTES {
            self.shorten()?;
        }
        Ok(())
    }

    /// Writes the file anew with what is kept. Its lock goes over to the new file.
    fn shorten(&mut self) -> io::Result<()> {
        let oldest = self.messages.front().map_or(0, |first| first.id);
        for post in self.posts.values_mut() {
            post.sent = post.sent.split_off(&oldest);
        }
        let messages = self.messages.iter().cloned().map(Entry::Message);
        let posts = self.posts.iter().flat_map(|(name, post)| {
            let (from, ids) = (post.from, post.sent.iter().copied().collect());
            let (name, sent) = (name.clone(), name.clone());
            [Entry::Hook { name, from }, Entry::Sent { name: sent, ids }]
        });
        let folder = self.path.parent().unwrap_or(Path::new("."));
        let mut new = tempfile::NamedTempFile::new_in(folder)?;
        let mut bytes = Vec::new();
        for entry in messages.chain(posts) {
            serde_json::to_writer(&mut bytes, &entry)?;
            bytes.push(b'\n');
        }
        new.write_all(&bytes)?;
        new.as_file().sync_data()?;
        let file = new.persist(&self.path).map_err(|error| error.error)?;
        // A file system without locks is no reason to stop.
        let _ = file.try_lock();
        self.file = file;
        self.whole = bytes.len() as u64;
        Ok(())
    }
}

#[cfg(test)]
#[path = "journal_tests.rs"]
mod tests;
