//! Polls the application when it wants to be, and moves characters of its ports in between.

#![no_std]
#![forbid(unsafe_code)]

use core::convert::Infallible;
use core::future::pending;

use embassy_futures::select::{Either5, select5};
use embassy_time::{Instant, Timer};
use embedded_io_async::{ErrorType, Read, Write};
use firmware_app::second::SecondPort;
use firmware_app::{App, Board};

/// Characters moved at once on the serial line.
const CHUNK: usize = 32;
/// Characters of one packet to the second port: a USB packet that is not full ends what the PC waits for.
const PACKET: usize = 63;
/// Room for any packet from the second port.
const RECEIVED: usize = 64;

/// A port that a PC opens and leaves.
pub trait Visited {
    /// Has a PC opened it, and is the PC awake?
    fn is_open(&self) -> bool;
}

/// For boards with one port only.
pub struct NoPort;

impl ErrorType for NoPort {
    type Error = Infallible;
}
impl Read for NoPort {
    async fn read(&mut self, _: &mut [u8]) -> Result<usize, Infallible> {
        pending().await
    }
}
impl Write for NoPort {
    async fn write(&mut self, _: &[u8]) -> Result<usize, Infallible> {
        pending().await
    }
    async fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}
impl Visited for NoPort {
    fn is_open(&self) -> bool {
        false
    }
}

/// Characters on their way out of one port.
struct Waiting<const SIZE: usize> {
    bytes: [u8; SIZE],
    filled: usize,
}

impl<const SIZE: usize> Waiting<SIZE> {
    const fn new() -> Self {
        Self {
            bytes: [0; SIZE],
            filled: 0,
        }
    }

    fn fill(&mut self, mut next: impl FnMut() -> Option<u8>) {
        while let Some(place) = self.bytes.get_mut(self.filled) {
            let Some(byte) = next() else { break };
            *place = byte;
            self.filled = self.filled.saturating_add(1);
        }
    }

    /// Waits for ever with nothing to send.
    async fn send(&self, port: &mut impl Write) -> usize {
        match self.bytes.get(..self.filled) {
            Some(bytes) if !bytes.is_empty() => port.write(bytes).await.unwrap_or(0),
            _ => pending().await,
        }
    }

    fn sent(&mut self, count: usize) {
        let count = count.min(self.filled);
        self.bytes.copy_within(count..self.filled, 0);
        self.filled = self.filled.saturating_sub(count);
    }
}

/// Runs for ever. `visited` carries a copy of what the serial line says; nobody waits for it.
pub async fn serve<B: Board>(
    app: &mut App<B>,
    mut line: (impl Write, impl Read),
    mut visited: (impl Write, impl Read + Visited),
) -> ! {
    let mut on_line = Waiting::<CHUNK>::new();
    let mut second = SecondPort::default();
    let mut on_second = Waiting::<PACKET>::new();
    loop {
        let next = Instant::from_millis(app.poll(Instant::now().as_millis()));
        loop {
            let open = visited.1.is_open();
            second.set_open(open);
            on_line.fill(|| app.transmit().inspect(|byte| second.copy(*byte)));
            app.set_lost_there(second.lost());
            if open {
                on_second.fill(|| second.pop());
            } else {
                on_second.filled = 0;
            }
            let mut from_line = [0; CHUNK];
            let mut from_second = [0; RECEIVED];
            // What a faulty line garbles, the checksum finds.
            let ended = match select5(
                Timer::at(next),
                line.1.read(&mut from_line),
                on_line.send(&mut line.0),
                visited.1.read(&mut from_second),
                on_second.send(&mut visited.0),
            )
            .await
            {
                Either5::First(()) => break,
                Either5::Second(count) => take(&from_line, count, |byte| app.receive(byte)),
                Either5::Third(count) => {
                    on_line.sent(count);
                    false
                }
                Either5::Fourth(count) => take(&from_second, count, |byte| {
                    if let Some(line) = second.push(byte) {
                        app.receive_line(line);
                    }
                }),
                Either5::Fifth(count) => {
                    on_second.sent(count);
                    false
                }
            };
            // Answer a line that may have ended now.
            if ended {
                break;
            }
        }
    }
}

/// Hands over what came; did it end a line?
fn take<E>(bytes: &[u8], count: Result<usize, E>, to: impl FnMut(u8)) -> bool {
    let bytes = bytes.get(..count.unwrap_or(0)).unwrap_or_default();
    bytes.iter().copied().for_each(to);
    bytes.contains(&b'\n') || bytes.contains(&b'\r')
}
