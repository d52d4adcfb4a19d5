//! QEMU, its two pipes, and the image as a controller. Needs `qemu-system-arm` and `mkfifo`.

use std::fs::{File, OpenOptions};
use std::io::{Error, Read, Result, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command as Process, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc;
use std::time::{Duration as Wait, Instant as Clock};

use controller_core::restart::Restart;
use controller_core::settings::{Field, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::{Command, Inputs, Outputs, trace};
use firmware_app::link::{self, Frame, REPLY, Reply};
use host_sim::account::event::{Recorded, parse_event};
use host_sim::sim::stepper::{Stepped, Stepper, Taken};

/// The machine the image is built for.
const MACHINE: &str = "lm3s6965evb";
/// How long the image may take to open its pipes.
const STARTS_WITHIN: Wait = Wait::from_secs(60);
/// How often the emulator is looked at meanwhile.
const LOOK_EVERY: Wait = Wait::from_millis(100);

/// A running emulator.
#[derive(Debug)]
pub struct Emulator {
    process: Child,
    folder: PathBuf,
    to: File,
    from: File,
}

impl Emulator {
    /// Starts an image; `extra` are further arguments of the emulator.
    ///
    /// # Errors
    /// No emulator, no image, or it ends at once.
    pub fn start(image: &Path, extra: &[String]) -> Result<Self> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let image = std::fs::canonicalize(image)
            .map_err(|error| Error::other(format!("{}: {error}", image.display())))?;
        let n = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = std::env::temp_dir().join(format!("emulated-{}-{n}", std::process::id()));
        std::fs::create_dir_all(&folder)?;
        for name in ["sim.in", "sim.out"] {
            if !Process::new("mkfifo")
                .arg(folder.join(name))
                .status()?
                .success()
            {
                return Err(Error::other("mkfifo failed"));
            }
        }
        let words = folder.join("words");
        let mut process = Process::new("qemu-system-arm")
            .args(["-M", MACHINE, "-display", "none", "-monitor", "none"])
            .args([
                "-serial",
                "none",
                "-semihosting-config",
                "enable=on,target=native",
            ])
            .arg("-kernel")
            .arg(&image)
            .args(extra)
            .current_dir(&folder)
            .stdin(Stdio::null())
            .stderr(File::create(&words)?)
            .spawn()
            .map_err(|error| Error::other(format!("qemu-system-arm: {error}")))?;
        let opened = pipes(&folder, &mut process).map_err(|error| {
            let _ = process.kill();
            let _ = process.wait();
            let words = std::fs::read_to_string(&words).unwrap_or_default();
            let _ = std::fs::remove_dir_all(&folder);
            Error::other(format!("{error}; the emulator says: {}", words.trim()))
        });
        let (to, from) = opened?;
        Ok(Self {
            process,
            folder,
            to,
            from,
        })
    }

    fn ask<const N: usize>(&mut self, frame: &Frame) -> Result<[u8; N]> {
        self.to.write_all(&link::to_bytes(frame))?;
        let mut reply = [0; N];
        self.from.read_exact(&mut reply)?;
        Ok(reply)
    }

    /// Ends the image, which lets a plugin write its counts.
    ///
    /// # Errors
    /// It does not answer.
    pub fn end(mut self) -> Result<u32> {
        let stack = u32::from_le_bytes(self.ask::<4>(&Frame::End)?);
        self.process.wait()?;
        Ok(stack)
    }
}

/// Opens both pipes. Opening waits for the image; it may never come, so another thread waits.
fn pipes(folder: &Path, process: &mut Child) -> Result<(File, File)> {
    let (sender, opened) = mpsc::channel();
    let (to, from) = (folder.join("sim.in"), folder.join("sim.out"));
    std::thread::spawn(move || {
        let open = || Ok((OpenOptions::new().write(true).open(to)?, File::open(from)?));
        let _ = sender.send(open());
    });
    let start = Clock::now();
    while start.elapsed() < STARTS_WITHIN {
        if let Ok(pair) = opened.recv_timeout(LOOK_EVERY) {
            return pair;
        }
        if let Some(status) = process.try_wait()? {
            return Err(Error::other(format!("it ended ({status})")));
        }
    }
    Err(Error::other(
        "the image does not open its pipes: is it the emulated board's?",
    ))
}

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// The image as a controller.
///
/// # Panics
/// Every call, if the image answers no more or refuses what it must take.
#[derive(Debug)]
pub struct Remote {
    emulator: Emulator,
    settings: Settings,
    next: Instant,
    /// Place of the event in a row.
    event: usize,
}

/// What the image said of a step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RemoteReport {
    reply: Reply,
    event: Recorded,
    row: String,
}

impl Remote {
    /// Takes over a running image.
    ///
    /// # Panics
    /// Never: every trace has events.
    #[must_use]
    pub fn new(emulator: Emulator) -> Self {
        let event = trace::HEADER.split(',').position(|name| name == "event");
        Self {
            event: event.expect("the trace has an event column"),
            emulator,
            settings: Settings::default(),
            next: Instant::from_millis(0),
        }
    }

    /// Ends the image; gives the stack it used at most, in bytes.
    ///
    /// # Errors
    /// It does not answer.
    pub fn end(self) -> Result<u32> {
        self.emulator.end()
    }

    fn ask<const N: usize>(&mut self, frame: &Frame) -> [u8; N] {
        let answer = self.emulator.ask(frame);
        answer.unwrap_or_else(|error| panic!("the image does not answer {frame:?}: {error}"))
    }

    fn send(&mut self, settings: &RawSettings) {
        for (field, place) in Field::all().iter().zip(0_u8..) {
            let bits = settings.bits(field.key);
            let answer = self.ask::<1>(&Frame::Setting { place, bits });
            assert_eq!(answer, [1], "the image refuses {}", field.name);
        }
    }
}

impl Stepper for Remote {
    type Report = RemoteReport;

    fn begin(&mut self, origin: Instant) {
        let answer = self.ask::<1>(&Frame::Origin(origin));
        assert_eq!(answer, [1], "the image refuses an origin");
    }

    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart) {
        self.send(settings.raw());
        let answer = self.ask::<1>(&Frame::Boot(now, restart));
        assert_eq!(answer, [1], "the image refuses the settings");
        self.settings = settings.clone();
        self.next = now;
    }

    fn next(&self) -> Instant {
        self.next
    }

    fn settings(&self) -> &Settings {
        &self.settings
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<RemoteReport> {
        if let Some(given) = inputs.settings {
            self.send(given.raw());
        }
        let frame = Frame::Step {
            now,
            samples: inputs.samples,
            feedback: inputs.pump_feedback,
            command: inputs.command,
            settings: inputs.settings.is_some(),
        };
        let reply = Reply::from_bytes(self.ask::<REPLY>(&frame));
        if reply.row == 0 {
            return None;
        }
        let mut row = vec![0; usize::from(reply.row)];
        let read = self.emulator.from.read_exact(&mut row);
        read.unwrap_or_else(|error| panic!("the image's row is cut short: {error}"));
        let row = String::from_utf8(row).unwrap_or_else(|error| panic!("the image's row: {error}"));
        let event = row.split(',').nth(self.event).unwrap_or_default();
        let event = parse_event(event).unwrap_or_else(|expected| {
            panic!("the image's event: found \"{event}\"; expected {expected}")
        });
        self.next = reply.next;
        match (&event, inputs.settings) {
            (Recorded::Settings(_), Some(given)) => self.settings = given.clone(),
            (Recorded::Command(Command::Mode(mode)), _) => {
                let mut raw = *self.settings.raw();
                raw.mode = *mode;
                self.settings = Settings::check(raw).unwrap_or_else(|_| self.settings.clone());
            }
            _ => {}
        }
        Some(RemoteReport { reply, event, row })
    }
}

impl Stepped for RemoteReport {
    fn outputs(&self) -> Outputs {
        self.reply.outputs
    }

    fn next(&self) -> Instant {
        self.reply.next
    }

    fn taken(&self) -> Taken {
        match self.event {
            Recorded::Command(_) => Taken::Command,
            Recorded::Settings(_) => Taken::Settings,
            Recorded::Nothing | Recorded::Boot(_) | Recorded::Stalled => Taken::Nothing,
        }
    }

    fn boiler_off_for(&self) -> Duration {
        self.reply.boiler_off_for
    }

    fn starts_last_hour(&self) -> u8 {
        self.reply.starts_last_hour
    }

    /// The image's own row: it knows origin and note itself.
    fn write_row(&self, _: Instant, _: &str, out: &mut String) {
        out.push_str(&self.row);
    }
}
