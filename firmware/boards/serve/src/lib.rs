//! Polls the application when it wants to be, and moves characters of the serial line in between.

#![no_std]
#![forbid(unsafe_code)]

use embassy_futures::select::{Either3, select3};
use embassy_time::{Instant, Timer};
use embedded_io_async::{Read, Write};
use firmware_app::{App, Board};

/// Characters moved at once.
const CHUNK: usize = 32;

/// Runs for ever.
pub async fn serve<B: Board>(app: &mut App<B>, mut tx: impl Write, mut rx: impl Read) -> ! {
    let mut waiting = [0; CHUNK];
    let mut filled = 0_usize;
    loop {
        let next = Instant::from_millis(app.poll(Instant::now().as_millis()));
        loop {
            while let Some(place) = waiting.get_mut(filled) {
                let Some(byte) = app.transmit() else { break };
                *place = byte;
                filled = filled.saturating_add(1);
            }
            let send = async {
                match waiting.get(..filled) {
                    Some(bytes) if !bytes.is_empty() => tx.write(bytes).await.unwrap_or(0),
                    _ => core::future::pending().await,
                }
            };
            let mut received = [0; CHUNK];
            match select3(Timer::at(next), rx.read(&mut received), send).await {
                Either3::First(()) => break,
                // What a faulty line garbles, the checksum finds.
                Either3::Second(count) => {
                    let bytes = received.get(..count.unwrap_or(0)).unwrap_or_default();
                    bytes.iter().for_each(|byte| app.receive(*byte));
                    // A line may have ended: answer it now.
                    if bytes.contains(&b'\n') || bytes.contains(&b'\r') {
                        break;
                    }
                }
                Either3::Third(count) => {
                    let count = count.min(filled);
                    waiting.copy_within(count..filled, 0);
                    filled = filled.saturating_sub(count);
                }
            }
        }
    }
}
