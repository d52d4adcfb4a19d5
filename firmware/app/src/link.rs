//! Frames between a PC and an image that steps the controller with samples from the PC.
//!
//! Used to compare trace rows byte for byte between target and host, and to let an image drive a
//! simulated house. Every request has [`SIZE`] bytes: kind, body, checksum (that of the serial line, low
//! byte first). Numbers are little-endian.
//!
//! | kind | body                                                                              | reply |
//! |------|-----------------------------------------------------------------------------------|-------|
//! | `K`  | setting's place in the table (u8), bits (i32): for the next boot or step with settings | 1 byte: 1 taken, 0 not |
//! | `O`  | time that rows count from, ms (u64)                                                 | 1 byte: 1 |
//! | `B`  | now in ms (u64), cause, boots, flags, jitter (u8 each)                              | 1 byte: 1 with the settings sent, 0 with defaults since they break a rule |
//! | `S`  | now in ms (u64), four times status (u8) and 1/128 K (i16), feedback, command (u8)    | [`Reply`], then the row; without one if the step was not wanted |
//! | `E`  | nothing                                                                           | stack bytes used at most (u32); the image then ends |
//!
//! Feedback is 0 for none, 1 for still, 2 for running, plus 4 if the settings sent are given with the step.
//! A frame whose checksum is wrong is answered with one byte 255.

use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{BySensor, ReadFault, Sample, Sensor};
use controller_core::settings::Mode;
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Outputs, StepReport, Switch};

use serial_line::line::checksum;

/// Bytes of a request.
pub const SIZE: usize = 25;
/// Longest row an `S` is answered with: less than 700 bytes and a note.
pub const ROW: usize = 1_280;
/// Bytes of the reply to an `S` before the row.
pub const REPLY: usize = 16;
/// Answer to a frame whose checksum is wrong.
pub const BAD: u8 = 255;

/// A request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Frame {
    /// One setting for the next boot, or the next step that is given settings.
    Setting {
        /// Its place in the table of settings.
        place: u8,
        /// Its value.
        bits: i32,
    },
    /// What rows count their time from.
    Origin(Instant),
    /// A boot.
    Boot(Instant, Restart),
    /// A step.
    Step {
        /// Time of the step.
        now: Instant,
        /// Samples.
        samples: BySensor<Sample>,
        /// Circulator feedback.
        feedback: Option<bool>,
        /// A person's word.
        command: Option<Command>,
        /// The settings sent before are given with this step.
        settings: bool,
    },
    /// The end.
    End,
}

/// Flag beside the feedback.
const WITH_SETTINGS: u8 = 4;

const COMMANDS: [Command; 11] = [
    Command::Mode(Mode::Winter),
    Command::Mode(Mode::Summer),
    Command::Mode(Mode::Drained),
    Command::Mode(Mode::Commissioning),
    Command::Pump(Switch::Auto),
    Command::Pump(Switch::On),
    Command::Pump(Switch::Off),
    Command::Boiler(Switch::Auto),
    Command::Boiler(Switch::On),
    Command::Boiler(Switch::Off),
    Command::Acknowledge,
];

/// Writes a request.
#[must_use]
pub fn to_bytes(frame: &Frame) -> [u8; SIZE] {
    let mut bytes = [0; SIZE];
    let mut places = bytes.iter_mut();
    let mut put = |part: &[u8]| {
        for (byte, place) in part.iter().zip(places.by_ref()) {
            *place = *byte;
        }
    };
    match *frame {
        Frame::Setting { place, bits } => {
            put(&[b'K', place]);
            put(&bits.to_le_bytes());
        }
        Frame::Origin(origin) => {
            put(b"O");
            put(&origin.as_millis().to_le_bytes());
        }
        Frame::Boot(now, restart) => {
            put(b"B");
            put(&now.as_millis().to_le_bytes());
            let flags = u8::from(restart.post_run_owed) | u8::from(restart.settings_lost) << 1;
            put(&[
                restart.cause as u8,
                restart.boots_last_hour,
                flags,
                restart.jitter_s,
            ]);
        }
        Frame::Step {
            now,
            samples,
            feedback,
            command,
            settings,
        } => {
            put(b"S");
            put(&now.as_millis().to_le_bytes());
            for sensor in Sensor::ALL {
                let sample = *samples.get(sensor);
                let value = sample.value().map_or(0, Celsius::to_128ths);
                put(&[status(sample)]);
                put(&value.to_le_bytes());
            }
            let command = command.and_then(|c| COMMANDS.iter().position(|other| *other == c));
            let command = command
                .and_then(|n| u8::try_from(n).ok())
                .map_or(0, |n| n.saturating_add(1));
            let feedback = feedback.map_or(0, |on| if on { 2 } else { 1 });
            put(&[feedback | if settings { WITH_SETTINGS } else { 0 }, command]);
        }
        Frame::End => put(b"E"),
    }
    if let Some((body, sum)) = bytes.split_last_chunk_mut::<2>() {
        *sum = checksum(body.iter()).to_le_bytes();
    }
    bytes
}

/// Reads a request; `None` if its checksum is wrong or it means nothing.
#[must_use]
pub fn from_bytes(bytes: &[u8; SIZE]) -> Option<Frame> {
    let (body, sum) = bytes.split_last_chunk::<2>()?;
    if checksum(body) != u16::from_le_bytes(*sum) {
        return None;
    }
    let (kind, rest) = body.split_first()?;
    match kind {
        b'K' => {
            let (place, rest) = rest.split_first()?;
            Some(Frame::Setting {
                place: *place,
                bits: i32::from_le_bytes(*rest.first_chunk()?),
            })
        }
        b'O' => Some(Frame::Origin(instant(rest)?.0)),
        b'B' => {
            let (now, rest) = instant(rest)?;
            let [cause, boots, flags, jitter, ..] = *rest else {
                return None;
            };
            let restart = Restart {
                cause: *RestartCause::ALL.get(usize::from(cause))?,
                boots_last_hour: boots,
                post_run_owed: flags & 1 != 0,
                settings_lost: flags & 2 != 0,
                jitter_s: jitter,
            };
            Some(Frame::Boot(now, restart))
        }
        b'S' => {
            let (now, rest) = instant(rest)?;
            let (parts, rest) = rest.split_first_chunk::<12>()?;
            let [feedback, command, ..] = *rest else {
                return None;
            };
            let mut samples = BySensor::default();
            for (sensor, part) in Sensor::ALL.into_iter().zip(parts.chunks_exact(3)) {
                let [status, low, high] = *part else {
                    return None;
                };
                let value = Celsius::from_128ths(i16::from_le_bytes([low, high]));
                *samples.get_mut(sensor) = sample(status, value)?;
            }
            let settings = feedback & WITH_SETTINGS != 0;
            let feedback = match feedback & !WITH_SETTINGS {
                0 => None,
                1 => Some(false),
                2 => Some(true),
                _ => return None,
            };
            let command = match command.checked_sub(1) {
                None => None,
                Some(n) => Some(*COMMANDS.get(usize::from(n))?),
            };
            Some(Frame::Step {
                now,
                samples,
                feedback,
                command,
                settings,
            })
        }
        b'E' => Some(Frame::End),
        _ => None,
    }
}

/// What a step came to, as far as a closed loop has to know it; the row follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reply {
    /// Bytes of the row; 0 if the step was not wanted.
    pub row: u16,
    /// When the next step is wanted.
    pub next: Instant,
    /// Relay bits.
    pub outputs: Outputs,
    /// Circulator starts in the last hour.
    pub starts_last_hour: u8,
    /// Time since the last boiler call ended.
    pub boiler_off_for: Duration,
}

impl Reply {
    /// For a step that was not wanted.
    pub const NONE: Self = Self {
        row: 0,
        next: Instant::from_millis(0),
        outputs: Outputs {
            circulator: false,
            boiler_call: false,
            alarm: false,
        },
        starts_last_hour: 0,
        boiler_off_for: Duration::ZERO,
    };

    /// For a step whose row has so many bytes.
    #[must_use]
    pub fn new(report: &StepReport, row: usize) -> Self {
        Self {
            row: u16::try_from(row).unwrap_or(0),
            next: report.next,
            outputs: report.outputs,
            starts_last_hour: report.row.status.starts_last_hour,
            boiler_off_for: report.row.status.boiler_off_for,
        }
    }

    /// Writes it.
    #[must_use]
    pub fn to_bytes(self) -> [u8; REPLY] {
        let [low, high] = self.row.to_le_bytes();
        let [a, b, c, d, e, f, g, h] = self.next.as_millis().to_le_bytes();
        let o = self.outputs;
        let outputs =
            u8::from(o.circulator) | u8::from(o.boiler_call) << 1 | u8::from(o.alarm) << 2;
        let [w, x, y, z] = self.boiler_off_for.as_millis().to_le_bytes();
        let starts = self.starts_last_hour;
        [
            low, high, a, b, c, d, e, f, g, h, outputs, starts, w, x, y, z,
        ]
    }

    /// Reads it.
    #[must_use]
    pub fn from_bytes(bytes: [u8; REPLY]) -> Self {
        let [
            low,
            high,
            a,
            b,
            c,
            d,
            e,
            f,
            g,
            h,
            outputs,
            starts,
            w,
            x,
            y,
            z,
        ] = bytes;
        Self {
            row: u16::from_le_bytes([low, high]),
            next: Instant::from_millis(u64::from_le_bytes([a, b, c, d, e, f, g, h])),
            outputs: Outputs {
                circulator: outputs & 1 != 0,
                boiler_call: outputs & 2 != 0,
                alarm: outputs & 4 != 0,
            },
            starts_last_hour: starts,
            boiler_off_for: Duration::from_millis(u32::from_le_bytes([w, x, y, z])),
        }
    }
}

fn instant(bytes: &[u8]) -> Option<(Instant, &[u8])> {
    let (millis, rest) = bytes.split_first_chunk::<8>()?;
    Some((Instant::from_millis(u64::from_le_bytes(*millis)), rest))
}

fn status(sample: Sample) -> u8 {
    match sample {
        Sample::Value(_) => 0,
        Sample::Framed(_) => 1,
        Sample::Failed(ReadFault::Missing) => 2,
        Sample::Failed(ReadFault::Absent) => 3,
        Sample::Failed(ReadFault::Checksum) => 4,
        Sample::Failed(ReadFault::PowerOn) => 5,
        Sample::Failed(ReadFault::Short) => 6,
        Sample::Failed(ReadFault::Impossible) => 7,
    }
}

fn sample(status: u8, value: Celsius) -> Option<Sample> {
    Some(match status {
        0 => Sample::Value(value),
        1 => Sample::Framed(value),
        2 => Sample::Failed(ReadFault::Missing),
        3 => Sample::Failed(ReadFault::Absent),
        4 => Sample::Failed(ReadFault::Checksum),
        5 => Sample::Failed(ReadFault::PowerOn),
        6 => Sample::Failed(ReadFault::Short),
        7 => Sample::Failed(ReadFault::Impossible),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_sample() -> impl Strategy<Value = Sample> {
        (0_u8..8, any::<i16>()).prop_map(|(n, v)| sample(n, Celsius::from_128ths(v)).unwrap())
    }

    proptest! {
        #[test]
        fn frames_come_back(
            now in any::<u64>(), a in any_sample(), b in any_sample(), c in any_sample(),
            d in any_sample(), feedback in any::<Option<bool>>(), settings in any::<bool>(), n in 0_usize..12,
            bits in any::<i32>(), flags in any::<u8>(),
        ) {
            let now = Instant::from_millis(now);
            let samples = BySensor { supply: a, ret: b, slab: c, outdoor: d };
            let restart = Restart {
                cause: RestartCause::ALL[usize::from(flags) % RestartCause::ALL.len()],
                boots_last_hour: flags,
                post_run_owed: flags & 1 != 0,
                settings_lost: flags & 2 != 0,
                jitter_s: flags,
            };
            for frame in [
                Frame::Step { now, samples, feedback, command: COMMANDS.get(n).copied(), settings },
                Frame::Origin(now),
                Frame::Boot(now, restart),
                Frame::Setting { place: flags, bits },
                Frame::End,
            ] {
                let mut bytes = to_bytes(&frame);
                prop_assert_eq!(from_bytes(&bytes), Some(frame));
                bytes[usize::from(flags) % SIZE] ^= 1 << (flags % 8);
                prop_assert_eq!(from_bytes(&bytes), None);
            }
        }

        #[test]
        fn replies_come_back(bytes in any::<[u8; REPLY]>()) {
            let mut known = bytes;
            known[10] &= 7;
            prop_assert_eq!(Reply::from_bytes(bytes).to_bytes(), known);
        }

        #[test]
        fn any_bytes_are_read_or_refused(bytes in any::<[u8; SIZE]>()) {
            let _ = from_bytes(&bytes);
        }
    }
}
