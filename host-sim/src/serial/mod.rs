//! The serial line to a unit, from the PC's side: listen to its rows, read its log, send it settings.
//!
//! What a line looks like is in a crate that the firmware stands on too (`serial_line`), so that both ends cannot
//! disagree. Nothing here trusts a line without its checksum. [`port`] opens, [`frame`] takes lines
//! apart, [`conversation`] asks and waits; above them stand [`listen`] with [`capture`] (what a line
//! means), [`row`] (what a row says) and [`log_file`] (the file that grows), [`history`], [`identify`], and [`settings`] with [`difference`].

pub mod capture;
pub mod conversation;
pub mod difference;
pub mod frame;
pub mod history;
pub mod identify;
pub mod listen;
pub mod log_file;
pub mod port;
pub mod row;
pub mod settings;

#[cfg(test)]
mod tests;
