use super::*;
use crate::fakes::{Flash, Random};
use std::string::String;
use std::vec::Vec;

type Small = Flash<256, 8>;
/// Skips a sector that belongs to something else.
const RANGE: Range<u32> = 256..256 * 5;

fn row(n: u32) -> Row {
    let at = |milli| Some(Celsius::from_128ths(milli));
    Row {
        time_s: n * 300,
        readings: BySensor {
            supply: at(1_000),
            ret: None,
            slab: at(-1),
            outdoor: at(i16::try_from(n % 1_000).unwrap()),
        },
        outputs: Outputs {
            circulator: n.is_multiple_of(2),
            boiler_call: n.is_multiple_of(3),
            alarm: n.is_multiple_of(5),
        },
        reason: Reason::ALL[n as usize % Reason::ALL.len()],
        started: n == 0,
    }
}

fn all(history: &History, flash: &mut Small) -> Vec<(u32, Row)> {
    (0..history.places())
        .filter_map(|n| history.read(flash, n))
        .collect()
}

#[test]
fn rows_come_back_oldest_first_and_the_oldest_make_room() {
    let mut flash = Small::new(5);
    let mut history = History::open(&mut flash, &RANGE);
    assert_eq!(history.places(), 32);
    for n in 0..100 {
        history.append(&mut flash, row(n)).unwrap();
        let rows = all(&history, &mut flash);
        let expected: Vec<_> = (0..=n).map(|n| (n, row(n))).collect();
        assert!(expected.ends_with(&rows), "{n}");
        assert!(rows.len() as u32 >= 25.min(n + 1), "{n}: {}", rows.len());
        assert_eq!(History::open(&mut flash, &RANGE), history, "{n}");
    }
    assert!(flash.bytes[..256].iter().all(|byte| *byte == 0xFF));
}

#[test]
fn a_cut_anywhere_loses_at_most_the_row_under_way() {
    let mut random = Random(77);
    let mut flash = Small::new(5);
    let mut kept: Vec<(u32, Row)> = Vec::new();
    let mut rows = 0;
    for _ in 0..4_000 {
        flash.revive(Some(1 + random.below(400)));
        let mut history = History::open(&mut flash, &RANGE);
        for _ in 0..40 {
            let serial = history.written();
            if history.append(&mut flash, row(rows)).is_err() {
                break;
            }
            kept.push((serial, row(rows)));
            rows += 1;
        }
        flash.revive(None);
        let history = History::open(&mut flash, &RANGE);
        let found = all(&history, &mut flash);
        // What is found is a run of what was acknowledged, perhaps with the one row under way at its end.
        let found = match found.split_last() {
            Some((last, rest)) if kept.last() != Some(last) => rest,
            _ => &found[..],
        };
        // Every cut may waste a slot; six rows back is within what is kept all the same.
        let newest = kept.len().saturating_sub(6);
        for one in &kept[newest..] {
            assert!(found.contains(one), "{one:?} lost");
        }
        let excess = kept.len().saturating_sub(40);
        kept.drain(..excess);
        assert!(
            found
                .iter()
                .all(|(serial, _)| *serial <= kept.last().map_or(0, |k| k.0))
        );
        rows = rows.max(history.last_s() / 300 + 1);
    }
    assert!(flash.torn > 2_000);
}

#[test]
fn columns_match_the_header() {
    let mut text = String::new();
    row(2).write_csv(&mut text).unwrap();
    assert_eq!(text, "600,7.813,,-0.008,0.016,1,0,0,overheat,0");
    assert_eq!(text.split(',').count(), HEADER.split(',').count());
}

#[test]
fn a_flash_that_refuses_is_an_error_and_no_more() {
    let mut flash = Small::new(5);
    let mut history = History::open(&mut flash, &RANGE);
    flash.refuses = true;
    assert_eq!(history.append(&mut flash, row(0)), Err(RingFault));
    flash.refuses = false;
    history.append(&mut flash, row(0)).unwrap();
    assert_eq!(all(&history, &mut flash), [(0, row(0))]);
    // No room at all.
    let mut none = History::open(&mut flash, &(0..0));
    assert_eq!(none.append(&mut flash, row(0)), Err(RingFault));
    assert_eq!(none.read(&mut flash, 0), None);
}

#[test]
fn rows_of_another_version_are_not_shown() {
    let mut flash = Small::new(5);
    let mut history = History::open(&mut flash, &RANGE);
    // As written before rows had a version: the upper half of the flags is empty.
    let mut old = row(3).to_bytes();
    old[12] &= 0x0F;
    history.ring.append(&mut flash, &old).unwrap();
    history.append(&mut flash, row(4)).unwrap();
    assert_eq!(all(&history, &mut flash), [(1, row(4))]);
}
