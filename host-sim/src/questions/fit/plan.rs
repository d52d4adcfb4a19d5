//! Which hours of a log tell what: nights, runs and the store, day by day, and what is left out.
//!
//! Time goes in blocks of ten minutes. In a *night* the slab's model runs free, from an hour and a half after the sun has gone until it
//! is back; in every other block it is led to its reading, so that each night begins from the right profile and a day's sun, which
//! nobody measured, cannot leak into the losses. In *runs* the water's two readings tell the exchange; the *store* runs free all the time,
//! but for its first four days.

use super::record::{OUTDOOR, RETURN, Record, SLAB, STORE, SUPPLY};
use crate::sim::plant::OutdoorConditions;

/// Minutes in a block.
pub const BLOCK: usize = 10;
/// Blocks in an hour.
pub const PER_HOUR: usize = 60 / BLOCK;
/// Blocks in a day.
pub const PER_DAY: usize = 24 * PER_HOUR;
/// Blocks without sun before a night begins.
const DARK: usize = 9;
/// Shortest night that is used, blocks.
const SHORTEST_NIGHT: usize = 6 * PER_HOUR;
/// Blocks that only lead, at the log's beginning and after a long gap.
const SETTLING: usize = 6 * PER_HOUR;
/// A gap that asks for settling again, blocks.
const LONG_GAP: usize = 2 * PER_HOUR;
/// The same for the store, which settles slowly.
const STORE_SETTLING: usize = 4 * PER_DAY;
/// Blocks after a call of the boiler in which nothing is asked.
const AFTER_CALL: usize = PER_HOUR;
/// Blocks from one sample of the store's air to the next.
const STORE_EVERY: usize = PER_HOUR;
/// Least share of a night's blocks that have a reading.
const LEAST_READ: f64 = 0.9;

/// What a sample is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The slab in a night that runs free.
    Night,
    /// The water that leaves the slab.
    Return,
    /// The store's air.
    Store,
    /// The water that leaves the store.
    Supply,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 4] = [Kind::Night, Kind::Return, Kind::Store, Kind::Supply];
}

/// One comparison of a reading's ten-minute mean with the model's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    /// What of.
    pub kind: Kind,
    /// The block.
    pub block: usize,
    /// Samples of one window share their error's drift.
    pub window: usize,
    /// The day, from noon to noon.
    pub day: usize,
}

/// Why hours that could have told something are left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The block it begins at.
    pub block: usize,
    /// Why.
    pub why: &'static str,
}

/// The whole plan.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// Samples to fit, in order of kind and time.
    pub samples: Vec<Sample>,
    /// Blocks in which the slab runs free.
    pub free: Vec<bool>,
    /// Blocks in which the store is led.
    pub store_led: Vec<bool>,
    /// Evenings kept back: blocks of 18:00 from which the slab runs free for fifteen hours.
    pub evenings: Vec<usize>,
    /// Nights used.
    pub nights: usize,
    /// Runs of fifteen minutes or more with water at least 2 K from the slab.
    pub runs: usize,
    /// Hours of the nights used.
    pub night_hours: f64,
    /// Difference of the warmest and the coldest slab in the nights used, K.
    pub slab_span_k: f64,
    /// First and last outdoor mean of a night, coldest and mildest, °C.
    pub outdoor_span_c: (f64, f64),
    /// What was left out.
    pub left_out: Vec<LeftOut>,
    /// First day that is kept back.
    pub first_kept_day: usize,
    /// Days of the log.
    pub days: usize,
}

/// What is known of one block.
#[derive(Clone, Copy, Debug)]
struct Block {
    slab_c: Option<f64>,
    /// Nothing drives the model: no outdoor air, no relay, or running water without its temperature.
    blind: bool,
    dark: bool,
    called: bool,
    runs: bool,
    day: usize,
}

impl Plan {
    /// Plans a log. `kept_back`: days at its end that are not fitted; `left_out`: days, from noon to noon counted from the log's first
    /// noon's day, that the person excludes.
    #[must_use]
    pub fn new(
        record: &Record,
        conditions: &[OutdoorConditions],
        kept_back: usize,
        excluded: &[usize],
    ) -> Self {
        let blocks = blocks(record, conditions);
        let days = blocks.last().map_or(0, |block| block.day + 1);
        let mut plan = Plan {
            free: vec![false; blocks.len()],
            store_led: vec![true; blocks.len()],
            days,
            first_kept_day: days.saturating_sub(kept_back),
            ..Plan::default()
        };
        let settled = settled(&blocks);
        plan.nights(record, &blocks, &settled, excluded);
        plan.water(record, &blocks, &settled, excluded);
        plan.store(record, &blocks, excluded);
        plan.evenings(record, &blocks, &settled);
        plan.samples
            .sort_by_key(|sample| (sample.kind as usize, sample.block));
        plan
    }

    fn fits(&self, day: usize, excluded: &[usize]) -> bool {
        day < self.first_kept_day && !excluded.contains(&day)
    }

    fn nights(&mut self, record: &Record, blocks: &[Block], settled: &[bool], excluded: &[usize]) {
        let mut dark_for = 0;
        let mut begin: Option<usize> = None;
        let mut spans = (f64::MAX, f64::MIN);
        let mut outdoor = (f64::MAX, f64::MIN);
        let mut since_call = AFTER_CALL;
        for (b, block) in blocks.iter().enumerate() {
            since_call = if block.called { 0 } else { since_call + 1 };
            dark_for = if block.dark { dark_for + 1 } else { 0 };
            let open = dark_for > DARK && settled[b] && !block.blind && since_call >= AFTER_CALL;
            let is_last = b + 1 == blocks.len();
            if open && begin.is_none() {
                begin = Some(b);
            }
            let Some(from) = begin else { continue };
            if open && !is_last {
                continue;
            }
            begin = None;
            let to = if open { b + 1 } else { b };
            if to - from < SHORTEST_NIGHT {
                if block.dark {
                    let why = if since_call < AFTER_CALL {
                        "the boiler was called"
                    } else {
                        "a gap in the rows"
                    };
                    self.left_out.push(LeftOut { block: from, why });
                }
                continue;
            }
            let read = blocks[from..to]
                .iter()
                .filter(|block| block.slab_c.is_some())
                .count();
            if (read as f64) < LEAST_READ * (to - from) as f64 {
                self.left_out.push(LeftOut {
                    block: from,
                    why: "the slab's reading is missing",
                });
                continue;
            }
            let day = blocks[from].day;
            if !self.fits(day, excluded) {
                continue;
            }
            self.nights += 1;
            self.night_hours += (to - from) as f64 / PER_HOUR as f64;
            if let Some(mean) = record.mean(OUTDOOR, from * BLOCK, to * BLOCK) {
                outdoor = (outdoor.0.min(mean), outdoor.1.max(mean));
            }
            for (b, block) in blocks.iter().enumerate().take(to).skip(from) {
                self.free[b] = true;
                if let Some(slab_c) = block.slab_c {
                    spans = (spans.0.min(slab_c), spans.1.max(slab_c));
                    self.samples.push(Sample {
                        kind: Kind::Night,
                        block: b,
                        window: from,
                        day,
                    });
                }
            }
        }
        if self.nights > 0 {
            self.slab_span_k = spans.1 - spans.0;
            self.outdoor_span_c = outdoor;
        }
    }

    /// Samples of the water's two ends, where it has run for two whole blocks without the boiler.
    fn water(&mut self, record: &Record, blocks: &[Block], settled: &[bool], excluded: &[usize]) {
        let mut since_call = AFTER_CALL;
        let mut ran = false;
        let mut counted = false;
        for (b, block) in blocks.iter().enumerate() {
            since_call = if block.called { 0 } else { since_call + 1 };
            let tells = block.runs && ran;
            ran = block.runs;
            if !block.runs {
                counted = false;
            }
            let fits = settled[b] && since_call >= AFTER_CALL && self.fits(block.day, excluded);
            if !(tells && fits) {
                continue;
            }
            let mean = |which| record.mean(which, b * BLOCK, (b + 1) * BLOCK);
            let (Some(supply_c), Some(_)) = (mean(SUPPLY), mean(RETURN)) else {
                continue;
            };
            let far = block
                .slab_c
                .is_some_and(|slab_c| (supply_c - slab_c).abs() >= 2.0);
            if far && !counted {
                counted = true;
                self.runs += 1;
            }
            for kind in [Kind::Return, Kind::Supply] {
                let tells = match kind {
                    Kind::Return => block.slab_c.is_some(),
                    // The earth below the store has a history that the log does not know.
                    _ => b >= STORE_SETTLING,
                };
                if !tells {
                    continue;
                }
                self.samples.push(Sample {
                    kind,
                    block: b,
                    window: block.day,
                    day: block.day,
                });
            }
        }
    }

    fn store(&mut self, record: &Record, blocks: &[Block], excluded: &[usize]) {
        let mut begin = 0;
        let mut blind = 0;
        for (b, block) in blocks.iter().enumerate() {
            blind = if block.blind { blind + 1 } else { 0 };
            if blind > LONG_GAP {
                begin = b + 1;
            }
            let free = b >= begin + STORE_SETTLING;
            self.store_led[b] = !free;
            let sampled = b.is_multiple_of(STORE_EVERY)
                && record.mean(STORE, b * BLOCK, (b + 1) * BLOCK).is_some();
            if free && sampled && !block.blind && self.fits(block.day, excluded) {
                self.samples.push(Sample {
                    kind: Kind::Store,
                    block: b,
                    window: begin,
                    day: block.day,
                });
            }
        }
    }

    fn evenings(&mut self, record: &Record, blocks: &[Block], settled: &[bool]) {
        let into = record.into_day();
        let hours = AHEAD;
        for (b, block) in blocks.iter().enumerate() {
            let of_day = (into + b * BLOCK) % (24 * 60);
            let is_evening = (18 * 60..18 * 60 + BLOCK).contains(&of_day);
            let Some(night) = blocks.get(b..b + hours) else {
                continue;
            };
            // A fire that was lit is in the logged water: it asks nothing of the house. A short gap is bridged.
            let lost = |block: &&Block| block.blind || block.slab_c.is_none();
            let whole = night.iter().filter(lost).count() <= LONG_GAP;
            if is_evening && block.day >= self.first_kept_day && settled[b] && whole {
                self.evenings.push(b);
            }
        }
    }
}

/// Blocks of an evening: fifteen hours, as `tonight` asks.
pub const AHEAD: usize = 15 * PER_HOUR;

/// Whether the blocks before have led the model long enough.
fn settled(blocks: &[Block]) -> Vec<bool> {
    let (mut since, mut blind) = (0, 0);
    blocks
        .iter()
        .map(|block| {
            blind = if block.blind { blind + 1 } else { 0 };
            since = if blind > LONG_GAP { 0 } else { since + 1 };
            since > SETTLING
        })
        .collect()
}

fn blocks(record: &Record, conditions: &[OutdoorConditions]) -> Vec<Block> {
    let into = record.into_day();
    (0..record.minutes.len() / BLOCK)
        .map(|b| {
            let (from, to) = (b * BLOCK, (b + 1) * BLOCK);
            let minutes = &record.minutes[from..to];
            let lost = minutes.iter().any(|minute| {
                minute.runs.is_nan() || minute.runs > 0.0 && minute.reading(SUPPLY).is_none()
            });
            Block {
                slab_c: record.mean(SLAB, from, to),
                blind: lost || record.mean(OUTDOOR, from, to).is_none(),
                dark: conditions[from..to]
                    .iter()
                    .all(|outdoor| outdoor.solar_incident_w <= 0.0),
                called: minutes.iter().any(|minute| minute.called),
                runs: minutes.iter().all(|minute| minute.runs > 0.99),
                day: (into + from + 12 * 60) / (24 * 60),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::questions::fit::record::{READINGS, Recorder, Row};

    /// Ten days of one-minute rows; `row` may change one.
    fn record(row: impl Fn(i64, &mut Row)) -> Record {
        let mut recorder = Recorder::new(jiff::civil::datetime(2025, 12, 1, 0, 0, 0, 0));
        for minute in 0..10 * 1440 {
            let mut now = Row {
                readings: [5.0; READINGS],
                runs: Some(false),
                called: false,
            };
            now.readings[SLAB] = 8.0 - (minute % 1440) as f64 / 300.0;
            row(minute, &mut now);
            recorder.push(minute * 60_000, now);
        }
        recorder.finish(60_000)
    }

    /// Sun from 8 to 16 o'clock.
    fn days(record: &Record) -> Vec<OutdoorConditions> {
        (0..record.minutes.len())
            .map(|minute| OutdoorConditions {
                solar_incident_w: if (480..960).contains(&(minute % 1440)) {
                    500.0
                } else {
                    0.0
                },
                ..OutdoorConditions::default()
            })
            .collect()
    }

    fn plan(record: &Record, kept: usize, excluded: &[usize]) -> Plan {
        Plan::new(record, &days(record), kept, excluded)
    }

    #[test]
    fn nights_begin_after_the_sun_and_end_with_it_and_days_kept_back_have_none() {
        let record = record(|_, _| {});
        let plan = plan(&record, 3, &[]);
        // Eleven days from noon to noon, of which the first has no evening and three are kept back.
        assert_eq!((plan.days, plan.first_kept_day), (11, 8));
        // The first night only settles; its rest from 06:10 is too short.
        assert_eq!(plan.nights, 7);
        let first = plan
            .samples
            .iter()
            .find(|s| s.kind == Kind::Night)
            .expect("a night");
        // 16:00 and nine blocks.
        assert_eq!(first.block, (16 * 60 + 90) / BLOCK);
        assert!(plan.samples.iter().all(|sample| sample.day < 8));
        assert!(!plan.free[first.block - 1] && plan.free[first.block]);
        assert_eq!(plan.evenings.len(), 2);
    }

    #[test]
    fn a_gap_a_call_and_a_day_left_out_cost_their_nights() {
        let whole = plan(&record(|_, _| {}), 3, &[]).nights;
        let left_out = plan(&record(|_, _| {}), 3, &[4]);
        assert_eq!(left_out.nights, whole - 1);
        // Rows lost from 22:00 to 23:00 of the third day leave 23:00 to 08:00 of that night.
        let gap = record(|minute, row| {
            if (2 * 1440 + 1320..2 * 1440 + 1380).contains(&minute) {
                row.readings[OUTDOOR] = f64::NAN;
            }
        });
        let gap = plan(&gap, 3, &[]);
        assert_eq!(gap.nights, whole);
        assert_eq!(gap.left_out.len(), 1);
        let called = record(|minute, row| row.called = minute == 2 * 1440 + 1440);
        let called = plan(&called, 3, &[]);
        // At midnight it leaves a rest of six hours and more on either side.
        assert_eq!(called.nights, whole + 1);
        assert!(called.left_out.iter().all(|left| !left.why.is_empty()));
        let blind = record(|_, row| row.runs = None);
        assert_eq!(plan(&blind, 3, &[]).nights, 0);
    }

    #[test]
    fn water_tells_after_two_whole_blocks_of_a_run() {
        let runs = record(|minute, row| {
            row.runs = Some((1200..1240).contains(&(minute % 1440)));
            row.readings[SUPPLY] = 9.0;
        });
        let plan = plan(&runs, 3, &[]);
        // Ten evenings, of which the last three belong to days kept back.
        assert_eq!(plan.runs, 7);
        let blocks: Vec<usize> = plan
            .samples
            .iter()
            .filter(|sample| sample.kind == Kind::Return)
            .map(|sample| sample.block % PER_DAY)
            .collect();
        assert_eq!(blocks[..3], [121, 122, 123]);
    }
}
