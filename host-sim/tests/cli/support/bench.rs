//! A unit behind a pseudo-terminal, as quick as the machine: its cable can be pulled and it can boot.

use std::io::{Read as _, Write as _};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use controller_core::restart::RestartCause;
use nix::fcntl::{FcntlArg, OFlag, fcntl};
use nix::pty::{PtyMaster, grantpt, posix_openpt, ptsname_r, unlockpt};
use nix::sys::termios::{SetArg, cfmakeraw, tcgetattr, tcsetattr};

use super::unit::Unit;

/// A pause between two turns of the unit, a quarter of a second of its time each.
const PACE: Duration = Duration::from_micros(500);

enum Order {
    Plug(PtyMaster),
    Unplug,
    Reboot,
    /// Bytes for the PC between two lines of the unit's.
    Noise(Vec<u8>),
}

/// The bench: a port on this machine with a unit behind it.
pub(crate) struct Bench {
    port: PathBuf,
    orders: Option<Sender<Order>>,
    thread: Option<JoinHandle<()>>,
    /// Keeps the terminal's settings while no program has it open.
    terminal: Option<std::fs::File>,
}

/// Both ends of a pseudo-terminal that no child inherits: master, terminal and its name.
pub(crate) fn pseudo_terminal() -> (PtyMaster, std::fs::File, PathBuf) {
    let flags = OFlag::O_RDWR | OFlag::O_NOCTTY | OFlag::O_CLOEXEC;
    let master = posix_openpt(flags).expect("a pseudo-terminal");
    grantpt(&master).expect("granted");
    unlockpt(&master).expect("unlocked");
    let name = PathBuf::from(ptsname_r(&master).expect("a name"));
    let terminal = std::fs::File::options()
        .read(true)
        .write(true)
        .open(&name)
        .expect("the other end opens");
    (master, terminal, name)
}

impl Bench {
    /// A unit that has run so long, s, plugged in at `port`.
    pub(crate) fn new(port: PathBuf, seconds: u64) -> Self {
        let (orders, received) = channel();
        let thread = std::thread::spawn(move || {
            let mut unit = Unit::new();
            unit.run(seconds);
            serve(&mut unit, &received);
        });
        let mut bench = Self {
            port,
            orders: Some(orders),
            thread: Some(thread),
            terminal: None,
        };
        bench.plug();
        bench
    }

    fn order(&self, order: Order) {
        let orders = self.orders.as_ref().expect("a bench in use");
        orders.send(order).expect("the unit runs");
    }

    pub(crate) fn plug(&mut self) {
        let (master, terminal, name) = pseudo_terminal();
        let mut raw = tcgetattr(&terminal).expect("a terminal");
        cfmakeraw(&mut raw);
        tcsetattr(&terminal, SetArg::TCSANOW, &raw).expect("a terminal");
        fcntl(&master, FcntlArg::F_SETFL(OFlag::O_NONBLOCK)).expect("never waits");
        symlink(&name, &self.port).expect("a name for the port");
        self.terminal = Some(terminal);
        self.order(Order::Plug(master));
    }

    pub(crate) fn unplug(&mut self) {
        std::fs::remove_file(&self.port).expect("the port had a name");
        self.terminal = None;
        self.order(Order::Unplug);
    }

    pub(crate) fn reboot(&self) {
        self.order(Order::Reboot);
    }

    pub(crate) fn noise(&self, bytes: &[u8]) {
        self.order(Order::Noise(bytes.to_vec()));
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            assert!(ended.is_ok() || std::thread::panicking(), "the unit failed");
        }
    }
}

/// The unit's loop, as a board runs it.
fn serve(unit: &mut Unit, orders: &Receiver<Order>) {
    let mut master: Option<PtyMaster> = None;
    let mut waiting: Vec<u8> = Vec::new();
    loop {
        match orders.try_recv() {
            Ok(Order::Plug(plugged)) => master = Some(plugged),
            Ok(Order::Unplug) => {
                master = None;
                waiting.clear();
            }
            Ok(Order::Reboot) => unit.reboot(RestartCause::PowerOn),
            Ok(Order::Noise(bytes)) => waiting.extend(bytes),
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => return,
        }
        if let Some(master) = &mut master {
            let mut heard = [0; 256];
            if let Ok(count) = master.read(&mut heard) {
                heard[..count].iter().for_each(|byte| unit.hear_byte(*byte));
            }
        }
        unit.poll();
        waiting.extend(unit.said().into_bytes());
        match &mut master {
            // A full line is written again; what nobody can hear is gone.
            Some(master) => {
                let count = master.write(&waiting).unwrap_or(0);
                waiting.drain(..count);
            }
            None => waiting.clear(),
        }
        std::thread::sleep(PACE);
    }
}

/// Waits for something, at most a minute.
#[track_caller]
pub(crate) fn wait_for(what: &str, mut holds: impl FnMut() -> bool) {
    let end = Instant::now() + Duration::from_secs(60);
    while !holds() {
        assert!(Instant::now() < end, "waited in vain for {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A file's text; nothing while it is not there.
pub(crate) fn contents(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_default()
}
