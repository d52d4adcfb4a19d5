//! Runs the emulated image beside the controller itself and compares every trace row byte for byte.
//!
//! `cargo run --release -p firmware-app --example emulated -- IMAGE [STEPS] [QEMU ARGUMENT …]`
//!
//! Temperatures wander through a winter with failing reads and a person's words in between; the
//! sequence is the same in every run. Needs `qemu-system-arm` and `mkfifo`. Exit code 1 if a row differs.

use std::error::Error;
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command as Process, ExitCode, Stdio};
use std::time::Instant as Clock;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::{Mode, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Controller, Inputs, Switch};
use firmware_app::link::{self, Frame};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some((image, rest)) = arguments.split_first() else {
        eprintln!("usage: emulated IMAGE [STEPS] [QEMU ARGUMENT …]");
        return ExitCode::from(2);
    };
    let steps = rest.first().map_or(Ok(20_000), |n| n.parse());
    match steps
        .map_err(Into::into)
        .and_then(|n| run(image, n, rest.get(1..).unwrap_or_default()))
    {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("emulated: {error}");
            ExitCode::from(2)
        }
    }
}

/// A running emulator and its two pipes.
struct Emulator {
    process: Child,
    folder: PathBuf,
    to: File,
    from: File,
}

impl Emulator {
    fn start(image: &str, extra: &[String]) -> Result<Self, Box<dyn Error>> {
        let image = std::fs::canonicalize(image)?;
        let folder = std::env::temp_dir().join(format!("emulated-{}", std::process::id()));
        std::fs::create_dir_all(&folder)?;
        for name in ["sim.in", "sim.out"] {
            let made = Process::new("mkfifo").arg(folder.join(name)).status()?;
            if !made.success() {
                return Err("mkfifo failed".into());
            }
        }
        let process = Process::new("qemu-system-arm")
            .args([
                "-M",
                "lm3s6965evb",
                "-display",
                "none",
                "-monitor",
                "none",
                "-serial",
                "none",
            ])
            .args(["-semihosting-config", "enable=on,target=native", "-kernel"])
            .arg(&image)
            .args(extra)
            .current_dir(&folder)
            .stdin(Stdio::null())
            .spawn()?;
        let to = OpenOptions::new().write(true).open(folder.join("sim.in"))?;
        let from = File::open(folder.join("sim.out"))?;
        Ok(Self {
            process,
            folder,
            to,
            from,
        })
    }

    fn ask<const N: usize>(&mut self, frame: &Frame) -> Result<[u8; N], Box<dyn Error>> {
        self.to.write_all(&link::to_bytes(frame))?;
        let mut reply = [0; N];
        self.from.read_exact(&mut reply)?;
        Ok(reply)
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
        let _ = std::fs::remove_dir_all(Path::new(&self.folder));
    }
}

/// A winter that is the same in every run.
struct Winter {
    seed: u64,
    celsius: [f64; 4],
}

impl Winter {
    fn random(&mut self) -> f64 {
        self.seed ^= self.seed << 13;
        self.seed ^= self.seed >> 7;
        self.seed ^= self.seed << 17;
        (self.seed >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn samples(&mut self, n: u32) -> BySensor<Sample> {
        let rest = [7.0, 6.0, 3.0, -8.0];
        let drift = [0.3, 0.3, 0.02, 0.2];
        BySensor::from_fn(|sensor| {
            let i = sensor as usize;
            self.celsius[i] +=
                (self.random() - 0.5) * drift[i] + (rest[i] - self.celsius[i]) * 0.002;
            match (self.random() * 4_000.0) as u32 {
                0 => Sample::Failed(ReadFault::Checksum),
                1 => Sample::Failed(ReadFault::PowerOn),
                // Now and then a chip is gone for an hour.
                _ if (n / 360) % 97 == 3 + i as u32 => Sample::Failed(ReadFault::Absent),
                _ => Sample::Framed(Celsius::from_128ths((self.celsius[i] * 16.0) as i16 * 8)),
            }
        })
    }

    fn command(&mut self) -> Option<Command> {
        match (self.random() * 20_000.0) as u32 {
            0 => Some(Command::Acknowledge),
            1 => Some(Command::Pump(Switch::On)),
            2 => Some(Command::Boiler(Switch::On)),
            3 => Some(Command::Mode(Mode::Summer)),
            4..=6 => Some(Command::Mode(Mode::Winter)),
            _ => None,
        }
    }
}

fn run(image: &str, steps: u32, extra: &[String]) -> Result<bool, Box<dyn Error>> {
    let mut emulator = Emulator::start(image, extra)?;
    let mut now = Instant::from_millis(0);
    let mut controller = Controller::boot(Settings::default(), now, Restart::ORDINARY);
    if emulator.ask::<1>(&Frame::Boot(now, Restart::ORDINARY))? != [1] {
        return Err("the image refuses to boot".into());
    }
    let mut winter = Winter {
        seed: 7,
        celsius: [7.0, 6.0, 3.0, -8.0],
    };
    let (mut differing, mut circulator_on, mut boiler_on) = (0, 0, 0);
    let (mut row, mut expected) = (Vec::new(), String::new());
    let start = Clock::now();
    for n in 0..steps {
        // Now and then the caller is a little late.
        now = controller.next() + Duration::from_millis(if n % 50 == 0 { 1_234 } else { 0 });
        let samples = winter.samples(n);
        let command = winter.command();
        let inputs = Inputs {
            samples,
            pump_feedback: None,
            command,
            settings: None,
        };
        let report = controller.step(now, &inputs).ok_or("the step was wanted")?;
        let frame = Frame::Step {
            now,
            samples,
            feedback: None,
            command,
        };
        let [low, high, next @ .., outputs] = emulator.ask::<11>(&frame)?;
        row.resize(usize::from(u16::from_le_bytes([low, high])), 0);
        emulator.from.read_exact(&mut row)?;
        expected.clear();
        report
            .row
            .write_csv(Instant::from_millis(0), "", &mut expected)?;
        let o = report.outputs;
        let bits = u8::from(o.circulator) | u8::from(o.boiler_call) << 1 | u8::from(o.alarm) << 2;
        let same = row == expected.as_bytes()
            && u64::from_le_bytes(next) == report.next.as_millis()
            && outputs == bits;
        circulator_on += u32::from(o.circulator);
        boiler_on += u32::from(o.boiler_call);
        if !same {
            differing += 1;
            if differing <= 3 {
                println!(
                    "step {n} differs\n  host   {expected}\n  target {}",
                    String::from_utf8_lossy(&row)
                );
            }
        }
    }
    let rate = f64::from(steps) / start.elapsed().as_secs_f64();
    let stack = u32::from_le_bytes(emulator.ask::<4>(&Frame::End)?);
    // Lets a plugin write its counts.
    let _ = emulator.process.wait();
    println!(
        "{steps} steps, {differing} rows differ, circulator on in {circulator_on}, boiler called in {boiler_on}, \
         {rate:.0} steps a second, stack at most {stack} bytes"
    );
    Ok(differing == 0 && steps > 0)
}
