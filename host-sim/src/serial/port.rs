//! The port: something that can be opened, go away, and come back; and the time it keeps.

use std::io::{self, Read, Write};
use std::time::{Duration, Instant};

use jiff::ZonedDateTime;

/// Baud rate of every board.
pub const BAUD: u32 = 115_200;
/// A read waits at most so long, so that Ctrl-C is heard.
const PATIENCE: Duration = Duration::from_millis(100);

/// An open connection. A read that times out is no error of the connection.
pub trait Line: Read + Write {}
impl<T: Read + Write> Line for T {}

/// Where a unit may be found, with the clock that waiting for it goes by.
pub trait Port {
    /// Its name, for messages.
    fn name(&self) -> &str;

    /// Opens it.
    ///
    /// # Errors
    /// There is no such port, somebody else has it, or it is none.
    fn open(&mut self) -> io::Result<Box<dyn Line>>;

    /// Time since some start.
    fn now(&self) -> Duration;

    /// Lets time pass.
    fn wait(&mut self, time: Duration);

    /// Date and time on this machine's clock.
    fn wall(&self) -> ZonedDateTime {
        ZonedDateTime::now()
    }
}

/// A serial port of this machine.
#[derive(Debug)]
pub struct SerialPort {
    name: String,
    start: Instant,
}

impl SerialPort {
    /// The port of this name, such as `/dev/ttyUSB0` or `COM3`.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            start: Instant::now(),
        }
    }
}

impl Port for SerialPort {
    fn name(&self) -> &str {
        &self.name
    }

    fn open(&mut self) -> io::Result<Box<dyn Line>> {
        let port = serialport::new(&self.name, BAUD)
            .timeout(PATIENCE)
            .open_native()?;
        Ok(Box::new(port))
    }

    fn now(&self) -> Duration {
        self.start.elapsed()
    }

    fn wait(&mut self, time: Duration) {
        std::thread::sleep(time);
    }
}

/// Ports of this machine, for a message.
#[must_use]
pub fn present() -> Vec<String> {
    let ports = serialport::available_ports().unwrap_or_default();
    ports.into_iter().map(|port| port.port_name).collect()
}

/// Did nothing come, or is the connection gone?
pub(super) fn is_only_slow(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted
    )
}

/// Sends what may be lost: it is asked again, or its answer is not needed.
pub(super) fn say(line: &mut dyn Line, text: &str) {
    let _ = line.write_all(text.as_bytes()).and_then(|()| line.flush());
}

/// Reads what has come, waiting a little; nothing if nothing came.
///
/// # Errors
/// The connection is gone.
pub(super) fn read_some<'a>(line: &mut dyn Line, buffer: &'a mut [u8]) -> io::Result<&'a [u8]> {
    match line.read(buffer) {
        Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
        Ok(count) => Ok(&buffer[..count]),
        Err(error) if is_only_slow(&error) => Ok(&[]),
        Err(error) => Err(error),
    }
}
