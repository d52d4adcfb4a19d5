//! The USB port as a serial port (CDC-ACM) that carries a copy of the serial line.
//!
//! The port is visited, never waited for: whether a PC is there, asleep or reads nothing, the application's turns
//! do not depend on it.

use core::sync::atomic::{AtomicBool, Ordering};

use embassy_executor::Spawner;
use embassy_rp::Peri;
use embassy_rp::bind_interrupts;
use embassy_rp::peripherals::USB;
use embassy_rp::usb::{Driver, InterruptHandler};
use embassy_usb::class::cdc_acm::{CdcAcmClass, CdcAcmError, Receiver, Sender, State};
use embassy_usb::driver::EndpointError;
use embassy_usb::{Builder, Config, Handler, UsbDevice};
use embedded_io_async::{ErrorType, Read, Write};
use firmware_serve::Visited;
use static_cell::StaticCell;

bind_interrupts!(struct Irqs {
    USBCTRL_IRQ => InterruptHandler<USB>;
});

type Bus = Driver<'static, USB>;

/// Bytes of a packet.
const PACKET: u16 = 64;
/// Vendor and product of pid.codes for tests (from memory). A product that is sold needs a pair of its own.
const IDENTITY: (u16, u16) = (0x1209, 0x0001);
/// Power drawn from the PC, mA: the board alone.
const POWER_MA: u16 = 100;

/// The PC has suspended the bus, or its cable is out, which looks the same.
static SUSPENDED: AtomicBool = AtomicBool::new(false);

struct Bed;

impl Handler for Bed {
    fn reset(&mut self) {
        SUSPENDED.store(false, Ordering::Relaxed);
    }
    fn suspended(&mut self, suspended: bool) {
        SUSPENDED.store(suspended, Ordering::Relaxed);
    }
}

/// What the port keeps for as long as the program runs.
struct Rooms {
    state: State<'static>,
    bed: Bed,
    configuration: [u8; 96],
    bos: [u8; 16],
    control: [u8; 64],
}

/// Characters to the PC.
pub struct ToPc(Option<Sender<'static, Bus>>);
/// Characters from the PC.
pub struct FromPc(Option<Receiver<'static, Bus>>);

/// A port that stays dead.
pub const fn off() -> (ToPc, FromPc) {
    (ToPc(None), FromPc(None))
}

/// Starts the port.
pub fn start(spawner: Spawner, usb: Peri<'static, USB>) -> (ToPc, FromPc) {
    static ROOMS: StaticCell<Rooms> = StaticCell::new();
    let rooms = ROOMS.init(Rooms {
        state: State::new(),
        bed: Bed,
        configuration: [0; 96],
        bos: [0; 16],
        control: [0; 64],
    });
    let (vendor, product) = IDENTITY;
    let mut config = Config::new(vendor, product);
    config.product = Some("Slab controller");
    config.max_power = POWER_MA;
    let mut builder = Builder::new(
        Driver::new(usb, Irqs),
        config,
        &mut rooms.configuration,
        &mut rooms.bos,
        &mut [],
        &mut rooms.control,
    );
    let class = CdcAcmClass::new(&mut builder, &mut rooms.state, PACKET);
    builder.handler(&mut rooms.bed);
    let Ok(task) = run(builder.build()) else {
        return off();
    };
    spawner.spawn(task);
    let (to_pc, from_pc) = class.split();
    (ToPc(Some(to_pc)), FromPc(Some(from_pc)))
}

#[embassy_executor::task]
async fn run(mut device: UsbDevice<'static, Bus>) -> ! {
    device.run().await
}

fn error(_: EndpointError) -> CdcAcmError {
    CdcAcmError::NotConnected
}

impl ErrorType for ToPc {
    type Error = CdcAcmError;
}

impl Write for ToPc {
    async fn write(&mut self, bytes: &[u8]) -> Result<usize, CdcAcmError> {
        let Some(port) = &mut self.0 else {
            return core::future::pending().await;
        };
        port.wait_connection().await;
        port.write_packet(bytes).await.map_err(error)?;
        Ok(bytes.len())
    }
    async fn flush(&mut self) -> Result<(), CdcAcmError> {
        Ok(())
    }
}

impl ErrorType for FromPc {
    type Error = CdcAcmError;
}

impl Read for FromPc {
    async fn read(&mut self, bytes: &mut [u8]) -> Result<usize, CdcAcmError> {
        let Some(port) = &mut self.0 else {
            return core::future::pending().await;
        };
        port.wait_connection().await;
        port.read_packet(bytes).await.map_err(error)
    }
}

impl Visited for FromPc {
    fn is_open(&self) -> bool {
        let Some(port) = &self.0 else { return false };
        port.dtr() && !SUSPENDED.load(Ordering::Relaxed)
    }
}
