//! A PC that comes to the second port, reads or not, asks, sends noise and goes, at random.

use super::*;
use crate::fakes::Random;
use crate::second::SecondPort;

/// What a port that sends packets takes at once.
const PACKET: usize = 63;

/// A unit in a house whose readings change every half hour, some seconds after a row.
struct House {
    bench: Bench,
    due: u64,
    change: u64,
    weather: Random,
    rows: Vec<String>,
    /// Of the watchdog's feeds: the last, and the longest time between two.
    fed: (u64, u64),
}

impl House {
    fn new() -> Self {
        Self {
            bench: Bench::named(),
            due: 0,
            change: 0,
            weather: Random(7),
            rows: vec![],
            fed: (0, 0),
        }
    }

    /// A turn now or later; gives the characters that leave on the serial line.
    fn turn(&mut self, at: u64) -> String {
        let Self { bench, weather, .. } = self;
        if at >= self.change {
            self.change += 1_800_000 + if self.change == 0 { 5_000 } else { 0 };
            for n in 0..SIXTEENTHS.len() {
                let sixteenths = i16::try_from(weather.below(400)).unwrap() - 100;
                bench.wire.chip(n, |chip| chip.sixteenths = sixteenths);
            }
        }
        bench.wire.wait_ms(at - bench.uptime);
        bench.uptime = at;
        let feeds = bench.fed.get();
        self.due = bench.app.poll(at);
        if bench.fed.get() > feeds {
            let (last, longest) = self.fed;
            // The first comes with the first decision.
            let since = if last > 0 { at - last } else { 0 };
            self.fed = (at, longest.max(since));
        }
        let said: String = core::iter::from_fn(|| bench.app.transmit())
            .map(char::from)
            .collect();
        let body = |line: &str| line.rsplit_once('~').unwrap().0.to_string();
        self.rows.extend(
            said.lines()
                .filter(|line| line.starts_with("row "))
                .map(body),
        );
        said
    }

    /// Rows without their times: a request moves a turn by some milliseconds.
    fn decided(&self) -> Vec<&str> {
        self.rows
            .iter()
            .map(|row| row.split_once(',').unwrap().1)
            .collect()
    }
}

fn a_pc_changes_no_decision(days: u64, seed: u64) {
    let (mut visited, mut alone) = (House::new(), House::new());
    let (mut port, mut random) = (SecondPort::default(), Random(seed));
    let (mut open, mut reads) = (false, true);
    let (mut heard, mut told, mut requests, mut visits) = (String::new(), 0, 0, 0);
    while visited.bench.uptime < days * 86_400_000 {
        // The port's own turn, between two of the application or at its own time.
        let early = random.below(4) == 0;
        let span = visited.due - visited.bench.uptime;
        let at = visited.bench.uptime + if early { random.below(span + 1) } else { span };
        let mut sent = vec![];
        match random.below(1_000) {
            0 => (open, visits) = (true, visits + u32::from(!open)),
            1 => open = false,
            2 => reads = !reads,
            3..=5 if open => {
                requests += 1;
                let words = ["status", "settings", "log", "help", "sensors"];
                let text = words[usize::try_from(random.below(5)).unwrap()];
                sent = format!("{text}~{:04x}\n", checksum(text.as_bytes())).into_bytes();
            }
            6 if open => {
                sent = (0..random.below(400))
                    .map(|_| random.next() as u8)
                    .collect()
            }
            7 if open => sent = b"mode drai".to_vec(),
            _ => {}
        }
        port.set_open(open);
        if !open {
            // What waits in the PC's own buffers, up to the last whole line, is its affair.
            heard.clear();
        }
        for byte in sent {
            if let Some(line) = port.push(byte) {
                visited.bench.app.receive_line(line);
            }
        }
        let said = visited.turn(at);
        said.bytes().for_each(|byte| port.copy(byte));
        visited.bench.app.set_lost_there(port.lost());
        if open && reads {
            heard.extend(
                core::iter::from_fn(|| port.pop())
                    .take(4 * PACKET)
                    .map(char::from),
            );
        }
        while let Some((line, rest)) = heard.split_once("\r\n") {
            let (body, sum) = line.rsplit_once('~').expect("whole lines only");
            assert_eq!(sum, format!("{:04x}", checksum(body.as_bytes())), "{line}");
            told += u64::from(body.starts_with("row "));
            heard = rest.to_string();
        }
        while alone.due <= visited.bench.uptime {
            alone.turn(alone.due);
        }
    }
    let steps = days * 8_640;
    let (one, other) = (visited.decided(), alone.decided());
    let same = one.len().min(other.len());
    assert!(
        one.len().abs_diff(other.len()) <= 1 && same.abs_diff(steps as usize) <= 2,
        "{same}"
    );
    assert!(one[..same] == other[..same], "another decision");
    assert!(
        visited.fed.1 <= 250 && alone.fed.1 <= 250,
        "{:?}",
        visited.fed
    );
    assert!(told > steps / 10 && requests > days * 100 && port.lost() > 0);
    let reason = column("reason") - 1;
    let reasons: Vec<_> = one.iter().map(|row| row.split(',').nth(reason)).collect();
    let changes = reasons.windows(2).filter(|pair| pair[0] != pair[1]).count() as u64;
    assert!(changes > days * 10, "{changes}");
    std::println!(
        "{days} days: {same} rows, {changes} times another reason; {visits} visits, {told} rows told there, {} lines lost, {requests} requests",
        port.lost()
    );
}

#[test]
fn a_pc_that_comes_and_goes_changes_no_decision_of_a_day() {
    a_pc_changes_no_decision(1, 3);
}

/// `cargo test --release -p firmware-app -- --ignored --nocapture`.
#[test]
#[ignore = "minutes"]
fn a_pc_that_comes_and_goes_changes_no_decision_of_a_week() {
    a_pc_changes_no_decision(7, 4);
}
