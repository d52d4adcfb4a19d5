//! The serial line to a unit, from the PC's side: listen to its rows, read its log, send it settings.
//!
//! What a line looks like is in a crate that the firmware stands on too (`serial_line`), so that both ends cannot
//! disagree. Nothing here trusts a line without its checksum. [`frame`] takes lines apart, [`capture`] knows what they mean for a
//! log, [`row`] what a row says, [`session`] what is asked and kept on a connection; these stand without a port, in a browser
//! too, with [`log_text`]. [`port`] opens, [`conversation`] asks and waits; above them stand [`listen`] with [`log_file`] (the
//! file that grows), [`history`], [`identify`], and [`settings`] with [`difference`].

pub mod capture;
#[cfg(feature = "pc")]
pub mod conversation;
#[cfg(feature = "pc")]
pub mod difference;
pub mod frame;
#[cfg(feature = "pc")]
pub mod history;
#[cfg(feature = "pc")]
pub mod identify;
#[cfg(feature = "pc")]
pub mod listen;
pub mod log_file;
pub mod log_text;
#[cfg(feature = "pc")]
pub mod port;
pub mod row;
pub mod session;
#[cfg(feature = "pc")]
pub mod settings;

#[cfg(all(test, feature = "pc"))]
mod tests;
